#include "core/evidence/before_power.hpp"

#include <algorithm>

#include "core/chain/uncertainty.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;
using quantity::shortest;

Tested told(Judgement judgement) {
    Tested tested{.outcome = judgement.outcome, .reason = judgement.reason};
    tested.judgement = std::move(judgement);
    return tested;
}

std::expected<Uncertainty, Fault> instrument_alone(Accuracy const& accuracy, double reading, double times) {
    auto const a = limit_at(accuracy, reading);
    if (!a) return std::unexpected(a.error());
    return uncertainty_of(
        {{"accuracy of the instrument", times * chain::u_of_rectangular(*a), std::nullopt}});
}

std::string burden_words(double va, std::optional<chain::BurdenRange> const& range) {
    auto const measured = quantity::fixed(va, 2) + " VA";
    if (!range) return measured + "; what the transformer is made for is not known";
    auto const made_for = shortest(range->least_va) + " to " + shortest(range->most_va) + " VA";
    if (va > range->most_va)
        return measured + " is more than the class of the transformer holds for (" + made_for + ")";
    if (va < range->least_va)
        return measured + " is less than the class of the transformer holds for (" + made_for + ")";
    return measured + " is within what the class holds for (" + made_for + ")";
}

// Whether a resistance to earth meets its limit, and by which judgement.
std::expected<Judgement, Fault> earth_judged(std::optional<double> ohm, Accuracy const& accuracy,
                                             AcceptanceLimit const& limit) {
    if (!ohm) {  // open: above every limit
        Judgement judgement{.limit = limit};
        judgement.outcome = limit.high ? Outcome::fail : Outcome::pass;
        judgement.reason = "the instrument shows open";
        return chain::may_judge(limit.source) ? judgement
                                              : taken_back(judgement, "the limit is written from memory");
    }
    auto const u = instrument_alone(accuracy, *ohm, 1.0);
    if (!u) return std::unexpected(u.error());
    return judged(*ohm, *u, limit);
}
}  // namespace

std::expected<LoopResult, Fault> loop_tested(LoopTest const& test, AcceptanceLimit const& limit) {
    LoopResult result;
    if (!test.ohm) {
        result.tested = {
            Outcome::fail,
            "the loop is open: energised, the transformer would drive its current into an open end", true,
            std::nullopt};
        return result;
    }
    double const ohm = *test.ohm - test.leads_of_meter_ohm;
    if (ohm < 0.0)
        return std::unexpected(Fault{"the test leads have more resistance than the whole", "ohm",
                                     shortest(*test.ohm), "at least " + shortest(test.leads_of_meter_ohm),
                                     "tie the tips of the test leads and read them again"});
    result.ohm = ohm;
    if (test.meter_va) {
        result.burden_va = test.rated_a * test.rated_a * ohm + *test.meter_va;
        result.burden = burden_words(*result.burden_va, test.range);
    }
    if (!test.expected_ohm || *test.expected_ohm <= 0.0) {
        result.tested.reason =
            "the plan does not say what to expect: length, size or return of the lead is missing";
        return result;
    }
    auto const u = instrument_alone(test.accuracy, *test.ohm, 100.0 / *test.expected_ohm);
    if (!u) return std::unexpected(u.error());
    auto judgement = judged(100.0 * (ohm - *test.expected_ohm) / *test.expected_ohm, *u, limit);
    auto const figures =
        quantity::fixed(ohm, 3) + " ohm where the plan gives " + quantity::fixed(*test.expected_ohm, 3);
    bool const less = ohm < *test.expected_ohm;
    if (judgement.outcome == Outcome::fail)
        judgement.reason = figures + (less ? ": shorted on the way, or another lead than the plan's"
                                           : ": a bad contact, or another lead than the plan's");
    result.tested = told(std::move(judgement));
    return result;
}

ExpectedLoop expected_loop(plan::MeteringPoint const& point, plan::CurrentInput const* input) {
    ExpectedLoop expected;
    auto own = point.lead;
    if (own) own->way_back = plan::Return::own;  // alone in its loop while it is measured
    auto const burden = chain::burden_of(point.ct, own, input);
    expected.rated_a = burden.rated_a;
    expected.meter_va = burden.meter_va;
    expected.range = burden.range;
    expected.assumed = burden.assumed;
    if (burden.leads_ohm) expected.ohm = *burden.leads_ohm + burden.contacts_ohm.value_or(0.0);
    return expected;
}

std::expected<Tested, Fault> insulation_tested(InsulationTest const& test, AcceptanceLimit const& limit) {
    if (!limit.low)
        return std::unexpected(
            Fault{"an insulation limit needs a lowest value", limit.id, "none", "a value in Mohm", ""});
    if (test.test_v < test.needed_v) {
        Tested tested;
        tested.reason = "tested with " + shortest(test.test_v) + " V where the limit is for " +
                        shortest(test.needed_v) + " V";
        return tested;
    }
    if (!test.mohm) {
        Tested tested;
        bool const enough = test.most_mohm >= *limit.low;
        tested.reason =
            "more than " + shortest(test.most_mohm) + " Mohm, which is all that the instrument can show";
        if (enough && chain::may_judge(limit.source)) tested.outcome = Outcome::pass;
        if (enough && !chain::may_judge(limit.source))
            tested.reason += "; the limit (" + words_of(limit) + ", " + chain::words_of(limit.source) +
                             ") is written from memory: confirm it for the edition in force";
        return tested;
    }
    if (*test.mohm < dead_short_mohm)
        return Tested{Outcome::fail, shortest(*test.mohm) + " Mohm is no moisture: copper touches something",
                      true, std::nullopt};
    auto const u = instrument_alone(test.accuracy, *test.mohm, 1.0);
    if (!u) return std::unexpected(u.error());
    return told(judged(*test.mohm, *u, limit));
}

Tested flicked(FlickTest const& test) {
    Tested tested;
    if (test.closing == Kick::none || test.opening == Kick::none) {
        tested.reason =
            "the instrument did not kick both times: loop open or shorted, battery flat, or range too wide";
    } else if (test.closing == test.opening) {
        tested.reason =
            "closing and opening kick opposite ways; both were seen alike, so one was seen wrongly";
    } else if (test.closing == Kick::up) {
        tested.outcome = Outcome::pass;
        tested.reason = "P1 and S1 have the same polarity";
    } else {
        tested.outcome = Outcome::fail;
        tested.reason =
            "P1 and S1 have opposite polarity: marks, leads or the transformer itself are the other way "
            "round";
    }
    return tested;
}

std::expected<Tested, Fault> earth_tested(EarthTest const& test, EarthLimits const& limits) {
    auto const connected = earth_judged(test.connected_ohm, test.accuracy, limits.connected);
    if (!connected) return std::unexpected(connected.error());
    auto const lifted = earth_judged(test.lifted_ohm, test.accuracy, limits.lifted);
    if (!lifted) return std::unexpected(lifted.error());
    Tested tested;
    if (connected->outcome == Outcome::fail) {
        tested = {Outcome::fail,
                  "with its earth connected the secondary is not earthed: " + connected->reason, true,
                  *connected};
    } else if (lifted->outcome == Outcome::fail) {
        std::string const where = test.meter_connected && test.meter_earths.value_or(false)
                                      ? ": the meter's own input is earthed inside"
                                  : test.meter_connected
                                      ? ": take the meter off and read again, its input may be earthed"
                                      : ": look along the lead and in the other panel";
        tested = {Outcome::fail, "with its earth lifted the secondary is earthed still" + where, false,
                  *lifted};
    } else if (connected->outcome == Outcome::pass && lifted->outcome == Outcome::pass) {
        tested = {Outcome::pass, "earthed once: low with its earth, high without", false, *lifted};
    } else {
        auto const& doubtful = connected->outcome == Outcome::pass ? *lifted : *connected;
        tested = {Outcome::not_provable, doubtful.reason, false, doubtful};
    }
    return tested;
}

}  // namespace phasewright::evidence
