// The accumulators of the SunSpec meter models: acc32 with a shared power of ten, or float32.
// Layout and names: sunspec_layout.hpp. An acc32 is an unsigned running total that begins anew after 2^32 - 1
// (from memory, no clause at hand); where a float32 total begins anew the models do not say.
#include <array>
#include <cmath>

#include "bus/profile/energy.hpp"
#include "bus/profile/raw_number.hpp"
#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"

namespace phasewright::profile {

namespace {

struct Family {
    std::string_view stem;
    EnergyQuantity quantity;
    EnergyKind kind;
    int quadrant;
};
constexpr std::array families{
    Family{"TotWhExp", EnergyQuantity::active, EnergyKind::export_, 0},
    Family{"TotWhImp", EnergyQuantity::active, EnergyKind::import, 0},
    Family{"TotVAhExp", EnergyQuantity::apparent, EnergyKind::export_, 0},
    Family{"TotVAhImp", EnergyQuantity::apparent, EnergyKind::import, 0},
    Family{"TotVArhImpQ1", EnergyQuantity::reactive, EnergyKind::import, 1},
    Family{"TotVArhImpQ2", EnergyQuantity::reactive, EnergyKind::import, 2},
    Family{"TotVArhExpQ3", EnergyQuantity::reactive, EnergyKind::export_, 3},
    Family{"TotVArhExpQ4", EnergyQuantity::reactive, EnergyKind::export_, 4},
};

Family const* family_of(std::string_view point) {
    for (auto const& family : families)
        if (point.starts_with(family.stem)) return &family;
    return nullptr;
}

int phase_of(std::string_view point, Family const& family) {
    if (point.size() == family.stem.size()) return 0;
    return point.back() - 'A' + 1;  // "PhA" or "phA"
}

bool demanded(std::string_view point) { return point == "TotWhExp" || point == "TotWhImp"; }

// A power of ten that the meter does not offer counts as none; one out of range makes the number unusable.
std::optional<int> exponent_for(int model, SunspecPoint const& point, std::span<std::uint16_t const> body) {
    auto const* const scale = find_point(model, point.scale);
    if (scale == nullptr) return 0;
    if (scale->offset >= body.size()) return std::nullopt;
    if (body[scale->offset] == 0x8000) return 0;
    int const exponent = static_cast<std::int16_t>(body[scale->offset]);
    return exponent < -10 || exponent > 10 ? std::nullopt : std::optional(exponent);
}

}  // namespace

std::vector<EnergyCount> sunspec_energies(int model, std::span<std::uint16_t const> body) {
    std::vector<EnergyCount> counts;
    for (auto const& point : points_of_model(model)) {
        auto const* const family = family_of(point.name);
        bool const is_count = point.type == PointType::acc32 || point.type == PointType::float32;
        if (family == nullptr || !is_count || std::size_t{point.offset} + 2 > body.size()) continue;
        EnergyCount count;
        count.habit = {.name = std::string(point.name),
                       .quantity = family->quantity,
                       .kind = family->kind,
                       .quadrant = family->quadrant,
                       .phase = phase_of(point.name, *family)};
        std::uint32_t const bits = std::uint32_t{body[point.offset]} << 16U | body[point.offset + 1U];
        if (point.type == PointType::float32) {
            count.value = number_of(ValueType::float32, bits);
        } else if (auto const exponent = exponent_for(model, point, body)) {
            count.habit.step = times_power_of_ten(1.0, *exponent);
            count.habit.wraps_at = times_power_of_ten(std::ldexp(1.0, 32), *exponent);
            count.habit.wrap_known = true;
            if (bits != 0 || demanded(point.name)) count.value = times_power_of_ten(bits, *exponent);
        }
        if (count.value) counts.push_back(std::move(count));
    }
    return counts;
}

void put_sunspec_energies(RegisterImage& image, int model, std::span<SunspecEnergy const> energies,
                          std::uint16_t base) {
    auto const start =
        static_cast<std::uint16_t>(base + 2U + 2U + common_length);  // marker, model 1 with ID and L
    auto const length = static_cast<std::uint16_t>(2U + length_of_model(model));
    auto const body = serve(image, {codec::Function::read_holding_registers, start, length});
    if (!body) return;
    for (auto const& energy : energies) {
        auto const* const point = find_point(model, energy.point);
        if (point == nullptr || family_of(point->name) == nullptr) continue;
        std::uint64_t bits = 0;
        if (point->type == PointType::float32) {
            bits = bits_of(ValueType::float32, energy.value);
        } else {
            auto const steps =
                times_power_of_ten(energy.value, -exponent_for(model, *point, *body).value_or(0));
            bits = bits_of(ValueType::uint32, std::fmod(std::floor(steps + 1e-9), std::ldexp(1.0, 32)));
        }
        std::array const words{static_cast<std::uint16_t>(bits >> 16U),
                               static_cast<std::uint16_t>(bits & 0xFFFFU)};
        put_registers(image, codec::Function::read_holding_registers,
                      static_cast<std::uint16_t>(start + point->offset), words);
    }
}

}  // namespace phasewright::profile
