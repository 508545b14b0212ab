// One reading of one meter over a line, by its profile or by the open SunSpec models.
#pragma once
#include <cstdint>
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "bus/codec/fault.hpp"
#include "bus/port/line.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/sunspec.hpp"

namespace phasewright::profile {

// Where a SunSpec meter model was found; it stays there, so that it need not be looked for twice.
struct SunspecPlace {
    int model = 0;
    std::uint32_t address = 0;  // of the model's ID
    std::uint16_t length = 0;   // as the device says, without ID and L
};

struct MeterReading {
    readings::Snapshot snapshot;
    std::optional<quantity::TransformerRatio> ct_programmed;
    std::optional<plan::Service> meter_service;  // as the meter itself says
    std::string identity;  // "vendor model, serial 1234"; empty when the meter tells nothing
    double skew_s = 0.0;   // at most so long lay between the first and the last measured register
    readings::SignHabit pf_sign = readings::SignHabit::unknown;
    readings::SignHabit var_sign = readings::SignHabit::iec;
    readings::Resolution resolution;  // the coarsest step of what was read; empty for floating point
    int sunspec_model = 0;            // 201..204, 211..214; 0 when read by a profile
    std::optional<SunspecPlace> sunspec_place;  // where that model stands
    std::optional<SunspecIdentity> sunspec_identity;  // of model 1, when the meter was found and has one
    std::vector<EnergyCount> energies;  // of a SunSpec meter; read_energies() asks any other
    std::vector<std::string> notes;   // what was derived or left out, one sentence each
};

// `planned` decides which elements the snapshot holds; without it the meter's own setting does.
[[nodiscard]] std::expected<MeterReading, codec::Fault> read_meter(
    port::Line& line, std::uint8_t unit, Profile const& profile,
    std::optional<plan::Service> planned = std::nullopt);

// Looks for a SunSpec meter on this unit and reads it; a device without one is a fault of kind not_offered.
[[nodiscard]] std::expected<MeterReading, codec::Fault> find_sunspec(
    port::Line& line, std::uint8_t unit, std::optional<plan::Service> planned = std::nullopt);
// The same meter again, in one question; the identity is not asked for.
[[nodiscard]] std::expected<MeterReading, codec::Fault> read_sunspec(
    port::Line& line, std::uint8_t unit, SunspecPlace const& place,
    std::optional<plan::Service> planned = std::nullopt);

}  // namespace phasewright::profile
