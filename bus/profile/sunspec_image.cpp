// The other direction of sunspec.cpp: what a SunSpec meter would hold in its registers, for virtual meters
// and tests.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

#include "bus/profile/raw_number.hpp"
#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"
#include "bus/profile/text_registers.hpp"

namespace phasewright::profile {

namespace {

using Number = std::optional<double>;
using readings::Column;
using Block = std::vector<std::uint16_t>;

// Every point says in its own way that the meter does not offer it, until something is put there.
Block empty_model(int model) {
    Block block(length_of_model(model) + 2U, 0);
    for (auto const& point : points_of_model(model)) {
        switch (point.type) {
            case PointType::int16:
            case PointType::sunssf:
            case PointType::pad: block[point.offset] = 0x8000; break;
            case PointType::uint16: block[point.offset] = 0xFFFF; break;
            case PointType::float32: block[point.offset] = 0x7FC0; break;
            case PointType::acc32:       // 0 is the sentinel of a running total
            case PointType::bitfield32:  // no event
            case PointType::string: break;
        }
    }
    block[0] = static_cast<std::uint16_t>(model);
    block[1] = length_of_model(model);
    return block;
}

class Writer {
public:
    Writer(int model, SunspecScales const& scales) : model_(model), block_(empty_model(model)) {
        if (is_float_meter(model)) return;
        std::pair<std::string_view, int> const exponents[] = {
            {"A_SF", scales.a},           {"V_SF", scales.v},          {"Hz_SF", scales.hz},
            {"W_SF", scales.w},           {"VA_SF", scales.va},        {"VAR_SF", scales.var},
            {"PF_SF", scales.pf},         {"TotWh_SF", scales.energy}, {"TotVAh_SF", scales.energy},
            {"TotVArh_SF", scales.energy}};
        for (auto const& [name, exponent] : exponents) {
            block_[find_point(model_, name)->offset] = static_cast<std::uint16_t>(exponent);
        }
    }

    void put(std::string_view name, Number value) {
        auto const* const point = find_point(model_, name);
        if (point == nullptr || !value || !std::isfinite(*value)) return;
        if (point->type == PointType::float32) {
            auto const bits = bits_of(ValueType::float32, *value);
            block_[point->offset] = static_cast<std::uint16_t>(bits >> 16U);
            block_[point->offset + 1U] = static_cast<std::uint16_t>(bits & 0xFFFFU);
            return;
        }
        int const exponent = static_cast<std::int16_t>(block_[find_point(model_, point->scale)->offset]);
        // Held at +-32767: one step further says that the point is not offered.
        double const number = std::clamp(times_power_of_ten(*value, -exponent), -32767.0, 32767.0);
        block_[point->offset] = static_cast<std::uint16_t>(bits_of(ValueType::int16, number));
    }

    void put_phases(std::string_view stem, std::string_view letters, Column const& values,
                    double unit = 1.0) {
        for (std::size_t at = 0; at < letters.size() && at < values.size(); ++at) {
            put(std::string(stem) + letters[at], values[at] ? Number(*values[at] * unit) : values[at]);
        }
    }

    [[nodiscard]] Block const& block() const { return block_; }

private:
    int model_;
    Block block_;
};

Number sum_of(Column const& values) {
    double sum = 0.0;
    for (auto const& value : values) {
        if (!value) return std::nullopt;
        sum += *value;
    }
    return values.empty() ? std::nullopt : Number(sum);
}
Number mean_of(Column const& values) {
    auto const sum = sum_of(values);
    return sum ? Number(*sum / static_cast<double>(values.size())) : sum;
}
Number or_else(Number first, Number second) { return first ? first : second; }

Block meter_block(int model, readings::Snapshot const& shown, SunspecScales const& scales) {
    Writer writer(model, scales);
    bool const delta = model % 10 == 4;
    bool const two_element = delta && shown.i.size() == 2;
    std::string_view const letters = two_element ? "AC" : "ABC";
    writer.put_phases("Aph", letters, shown.i);
    writer.put_phases("Wph", letters, shown.p);
    writer.put_phases("VARph", letters, shown.q);
    writer.put_phases("VAph", letters, shown.s);
    double const per_cent = is_float_meter(model) ? 1.0 : 100.0;
    writer.put_phases("PFph", letters, shown.pf, per_cent);
    auto const lines = shown.v_ll.empty() && two_element ? shown.v : shown.v_ll;
    constexpr std::array line_names{"PPVphAB", "PPVphBC", "PPVphCA"};
    for (std::size_t at = 0; at < lines.size() && at < line_names.size(); ++at)
        writer.put(line_names.at(at), lines[at]);
    writer.put("PPV", mean_of(lines));
    if (!delta) {  // a delta meter has no neutral to count from
        writer.put_phases("PhVph", letters, shown.v);
        writer.put("PhV", mean_of(shown.v));
    }
    writer.put("A", sum_of(shown.i));
    writer.put("Hz", shown.hz);
    writer.put("W", or_else(shown.p_total, sum_of(shown.p)));
    writer.put("VAR", or_else(shown.q_total, sum_of(shown.q)));
    writer.put("VA", shown.s_total);
    writer.put("PF", shown.pf_total ? Number(*shown.pf_total * per_cent) : shown.pf_total);
    return writer.block();
}

Block common_block(SunspecIdentity const& identity) {
    Block block = empty_model(common_model);
    auto const put = [&block](std::string_view name, std::string_view text) {
        auto const* const point = find_point(common_model, name);
        std::ranges::copy(registers_for(text, point->size), block.begin() + point->offset);
    };
    put("Mn", identity.maker);
    put("Md", identity.model);
    put("Opt", identity.options);
    put("Vr", identity.version);
    put("SN", identity.serial);
    block[find_point(common_model, "DA")->offset] = identity.address;
    return block;
}

}  // namespace

RegisterImage sunspec_image(int model, readings::Snapshot const& shown, SunspecIdentity const& identity,
                            SunspecScales const& scales, std::uint16_t base) {
    Block device{0x5375, 0x6E53};  // "SunS"
    for (auto const& block : {common_block(identity), meter_block(model, shown, scales)}) {
        device.insert(device.end(), block.begin(), block.end());
    }
    device.insert(device.end(), {0xFFFF, 0});
    RegisterImage image;
    put_registers(image, codec::Function::read_holding_registers, base, device);
    return image;
}

}  // namespace phasewright::profile
