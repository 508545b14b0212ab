#include "bus/profile/sunspec.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

#include "bus/profile/raw_number.hpp"
#include "bus/profile/sunspec_layout.hpp"
#include "bus/profile/text_registers.hpp"
#include "core/quantity/text.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::profile {

namespace {

using Number = std::optional<double>;
using readings::Column;

// The model's points by name.
class Body {
public:
    Body(int model, std::span<std::uint16_t const> registers) : model_(model), registers_(registers) {}

    [[nodiscard]] Number value(std::string_view name) const {
        auto const* const point = find_point(model_, name);
        if (point == nullptr || point->offset + point->size > registers_.size()) return std::nullopt;
        std::uint16_t const first = registers_[point->offset];
        if (point->type == PointType::float32) {
            std::uint32_t const bits = std::uint32_t{first} << 16U | registers_[point->offset + 1U];
            return number_of(ValueType::float32, bits);
        }
        if (first == 0x8000) return std::nullopt;
        auto const exponent = exponent_of(*point);
        if (!exponent) return std::nullopt;
        return times_power_of_ten(static_cast<std::int16_t>(first), *exponent);
    }

    // One step of the point's display; empty for floating point.
    [[nodiscard]] Number step(std::string_view name) const {
        auto const* const point = find_point(model_, name);
        if (point == nullptr || point->type != PointType::int16 || !value(name)) return std::nullopt;
        return times_power_of_ten(1.0, *exponent_of(*point));
    }

    [[nodiscard]] Column phases(std::string_view stem, std::string_view letters) const {
        Column values;
        for (char const letter : letters) values.push_back(value(std::string(stem) + letter));
        return values;
    }

private:
    // A scale factor that the meter does not offer counts as 0 (Hz_SF is optional although Hz is not); one out of
    // range makes the number unusable.
    [[nodiscard]] std::optional<int> exponent_of(SunspecPoint const& point) const {
        auto const* const scale = find_point(model_, point.scale);
        if (scale == nullptr) return 0;
        if (scale->offset >= registers_.size()) return std::nullopt;
        std::uint16_t const raw = registers_[scale->offset];
        if (raw == 0x8000) return 0;
        int const exponent = static_cast<std::int16_t>(raw);
        if (exponent < -10 || exponent > 10) return std::nullopt;
        return exponent;
    }

    int model_;
    std::span<std::uint16_t const> registers_;
};

bool has_any(Column const& column) {
    return std::ranges::any_of(column, [](auto const& value) { return value.has_value(); });
}
bool has_all(Column const& column) {
    return std::ranges::all_of(column, [](auto const& value) { return value.has_value(); });
}
Column if_any(Column column) { return has_any(column) ? std::move(column) : Column{}; }

Column line_voltages(Body const& body) {
    return {body.value("PPVphAB"), body.value("PPVphBC"), body.value("PPVphCA")};
}

// The distance of a corner from the centre of a triangle, from its sides: a meter without a neutral counts
// its voltages from the mean of the three taps, and that is the centre.   |Va|^2 = (2 ab^2 + 2 ca^2 - bc^2) /
// 9 (the centre divides the median 2 to 1; the median's length is Apollonius' theorem).
Number from_centre(double one, double other, double opposite) {
    double const square = (2.0 * one * one + 2.0 * other * other - opposite * opposite) / 9.0;
    if (square < 0.0) return std::nullopt;  // no triangle has such sides
    return std::sqrt(square);
}

Column star_voltages(Body const& body, std::vector<std::string>& notes) {
    auto measured = body.phases("PhVph", "ABC");
    if (has_all(measured)) return measured;
    auto const lines = line_voltages(body);
    if (has_all(lines)) {
        notes.emplace_back(
            "the meter gives line voltages only; each element's voltage is computed from the three");
        double const ab = *lines[0];
        double const bc = *lines[1];
        double const ca = *lines[2];
        return {from_centre(ab, ca, bc), from_centre(bc, ab, ca), from_centre(ca, bc, ab)};
    }
    auto const mean = body.value("PPV");
    if (!mean) return measured;
    notes.emplace_back(
        "the meter gives only the mean line voltage; each element's voltage is taken as mean over root 3");
    auto const each = quantity::phase_from_line_v(*mean);
    return {each, each, each};
}

// One element: a meter with one phase may leave the phase's own point out and give the total only.
Number own_or_total(Body const& body, std::string_view own, std::string_view total) {
    auto const value = body.value(own);
    return value ? value : body.value(total);
}

struct Choice {
    std::string_view letters;  // phases of the elements, in order
    bool two_element = false;
    bool star = false;
    int lines = 0;
};

Choice choice_for(plan::Service service, Body const& body) {
    using enum plan::Service;
    switch (service) {
        case one_phase_two_wire: {  // one element a branch: as many as the meter has currents
            if (body.value("AphC")) return {.letters = "ABC"};
            return {.letters = body.value("AphB") ? "AB" : "A"};
        }
        case split_phase_three_wire:
        case two_phases_of_wye: return {.letters = "AB", .lines = 1};
        case four_wire_wye:
        case four_wire_two_ct:
        case high_leg_delta: return {.letters = "ABC", .lines = 3};
        case three_wire_three_ct:
        case three_wire_two_ct: return {.letters = "ABC", .star = true, .lines = 3};
        case three_wire_two_element:
        case corner_earthed_delta: return {.letters = "AC", .two_element = true, .lines = 3};
    }
    return {.letters = "ABC", .lines = 3};
}

void fill_power_factor(SunspecMeter& meter, Body const& body, bool is_float, std::string_view letters) {
    // The file's unit is per cent in the integer models, a plain number in the others. Only its size is used,
    // and only where no reactive power is given.
    double const unit = is_float ? 1.0 : 0.01;
    auto const bare = [unit](Number value) { return value ? Number(std::abs(*value) * unit) : value; };
    Column factors;
    for (auto const& value : body.phases("PFph", letters)) factors.push_back(bare(value));
    meter.snapshot.pf = if_any(std::move(factors));
    meter.snapshot.pf_total = bare(body.value("PF"));
    if (meter.snapshot.pf.empty() && !meter.snapshot.pf_total) return;
    meter.pf_sign = readings::SignHabit::unsigned_;
    meter.notes.emplace_back("the meter gives no reactive power; of its power factor only the size is used");
}

}  // namespace

plan::Service service_of_model(int model) {
    switch (model % 10) {
        case 1: return plan::Service::one_phase_two_wire;
        case 2: return plan::Service::split_phase_three_wire;
        case 4: return plan::Service::three_wire_three_ct;
        default: return plan::Service::four_wire_wye;
    }
}

SunspecMeter decode_sunspec(int model, std::span<std::uint16_t const> body,
                            std::optional<plan::Service> planned) {
    Body const points(model, body);
    auto const choice = choice_for(planned.value_or(service_of_model(model)), points);
    SunspecMeter meter;
    auto& shown = meter.snapshot;
    shown.i = points.phases("Aph", choice.letters);
    shown.p = points.phases("Wph", choice.letters);
    shown.q = points.phases("VARph", choice.letters);
    shown.s = points.phases("VAph", choice.letters);
    if (choice.two_element) {
        shown.v = {points.value("PPVphAB"), points.value("PPVphBC")};
    } else if (choice.star) {
        shown.v = star_voltages(points, meter.notes);
    } else {
        shown.v = points.phases("PhVph", choice.letters);
    }
    if (choice.letters.size() == 1) {
        if (!shown.v[0]) shown.v[0] = own_or_total(points, "PhV", "PPVphAB");
        shown.i[0] = own_or_total(points, "AphA", "A");
        shown.p[0] = own_or_total(points, "WphA", "W");
        shown.q[0] = own_or_total(points, "VARphA", "VAR");
        shown.s[0] = own_or_total(points, "VAphA", "VA");
    }
    for (auto* const column : {&shown.p, &shown.q, &shown.s}) *column = if_any(std::move(*column));
    auto lines = line_voltages(points);
    lines.resize(static_cast<std::size_t>(choice.lines));
    shown.v_ll = if_any(std::move(lines));
    shown.hz = points.value("Hz");
    shown.p_total = points.value("W");
    shown.q_total = points.value("VAR");
    shown.s_total = points.value("VA");
    if (shown.q.empty() && !shown.q_total)
        fill_power_factor(meter, points, is_float_meter(model), choice.letters);
    auto const v_step = points.step("PhVphA");
    meter.resolution = {.v = v_step ? v_step : points.step("PPVphAB"),
                        .i = points.step("AphA"),
                        .p = points.step("W"),
                        .q = points.step("VAR")};
    return meter;
}

SunspecIdentity decode_common(std::span<std::uint16_t const> body) {
    auto const text = [body](std::string_view name) -> std::string {
        auto const* const point = find_point(common_model, name);
        if (point->offset >= body.size()) return {};
        return text_of(
            body.subspan(point->offset, std::min<std::size_t>(point->size, body.size() - point->offset)));
    };
    SunspecIdentity identity{.maker = text("Mn"),
                             .model = text("Md"),
                             .options = text("Opt"),
                             .version = text("Vr"),
                             .serial = text("SN")};
    auto const* const address = find_point(common_model, "DA");
    if (address->offset < body.size()) identity.address = body[address->offset];
    return identity;
}

std::string to_text(SunspecIdentity const& identity) {
    std::string text = identity.maker;
    if (!identity.model.empty()) text += (text.empty() ? "" : " ") + identity.model;
    if (!identity.serial.empty()) text += (text.empty() ? "serial " : ", serial ") + identity.serial;
    return text;
}

}  // namespace phasewright::profile
