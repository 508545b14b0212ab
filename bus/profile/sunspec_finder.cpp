// Finds a SunSpec meter on a line: the marker, then from model to model by their lengths, to the first meter
// model.
#include <algorithm>

#include <fmt/format.h>

#include "bus/profile/meter_reading.hpp"
#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"

namespace phasewright::profile {

namespace {

using codec::Fault;
using codec::FaultKind;
using codec::Function;
constexpr auto holding = Function::read_holding_registers;

// No real device has so many models; a chain that leads in circles or through zeros ends here.
constexpr int most_models = 200;

Fault not_offered(port::Line const& line, std::uint8_t unit, std::string detail) {
    return {.kind = FaultKind::not_offered,
            .detail = std::move(detail),
            .exception = std::nullopt,
            .where = fmt::format("{} unit {}", line.place(), unit)};
}

// Wire address of the first model's ID. A refusal only says that this place does not exist; every other fault
// ends the search, so that a silent unit costs one wait and not three.
std::expected<std::uint32_t, Fault> find_marker(port::Line& line, std::uint8_t unit) {
    for (auto const base : sunspec_bases) {
        auto const found = port::read_registers(line, unit, holding, base, 2);
        if (!found && found.error().kind != FaultKind::refused) return std::unexpected(found.error());
        if (found && (*found)[0] == 0x5375 && (*found)[1] == 0x6E53) return std::uint32_t{base} + 2U;
    }
    return std::unexpected(not_offered(line, unit, "no SunSpec marker at 40000, 0 or 50000"));
}

std::expected<codec::Registers, Fault> read_at(port::Line& line, std::uint8_t unit, std::uint32_t address,
                                               std::uint32_t count) {
    if (address + count > 0x10000U) {
        return std::unexpected(not_offered(line, unit, "the chain of models runs past the last register"));
    }
    return port::read_registers(line, unit, holding, static_cast<std::uint16_t>(address),
                                static_cast<std::uint16_t>(count));
}

// ID and L stand before the body; a whole floating-point model with them is one register more than one answer
// holds.
std::expected<codec::Registers, Fault> read_model(port::Line& line, std::uint8_t unit, std::uint32_t address,
                                                  std::uint16_t id, std::uint16_t length,
                                                  std::uint16_t wanted) {
    auto const body = read_at(line, unit, address + 2, std::min(length, wanted));
    if (!body) return body;
    codec::Registers whole{id, length};
    whole.insert(whole.end(), body->begin(), body->end());
    return whole;
}

MeterReading reading_of(int model, codec::Registers const& body, std::optional<plan::Service> planned) {
    auto meter = decode_sunspec(model, body, planned);
    MeterReading reading;
    reading.snapshot = std::move(meter.snapshot);
    reading.meter_service = service_of_model(model);
    reading.pf_sign = meter.pf_sign;
    reading.resolution = meter.resolution;
    reading.sunspec_model = model;
    reading.notes = std::move(meter.notes);
    reading.energies = sunspec_energies(model, body);
    return reading;
}

}  // namespace

std::expected<MeterReading, Fault> read_sunspec(port::Line& line, std::uint8_t unit, SunspecPlace const& place,
                                                std::optional<plan::Service> planned) {
    auto const standard = length_of_model(place.model);
    auto const body = read_model(line, unit, place.address, static_cast<std::uint16_t>(place.model), place.length, standard);
    if (!body) return std::unexpected(body.error());
    auto reading = reading_of(place.model, *body, planned);
    reading.sunspec_place = place;
    if (place.length < standard) {
        reading.notes.push_back(
            fmt::format("model {} has {} registers, the standard {}", place.model, place.length, standard));
    }
    return reading;
}

std::expected<MeterReading, Fault> find_sunspec(port::Line& line, std::uint8_t unit,
                                                std::optional<plan::Service> planned) {
    auto const first = find_marker(line, unit);
    if (!first) return std::unexpected(first.error());
    std::uint32_t address = *first;
    std::optional<SunspecIdentity> identity;
    std::string seen;
    for (int count = 0; count < most_models; ++count) {
        auto const header = read_at(line, unit, address, 2);
        if (!header) return std::unexpected(header.error());
        std::uint16_t const id = (*header)[0];
        std::uint16_t const length = (*header)[1];
        if (id == 0xFFFF) {
            return std::unexpected(
                not_offered(line, unit,
                            seen.empty() ? "the chain of models is empty"
                                         : "no meter model 201 to 204 or 211 to 214; it has" + seen));
        }
        if (id == common_model && length > 0) {
            auto const body = read_model(line, unit, address, id, length, common_length);
            if (!body) return std::unexpected(body.error());
            identity = decode_common(*body);
        } else if (is_sunspec_meter(id) && length > 0) {
            auto reading = read_sunspec(line, unit, {id, address, length}, planned);
            if (reading && identity) {
                reading->identity = to_text(*identity);
                reading->sunspec_identity = std::move(identity);
            }
            return reading;
        }
        seen += fmt::format(" {}", id);
        address += 2U + length;
    }
    return std::unexpected(
        not_offered(line, unit, fmt::format("more than {} models, and no end mark", most_models)));
}

}  // namespace phasewright::profile
