// What is really on the buses of a building, as only its virtual meters know it: how each pair lies, and how
// each meter is set. docs/reference/twin.md, "The bus file", is the format. As in the wired file there is no
// word for a mistake.
#pragma once
#include <expected>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "bus/twin/manners.hpp"
#include "bus/twin/pair.hpp"
#include "bus/twin/twist.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::twin {

struct CounterTruth {
    std::optional<double> import_wh;  // all phases together, when the process starts; empty: by the seed
    // The so many-th answer that holds a counter shows every counter at zero, that once; 0: none does.
    int zero_at_read = 0;
    friend bool operator==(CounterTruth const&, CounterTruth const&) = default;
};

struct MeterTruth {
    std::optional<int> unit;  // empty: the plan's
    std::optional<plan::SerialFormat> format;
    BusManners manners{.answer_jitter_s = 0.004};  // no two are equally quick; its format does not count
    RegisterTwist twist;
    CounterTruth counters;
    std::optional<quantity::TransformerRatio> programmed;  // empty: as the wired file says
    bool writable = true;                                  // settings that its profile lists may be written
};

struct BusTruth {
    std::map<std::string, Pair> lines;         // by id of the serial line; every line of the plan
    std::map<std::string, MeterTruth> meters;  // by point id; those of which the file says something
};

// What is told of a meter, in the format of its serial line where no other is told.
[[nodiscard]] MeterTruth truth_of(BusTruth const& bus, plan::Site const& site,
                                  plan::MeteringPoint const& point);

// Every line healthy, every meter set as planned.
[[nodiscard]] BusTruth as_planned_bus(plan::Site const& site);
[[nodiscard]] std::expected<BusTruth, quantity::Fault> read_bus(std::string_view text,
                                                                std::string const& file,
                                                                plan::Site const& site);

// The points of a line in the order in which they stand on it; without positions, the plan's order.
[[nodiscard]] std::vector<plan::MeteringPoint const*> along(plan::Site const& site, std::string const& line);

}  // namespace phasewright::twin
