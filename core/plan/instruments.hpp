// What stands between the conductors and the meter's terminals: current and voltage transformers, the leads between them
// and the meter, the voltage taps and what protects them. docs/reference/plan.md has every field.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "core/plan/conductor_size.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::plan {

enum class CtOutput { five_amperes, one_ampere, millivolts, milliamperes, coil, unknown };
[[nodiscard]] constexpr auto word_table(CtOutput) {
    return Words<CtOutput, 5>{{{CtOutput::five_amperes, "5A"},
                               {CtOutput::one_ampere, "1A"},
                               {CtOutput::millivolts, "mV"},
                               {CtOutput::milliamperes, "mA"},
                               {CtOutput::coil, "coil"}}};
}
[[nodiscard]] std::string_view name_of(CtOutput output);  // "5A"
[[nodiscard]] std::optional<CtOutput> ct_output_of(std::string_view name);

// A CT whose secondary is a current loop drives its current through whatever it finds: opened under load it is a
// hazard. An unknown output counts as one.
[[nodiscard]] constexpr bool is_current_loop(CtOutput output) {
    return output == CtOutput::five_amperes || output == CtOutput::one_ampere || output == CtOutput::unknown;
}

// What can short a current loop before anyone opens it.
enum class Shorting {
    none,      // nothing is fitted
    block,     // terminals with shorting screws or links
    switch_,   // a test switch that makes before it breaks
    built_in,  // in the current transformer, or a clamp that limits its voltage
};
[[nodiscard]] constexpr auto word_table(Shorting) {
    return Words<Shorting, 4>{{{Shorting::none, "none"},
                               {Shorting::block, "block"},
                               {Shorting::switch_, "switch"},
                               {Shorting::built_in, "built-in"}}};
}

struct Window {  // the opening for the conductors; a round one has both alike
    double width_mm = 0.0;
    double height_mm = 0.0;
    bool round = false;
    friend bool operator==(Window const&, Window const&) = default;
};

struct CurrentTransformer {
    quantity::TransformerRatio ratio{100.0, 5.0};  // secondary in A, or in V for voltage outputs
    CtOutput output = CtOutput::unknown;
    std::string accuracy_class;  // "0.5", "0.5S", "1"; empty when unknown
    std::string model;           // in a catalogue
    std::optional<double> burden_va;      // rated output
    std::optional<double> most_percent;   // of the rated primary current, for ever: 120
    std::optional<Window> window;
    std::optional<Shorting> shorting;
    friend bool operator==(CurrentTransformer const&, CurrentTransformer const&) = default;
};

// Besides its ratio, which the meter is programmed with.
struct VoltageTransformer {
    std::string model;
    std::string accuracy_class;
    std::optional<double> burden_va;  // rated output
    friend bool operator==(VoltageTransformer const&, VoltageTransformer const&) = default;
};

// From a current transformer to the meter. Own return: two wires each; common return: the currents of a balanced load
// cancel in it.
enum class Return { own, common };
[[nodiscard]] constexpr auto word_table(Return) {
    return Words<Return, 2>{{{Return::own, "own"}, {Return::common, "common"}}};
}
struct Lead {
    double length_m = 0.0;  // one way
    std::optional<ConductorSize> size;
    std::optional<Metal> metal;
    std::optional<Strands> strands;
    std::optional<Return> way_back;
    std::optional<double> temperature_c;
    friend bool operator==(Lead const&, Lead const&) = default;
};

// What ends a short circuit on the tap's conductor.
enum class TapProtection {
    fuse,     // its own, described below
    breaker,  // only the breaker of the metered circuit
    panel,    // only the overcurrent device in front of the whole panel
    nothing,
};
[[nodiscard]] constexpr auto word_table(TapProtection) {
    return Words<TapProtection, 4>{{{TapProtection::fuse, "fuse"},
                                    {TapProtection::breaker, "breaker"},
                                    {TapProtection::panel, "panel"},
                                    {TapProtection::nothing, "nothing"}}};
}
struct VoltageTap {
    std::optional<ConductorSize> size;
    std::optional<Metal> metal;
    std::optional<Strands> strands;
    std::optional<double> length_m;       // from the conductor that is measured to the meter
    std::optional<double> unprotected_m;  // of it, in front of the fuse
    std::optional<TapProtection> protection;
    std::optional<double> fuse_a;
    std::optional<double> breaking_ka;        // of the fuse
    std::optional<double> let_through_a2s;    // of the device that protects it, I2t
    friend bool operator==(VoltageTap const&, VoltageTap const&) = default;
};

}  // namespace phasewright::plan
