#include "bus/profile/energy.hpp"

#include <cmath>

#include "bus/profile/decode.hpp"
#include "bus/profile/encode.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/raw_number.hpp"
#include "bus/profile/read_registers.hpp"

namespace phasewright::profile {

namespace {

// What one step and the whole round of this counter are, with the scale that its registers hold now.
void measure_habit(EnergyRegisters const& registers, Field const& field, RegisterImage const& image,
                   EnergyHabit& habit) {
    auto const register_step = step_of(field, image);
    habit.step = registers.resolution ? registers.resolution : register_step;
    if (registers.wraps_at_full_width && register_step)
        habit.wraps_at = *register_step * std::ldexp(1.0, 16 * registers_of(field.type));
    if (registers.wraps_after && habit.step)
        habit.wraps_at = *registers.wraps_after * field.unit_factor + *habit.step;
}

}  // namespace

std::string_view name_of(EnergyQuantity quantity) {
    if (quantity == EnergyQuantity::active) return "active";
    return quantity == EnergyQuantity::reactive ? "reactive" : "apparent";
}
std::string_view unit_of(EnergyQuantity quantity) {
    if (quantity == EnergyQuantity::active) return "Wh";
    return quantity == EnergyQuantity::reactive ? "varh" : "VAh";
}
std::string_view name_of(EnergyKind kind) {
    switch (kind) {
        case EnergyKind::net: return "net";
        case EnergyKind::import: return "import";
        case EnergyKind::export_: return "export";
        case EnergyKind::absolute: return "absolute";
    }
    return "import";
}

std::vector<EnergyCount> energies_in(Profile const& profile, RegisterImage const& image) {
    std::vector<EnergyCount> counts;
    for (auto const& registers : profile.energies) {
        for (std::size_t phase = 0; phase < registers.fields.size(); ++phase) {
            auto const& field = registers.fields[phase];
            EnergyCount count{.habit = registers.habit, .value = value_of(field, image)};
            if (registers.per_phase) {
                count.habit.phase = static_cast<int>(phase) + 1;
                count.habit.name += ' ' + std::to_string(count.habit.phase);
            }
            measure_habit(registers, field, image, count.habit);
            counts.push_back(std::move(count));
        }
    }
    return counts;
}

std::vector<plan::RegisterRun> energy_registers(Profile const& profile) {
    std::vector<plan::RegisterRun> pieces;
    for (auto const& registers : profile.energies) {
        for (auto const& field : registers.fields) {
            pieces.push_back({static_cast<int>(field.function), field.address, registers_of(field.type)});
            if (field.scale_register)
                pieces.push_back(
                    {static_cast<int>(field.scale_register->function), field.scale_register->address, 1});
        }
    }
    return pieces;
}

void put_energy(RegisterImage& image, EnergyRegisters const& registers, std::size_t phase_index,
                double value) {
    if (phase_index >= registers.fields.size()) return;
    auto const& field = registers.fields[phase_index];
    put_value(image, field, 0.0);  // its scale register stands now
    EnergyHabit habit;
    measure_habit(registers, field, image, habit);
    if (habit.wraps_at) {
        value = std::fmod(value, *habit.wraps_at);
        if (value < 0.0) value += *habit.wraps_at;
    }
    // A counter shows only what is full: 0.09 of a step of 0.1 is not counted yet. A hair is added, because
    // 0.3 / 0.1 is below 3.
    if (habit.step) value = std::floor(value / *habit.step + 1e-9) * *habit.step;
    put_value(image, field, value);
}

std::expected<Energies, codec::Fault> read_energies(port::Line& line, std::uint8_t unit,
                                                    Profile const& profile) {
    double const begun = line.now_s();
    auto const image = read_pieces(line, unit, profile, energy_registers(profile));
    if (!image) return std::unexpected(image.error());
    return Energies{.counts = energies_in(profile, *image), .skew_s = line.now_s() - begun};
}

}  // namespace phasewright::profile
