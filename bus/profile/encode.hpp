// From readings to registers: what a meter of this profile would hold if it showed this snapshot. Virtual
// meters serve the result. A number that does not fit its register is held at the register's end, as a real
// display would; one that is not measured becomes the profile's not-available value (NaN for floating
// point, 0 when the profile names none).
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>

#include "bus/profile/profile.hpp"
#include "bus/profile/register_image.hpp"

namespace phasewright::profile {

struct MeterSettings {  // the "extra values": what was set at commissioning, and who the meter is
    std::optional<quantity::TransformerRatio> ct_programmed;
    std::optional<plan::Service> service;  // what the meter is set to; empty: the profile's first service
    std::map<SettingName, double> others;  // what the other settings hold; else the first that is allowed
    std::string vendor;                    // text fields; cut to their length
    std::string model;
    std::string serial;  // digits, where the profile keeps the serial as a number
};

[[nodiscard]] RegisterImage encode(Profile const& profile, readings::Snapshot const& shown,
                                   MeterSettings const& settings);

// One number into its field, its scale register included; nullopt is "not available".
void put_value(RegisterImage& image, Field const& field, std::optional<double> value);

}  // namespace phasewright::profile
