// What to mind before a test is made; printed with it, every time. In our own words; the code of the place
// and the person licensed for the work come first. A caution never says that something is safe.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/words.hpp"

namespace phasewright::evidence {

enum class TestKind {
    comparison,
    timing,
    ring_out,
    loop_resistance,
    insulation,
    battery_flick,
    one_earth,
    ratio_by_injection,
    ratio_by_clamps,
    register_advance,
    pulse_weight,
    no_load,
    starting_current,
    meter_exchange,
    switching,
};
[[nodiscard]] constexpr auto word_table(TestKind) {
    return plan::Words<TestKind, 15>{{{TestKind::comparison, "comparison"},
                                      {TestKind::timing, "timing"},
                                      {TestKind::ring_out, "ring-out"},
                                      {TestKind::loop_resistance, "loop-resistance"},
                                      {TestKind::insulation, "insulation"},
                                      {TestKind::battery_flick, "battery-flick"},
                                      {TestKind::one_earth, "one-earth"},
                                      {TestKind::ratio_by_injection, "ratio-by-injection"},
                                      {TestKind::ratio_by_clamps, "ratio-by-clamps"},
                                      {TestKind::register_advance, "register-advance"},
                                      {TestKind::pulse_weight, "pulse-weight"},
                                      {TestKind::no_load, "no-load"},
                                      {TestKind::starting_current, "starting-current"},
                                      {TestKind::meter_exchange, "meter-exchange"},
                                      {TestKind::switching, "switching"}}};
}

[[nodiscard]] std::vector<std::string> cautions_of(TestKind test);

}  // namespace phasewright::evidence
