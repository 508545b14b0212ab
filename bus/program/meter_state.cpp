#include "bus/program/meter_state.hpp"

#include <cmath>

#include <fmt/format.h>

#include "bus/profile/clock.hpp"
#include "bus/profile/decode.hpp"
#include "bus/profile/read_registers.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::program {

namespace {

using codec::Fault;
using codec::FaultKind;
using profile::SettingName;

void add(profile::RegisterImage& to, profile::RegisterImage const& from) {
    for (auto const& [address, value] : from.holding) to.holding[address] = value;
    for (auto const& [address, value] : from.input) to.input[address] = value;
}

// A run that the meter refuses is a gap in what is known, not a reading that failed.
std::optional<Fault> take(Reader const& reader, std::uint8_t unit,
                          std::vector<plan::RegisterRun> const& pieces, MeterState& state) {
    for (auto const& piece : pieces) {
        auto const image = profile::read_pieces(reader.line, unit, reader.profile, {piece});
        if (image) {
            add(state.image, *image);
            continue;
        }
        if (!refuses_registers(image.error())) return image.error();
        state.notes.push_back(fmt::format("the meter refuses registers {} to {} (function {})", piece.first,
                                          piece.first + piece.count - 1, piece.function));
    }
    return std::nullopt;
}

std::optional<Fault> ask_who(Reader const& reader, std::uint8_t unit, MeterState& state) {
    auto const& identity = reader.profile.identity;
    std::vector<plan::RegisterRun> pieces;
    for (auto const* const text : {&identity.vendor_text, &identity.model_text, &identity.serial_text})
        if (*text)
            pieces.push_back({static_cast<int>((*text)->function), (*text)->address, (*text)->registers});
    if (identity.serial_number)
        pieces.push_back({static_cast<int>(identity.serial_number->function), identity.serial_number->address,
                          profile::registers_of(identity.serial_number->type)});
    if (auto fault = take(reader, unit, pieces, state)) return fault;
    state.meter = profile::identity_in(reader.profile, state.image);
    if (auto const at = state.meter.find("serial "); at != std::string::npos)
        state.serial = state.meter.substr(at + 7);
    if (!identity.device_identification) return std::nullopt;
    auto const found = port::read_identification(reader.line, unit);
    if (!found) return refuses_registers(found.error()) ? std::nullopt : std::optional(found.error());
    std::vector<std::string> texts;
    for (auto const& object : found->objects)
        if (object.id <= 2 && !object.text.empty()) texts.push_back(object.text);
    if (state.meter.empty()) state.meter = quantity::joined(texts, " ");
    return std::nullopt;
}

std::optional<double> own_offset(MeterState const& state) {
    auto const zone = state.settings.find(SettingName::time_zone);
    return zone == state.settings.end() ? std::nullopt : std::optional(zone->second);
}

}  // namespace

bool refuses_registers(Fault const& fault) {
    return fault.kind == FaultKind::refused && fault.exception && *fault.exception >= 0x01 &&
           *fault.exception <= 0x03;
}

bool surely_not_done(Fault const& fault) {
    return refuses_registers(fault) ||
           (fault.kind == FaultKind::refused && (fault.exception == 0x06 || fault.exception == 0x0A));
}

std::string utc_words(double unix_s) {
    auto text = profile::clock_text(unix_s) + "Z";
    text[10] = 'T';
    return text;
}

std::optional<double> meter_calendar_s(profile::Setting const& clock, double unix_s,
                                       std::optional<double> meter_offset_min,
                                       std::optional<int> planned_offset_min) {
    if (!clock.clock) return std::nullopt;
    if (clock.clock->utc) return unix_s;
    if (planned_offset_min) return unix_s + 60.0 * *planned_offset_min;
    if (meter_offset_min) return unix_s + 60.0 * *meter_offset_min;
    return std::nullopt;
}

std::expected<OneSetting, Fault> read_setting(Reader const& reader, std::uint8_t unit,
                                              profile::Setting const& setting,
                                              std::optional<double> meter_offset_min) {
    OneSetting one;
    if (setting.fixed) {
        one.value = setting.fixed;
        return one;
    }
    double const before = reader.unix_now();
    auto image = profile::read_pieces(reader.line, unit, reader.profile, profile::setting_registers(setting));
    double const after = reader.unix_now();
    if (!image) return std::unexpected(image.error());
    one.value = profile::setting_in(setting, *image);
    one.image = std::move(*image);
    if (!setting.clock || !one.value) return one;
    auto const right =
        meter_calendar_s(setting, (before + after) / 2.0, meter_offset_min, reader.planned_offset_min);
    if (!right) {
        one.value.reset();
        return one;
    }
    // The meter shows whole seconds: on the average it is half a second further than it says.
    one.value = *one.value + 0.5 - *right;
    one.clock_uncertainty_s = 0.5 + std::abs(after - before) / 2.0;
    return one;
}

std::expected<MeterState, Fault> read_identity(Reader const& reader, std::uint8_t unit) {
    MeterState state;
    if (auto fault = ask_who(reader, unit, state)) return std::unexpected(std::move(*fault));
    return state;
}

std::expected<MeterState, Fault> read_state(Reader const& reader, std::uint8_t unit) {
    MeterState state;
    if (auto fault = ask_who(reader, unit, state)) return std::unexpected(std::move(*fault));
    for (auto const& setting : reader.profile.settings) {
        auto const one = read_setting(reader, unit, setting, own_offset(state));
        if (!one) {
            if (!refuses_registers(one.error())) return std::unexpected(one.error());
            state.notes.push_back(fmt::format("the meter refuses to show its {}", words_of(setting.name)));
            continue;
        }
        add(state.image, one->image);
        if (one->value) state.settings[setting.name] = *one->value;
        if (setting.clock) state.clock_uncertainty_s = one->clock_uncertainty_s;
    }
    auto energies = profile::read_energies(reader.line, unit, reader.profile);
    if (energies) {
        state.energies = std::move(energies->counts);
    } else if (refuses_registers(energies.error())) {
        state.notes.emplace_back("the meter refuses to show its energies");
    } else {
        return std::unexpected(energies.error());
    }
    return state;
}

}  // namespace phasewright::program
