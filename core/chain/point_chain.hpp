// The chain of one metering point, gathered: which class each part has, what burden stands behind the current
// transformers, what share of its rating each part sees at a given current. What the plan does not say is
// assumed, and the assumption is written down.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/chain/burden.hpp"
#include "core/chain/energy_error.hpp"
#include "core/chain/load_shares.hpp"
#include "core/chain/low_power.hpp"
#include "core/chain/uncertainty.hpp"
#include "core/plan/metering_point.hpp"

namespace phasewright::chain {

struct Assumptions {
    double coverage_factor = 2.0;
    double correlation = 1.0;                 // between current transformers of one type; 1: they err alike
    std::optional<double> power_factor;       // where the plan says none
    std::string ct_class;                     // where the plan says none
    std::string meter_standard, meter_class;  // where the profile says none
    Interpolation between = Interpolation::straight;
    std::optional<double> contacts_ohm = usual_contacts_ohm;
    std::optional<double> source_ohm;     // of a voltage output
    std::optional<double> lay_mm = 25.0;  // of a voltage output's twisted leads; empty: not twisted
    double temperature_c = 23.0;          // at the meter
    ClassTables const* tables = nullptr;  // null: the built-in ones
};

// One load of a point: a share of the time at one current.
struct LoadPoint {
    double share_of_time = 1.0;
    double current_a = 0.0;  // per phase, primary
    double power_factor = 1.0;
    bool leading = false;
};

struct PointChain {
    plan::ServiceModel model;
    plan::Nominal nominal;
    std::optional<TransformerClass> ct, vt;
    std::optional<MeterClass> meter;
    bool has_vt = false;
    double ct_primary_a = 0.0;
    double ct_secondary = 0.0;
    double input_rated = 0.0;                // of the meter, in the CT's secondary unit
    std::optional<double> input_most_share;  // its highest current, in shares of that
    std::optional<double> most_percent;      // continuous current of the CT
    std::optional<double> burden_va, rated_va;
    std::optional<double> loading_percent;  // of a voltage output or a coil
    double pick_up = 0.0;                   // bound, as a share of the signal
    bool output_fits = true;                // the meter takes this kind of output; true where it is not known
    Assumptions assumptions;
    std::vector<std::string> assumed;
};
[[nodiscard]] PointChain chain_of(plan::MeteringPoint const& point, plan::Nominal const& nominal,
                                  plan::MeterHardware const* meter, Assumptions const& assumptions);

// The load that the plan describes at a current; the power factor by the plan, else assumed.
[[nodiscard]] double usual_power_factor(plan::MeteringPoint const& point, Assumptions const& assumptions);
[[nodiscard]] LoadPoint load_at(plan::MeteringPoint const& point, double current_a,
                                Assumptions const& assumptions);

[[nodiscard]] quantity::Degrees lag_of_load(LoadPoint const& load);

// What the classes allow at one load. Empty parts of the answer are "not stated here".
struct LimitsOfChain {
    TransformerLimits ct, vt;
    MeterLimit meter;
};
[[nodiscard]] LimitsOfChain limits_at(PointChain const& chain, LoadPoint const& load);

// Why there is no number: the first part that states nothing.
struct Silent {
    Part part = Part::ct_ratio;
    NotStated why = NotStated::no_class;
    double current_a = 0.0;
    double power_factor = 1.0;
};
// One budget over all loads, weighted by their energy. An instrument errs at every load to the same part of
// its limit there and the same way: the widest that can be.
struct Reckoned {
    std::optional<Budget> budget;
    std::optional<Silent> silent;  // where there is none
};
[[nodiscard]] Reckoned budget_at(PointChain const& chain, std::span<LoadPoint const> loads);

// Currents, primary, at which a limit begins, ends or bends; rising.
[[nodiscard]] std::vector<double> bends_of(PointChain const& chain);

}  // namespace phasewright::chain
