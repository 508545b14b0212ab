// What is really on the buses of a building, as only its virtual meters know it: how each pair lies, and how each meter
// is set. docs/reference/twin.md, "The bus file", is the format. As in the wired file there is no word for a mistake.
#pragma once
#include <expected>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "bus/twin/pair.hpp"
#include "bus/twin/serial_bus.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::twin {

// How a meter's registers are laid out, against its profile.
struct RegisterTwist {
    bool words_swapped = false;      // of every number of two or four registers
    int offset = 0;                  // every address is so many higher than the profile says
    bool energies_in_base_unit = false;  // counters in Wh where the profile says kWh
    std::optional<std::uint16_t> unavailable;  // what it holds where the profile has numbers it does not measure
    friend bool operator==(RegisterTwist const&, RegisterTwist const&) = default;
};

struct MeterTruth {
    std::optional<int> unit;  // empty: the plan's
    std::optional<plan::SerialFormat> format;
    BusManners manners{.answer_jitter_s = 0.004};  // its format does not count; no two devices are equally quick
    RegisterTwist twist;
    std::optional<quantity::TransformerRatio> programmed;  // empty: as the wired file says
    bool writable = true;     // settings that its profile lists may be written
};

struct BusTruth {
    std::map<std::string, Pair> lines;         // by id of the serial line; every line of the plan
    std::map<std::string, MeterTruth> meters;  // by point id; those of which the file says something
};

// Every line healthy, every meter set as planned.
[[nodiscard]] BusTruth as_planned_bus(plan::Site const& site);
[[nodiscard]] std::expected<BusTruth, quantity::Fault> read_bus(std::string_view text, std::string const& file,
                                                                plan::Site const& site);

// The points of a line in the order in which they stand on it; without positions, the plan's order.
[[nodiscard]] std::vector<plan::MeteringPoint const*> along(plan::Site const& site, std::string const& line);

}  // namespace phasewright::twin
