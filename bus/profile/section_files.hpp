// The sections of a profile that have a file of their own: settings, energies, and the meter as a thing with
// screws.
#pragma once
#include "bus/profile/field_file.hpp"

namespace phasewright::profile {

// After the services: their `setting` numbers are what the service setting may hold.
[[nodiscard]] std::vector<Setting> read_settings(tables::Table const& root, Defaults const& defaults,
                                                 std::vector<ServiceShape> const& services);
[[nodiscard]] std::vector<EnergyRegisters> read_energy_registers(tables::Table const& root,
                                                                 Defaults const& defaults,
                                                                 std::size_t phases);
[[nodiscard]] plan::MeterHardware read_hardware(tables::Table const& root);

}  // namespace phasewright::profile
