#include "core/evidence/no_load.hpp"

#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;

std::optional<Fault> constants_fault(MeterConstants const& meter) {
    if (meter.pulses_per_kwh > 0.0 && meter.elements > 0 && meter.volts > 0.0 && meter.starting_a > 0.0)
        return std::nullopt;
    return Fault{"a constant of the meter is missing", "meter", "",
                 "pulses per kWh, elements, volts and starting current above 0", ""};
}
double watts_at(MeterConstants const& meter, double amps) { return meter.elements * meter.volts * amps; }
}  // namespace

double starting_period_s(MeterConstants const& meter) {
    return 3.6e6 / meter.pulses_per_kwh / watts_at(meter, meter.starting_a);
}

double no_load_minutes(MeterConstants const& meter) { return 4.0 * starting_period_s(meter) / 60.0; }

std::expected<Judgement, Fault> crept(NoLoadTest const& test, AcceptanceLimit const& limit) {
    if (auto fault = constants_fault(test.meter)) return std::unexpected(*fault);
    auto judgement = judged(test.pulses, uncertainty_of({}), limit);  // a count has no uncertainty
    double const needed = no_load_minutes(test.meter);
    // Too many pulses are too many, however short the wait was.
    bool const too_many = limit.high && test.pulses > *limit.high;
    if (!too_many && test.minutes < needed)
        return taken_back(judgement, "waited " + quantity::fixed(test.minutes, 1) +
                                         " min; this meter needs " + quantity::fixed(needed, 1) + " min");
    return judgement;
}

std::expected<Judgement, Fault> started(StartingTest const& test, AcceptanceLimit const& limit) {
    if (auto fault = constants_fault(test.meter)) return std::unexpected(*fault);
    bool const both = test.applied_a > 0.0 && test.seconds > 0.0;
    if (!both)
        return std::unexpected(
            Fault{"a starting test needs a current and a time", "applied_a, seconds", "", "above 0", ""});
    double const period = 3.6e6 / test.meter.pulses_per_kwh / watts_at(test.meter, test.applied_a);
    double const expected = 2.0 * period;
    auto judgement = judged(test.seconds / expected, uncertainty_of({}), limit);
    double const most = limit.high.value_or(1.0);
    if (test.pulses < 2) {
        bool const waited = test.seconds >= most * expected;
        judgement.outcome = waited ? Outcome::fail : Outcome::not_provable;
        judgement.by_the_numbers.reset();
        judgement.reason =
            waited ? "two pulses did not come within " + quantity::fixed(most * expected, 0) + " s"
                   : "waited " + quantity::fixed(test.seconds, 0) + " s; two pulses may take " +
                         quantity::fixed(most * expected, 0) + " s";
        if (waited && !chain::may_judge(limit.source))
            judgement = taken_back(judgement,
                                   judgement.reason + "; the limit is written from memory: confirm it first");
    }
    if (test.applied_a > 1.01 * test.meter.starting_a)
        return taken_back(judgement,
                          "the current was above the starting current: it proves nothing below itself");
    return judgement;
}

}  // namespace phasewright::evidence
