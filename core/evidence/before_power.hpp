// What can be proved while everything is still dead; each with what it cannot show. Equations:
// docs/physics/evidence.md.
//   loop resistance  measured at the meter's end with the far end shorted: leads and contacts, 2 l R'
//   (core/chain/lead.hpp).
//                    Much less: it is shorted on the way. Much more: a bad contact. None: open, and that is a
//                    stop. The burden of the transformer follows: I^2 R + VA of the meter.
//   insulation       resistance to earth at a test voltage. A wet cable and a dead short look different by
//   decades. battery flick    a small battery's plus touches P1: at the moment of closing, a centre-zero
//   ammeter with its plus at S1
//                    kicks up when P1 and S1 have the same polarity, and down on opening (Faraday and Lenz)
//   one earth only   with its earth connected a secondary has a low resistance to earth; with that earth
//   lifted it must
//                    have a high one. Low still: there is a second earth, and part of the current can go home
//                    through it.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/chain/burden.hpp"
#include "core/evidence/acceptance.hpp"
#include "core/evidence/instrument.hpp"
#include "core/plan/metering_point.hpp"

namespace phasewright::evidence {

struct Tested {  // what a test of a dead circuit says
    Outcome outcome = Outcome::not_provable;
    std::string reason;
    bool stop = false;  // energise nothing before it is mended
    std::optional<Judgement> judgement;
};

// ---- loop resistance ----

struct LoopTest {
    std::optional<double> ohm;           // empty: open
    Accuracy accuracy;                   // of the ohmmeter
    double leads_of_meter_ohm = 0.0;     // of its own test leads, to be taken off
    std::optional<double> expected_ohm;  // by the plan, see expected_loop
    double rated_a = 5.0;
    std::optional<double> meter_va;           // of the meter's input, at rated_a
    std::optional<chain::BurdenRange> range;  // that the transformer is made for
};
struct LoopResult {
    Tested tested;
    std::optional<double> ohm;  // without the test leads
    std::optional<double> burden_va;
    std::string burden;  // a sentence; empty where it cannot be told
};
[[nodiscard]] std::expected<LoopResult, quantity::Fault> loop_tested(LoopTest const& test,
                                                                     AcceptanceLimit const& limit);

struct ExpectedLoop {
    std::optional<double> ohm;  // leads and contacts, own return
    std::optional<double> meter_va;
    std::optional<chain::BurdenRange> range;
    double rated_a = 5.0;
    std::vector<std::string> assumed;
};
// From the plan; the meter's input may be null where no profile says it.
[[nodiscard]] ExpectedLoop expected_loop(plan::MeteringPoint const& point, plan::CurrentInput const* input);

// ---- insulation ----

// Below this no moisture explains it: copper touches something.
inline constexpr double dead_short_mohm = 0.01;

struct InsulationTest {
    std::optional<double> mohm;  // empty: more than the instrument can show
    double most_mohm = 0.0;      // that it can show
    double test_v = 500.0;
    double needed_v = 500.0;  // by the limit
    Accuracy accuracy;        // in Mohm
};
[[nodiscard]] std::expected<Tested, quantity::Fault> insulation_tested(InsulationTest const& test,
                                                                       AcceptanceLimit const& limit);

// ---- battery flick ----

enum class Kick { up, down, none };
[[nodiscard]] constexpr auto word_table(Kick) {
    return plan::Words<Kick, 3>{{{Kick::up, "up"}, {Kick::down, "down"}, {Kick::none, "none"}}};
}
struct FlickTest {  // battery plus to P1, instrument plus to S1; swap both words where one of them is the
                    // other way
    Kick closing = Kick::none;
    Kick opening = Kick::none;
};
[[nodiscard]] Tested flicked(FlickTest const& test);

// ---- one earth only ----

struct EarthTest {
    std::optional<double> connected_ohm;  // empty: open
    std::optional<double> lifted_ohm;     // empty: open
    bool meter_connected = true;          // its input may be earthed inside
    std::optional<bool> meter_earths;     // by its profile
    Accuracy accuracy;
};
struct EarthLimits {
    AcceptanceLimit connected, lifted;
};
[[nodiscard]] std::expected<Tested, quantity::Fault> earth_tested(EarthTest const& test,
                                                                  EarthLimits const& limits);

}  // namespace phasewright::evidence
