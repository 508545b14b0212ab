// A meter that creeps counts without a load; one that does not start misses small ones.
//   no load   volts on, current circuits open at the meter (the CTs shorted!): at most one pulse within
//             dt = 4 * 60 * 10^3 / (k m U_test I_st) minutes, four pulse periods at the starting current;
//             k pulses per kWh, m measuring elements, U_test in V, I_st in A, all on the meter's side
//             (IEC 62052-11:2020, from memory; the meaning as four periods is derived)
//   starting  at I_st and power factor 1 two pulses come within the time of two, with room
//             I_st as a share of the rated current: docs/reference/accuracy-classes.md, section 4
// A limit from memory judges nothing until it is confirmed. On site both are hard: a load that is "off" often
// is not.
#pragma once
#include <expected>
#include <string>

#include "core/evidence/judgement.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::evidence {

struct MeterConstants {
    double pulses_per_kwh = 1000.0;  // on the meter's side
    int elements = 3;
    double volts = 230.0;       // of an element
    double starting_a = 0.005;  // on the meter's side
};
[[nodiscard]] double no_load_minutes(MeterConstants const& meter);
[[nodiscard]] double starting_period_s(MeterConstants const& meter);  // of a pulse at the starting current

struct NoLoadTest {
    MeterConstants meter;
    double minutes = 0.0;  // that were waited
    int pulses = 0;
};
[[nodiscard]] std::expected<Judgement, quantity::Fault> crept(NoLoadTest const& test,
                                                              AcceptanceLimit const& limit);

struct StartingTest {
    MeterConstants meter;
    double applied_a = 0.005;  // on the meter's side
    double seconds = 0.0;      // that two pulses took, or that were waited
    int pulses = 0;            // that came within them
};
[[nodiscard]] std::expected<Judgement, quantity::Fault> started(StartingTest const& test,
                                                                AcceptanceLimit const& limit);

}  // namespace phasewright::evidence
