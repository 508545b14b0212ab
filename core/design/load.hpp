// The load of a point as three currents with their shares of the year, and how wrong its energy may be by the
// classes of CT and meter:
//   bound(I)  = the greatest |e| over both signs of ratio error and phase displacement within the CT's class,
//   with the
//               meter's limit added; e as in core/chain/energy_error.hpp, exact
//   bound     = sum of hours I bound(I) / sum of hours I        weighted with the energy that flows at each
//   current
// Below the lowest current that a class lists it promises nothing. There, for ranking alone, its last limit
// is let grow with 1/I, and the current is named as unproven.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "core/chain/class_tables.hpp"
#include "core/design/settings.hpp"
#include "core/plan/metering_point.hpp"

namespace phasewright::design {

struct LoadStep {
    double amperes = 0.0;
    double hours = 0.0;  // share of the year
};
struct LoadProfile {
    std::array<LoadStep, 3> steps;  // least, usual, highest
    double power_factor = 0.9;
    bool leading = false;
    std::vector<std::string> assumed;
    [[nodiscard]] double usual_a() const { return steps[1].amperes; }
    [[nodiscard]] double most_a() const { return steps[2].amperes; }
};
// Empty: neither a current nor a breaker is known.
[[nodiscard]] std::optional<LoadProfile> load_of(plan::MeteringPoint const& point,
                                                 std::optional<double> breaker_a, Settings const& settings);

struct ErrorBound {
    double percent = 0.0;
    bool stated = true;  // false: the current is below what the class lists
};
// `ct` null: the class is not in the tables; `meter` null: nor is the meter's.
struct Measured {
    chain::TransformerClass const* ct = nullptr;
    chain::MeterClass const* meter = nullptr;
    double rated_primary_a = 100.0;
    std::optional<double> most_percent;
    double meter_share = 1.0;  // rated secondary of the CT over the rated current of the meter's input
};
[[nodiscard]] std::optional<ErrorBound> error_bound(Measured const& parts, double amperes,
                                                    double power_factor, bool leading);

struct EnergyBound {
    double over_load_percent = 0.0;
    double usual_percent = 0.0;
    std::optional<double> unproven_below_a;  // where a step of the load lies below it
};
[[nodiscard]] std::optional<EnergyBound> energy_bound(Measured const& parts, LoadProfile const& load);

}  // namespace phasewright::design
