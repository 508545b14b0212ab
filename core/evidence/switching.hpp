// Breaker 14 off: which meter moved? Two CT sets exchanged between neighbours look perfect, each on its own;
// only what a known circuit does to the meters tells whose current a meter counts. A breaker is opened for a
// moment while all meters are read before, during and after. The meter that follows the circuit falls to
// nothing; every other wanders as loads do.
//
//   the follower     during ~ N(0, s0)                 s0: what a meter shows of nothing
//   every other      during - mean(before, after) ~ N(0, s)   s: scatter and drift of its own readings
//   both with one part in fifty anything at all: a load may start or stop by itself
//   prior            a pairing of circuits and meters costs `interchange` for each exchange that makes it
//   from the plan
//                    (n less the number of its cycles), `neighbour` more where the two share a panel
// So the answer is bounded by the noise of the loads: a meter with no load before moves neither way and
// proves nothing. What one test implies for a circuit that was not tested (the other half of an exchange) is
// told as inferred. Meters that see others' loads too (parents) are no candidates; by how much they fell with
// it is a check. Derived here: docs/physics/evidence.md, "Which meter moved?". The prior is this project's
// model.
#pragma once
#include <cstddef>
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/judgement.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::evidence {

struct SwitchedMeter {
    std::string id;      // of its point in the plan: also the name of the circuit that it should follow
    std::string parent;  // id; empty: none
    std::string panel;
    bool may_switch = true;  // false: its circuit must not be interrupted
};
struct SwitchedReadings {
    std::string meter;
    std::vector<double> before_w, during_w, after_w;  // total active power as shown; `after_w` may be empty
};
struct SwitchingStep {
    std::string circuit;  // that was switched off: id of the point that the plan puts there
    std::vector<SwitchedReadings> readings;
};
struct SwitchingSettings {
    double interchange = 0.02;   // probability weight of one exchange: this project's model
    double neighbour = 3.0;      // times that where both hang in one panel
    double not_metered = 0.005;  // that none of these meters follows a circuit
    double odd = 0.02;           // that a load changes by itself just then
    double resolution_w = 1.0;   // last place of the meters
    double floor_percent = 0.5;  // of the load before: what a meter may still show of nothing
    double sure = 0.99;
};

struct Follows {
    std::string circuit;
    std::optional<std::string> meter;  // the most probable; empty: none of them
    double probability = 0.0;
    bool tested = false;  // false: inferred from the others, or the plan's word alone
    bool seen = false;    // its test showed something: a meter fell with it, or its own stood where it should
                          // have fallen
    bool as_planned = true;
    std::vector<std::pair<std::string, double>> others;  // more than 0.1 %, falling
};
struct Moved {  // what each step did
    std::string circuit;
    std::string meter;  // that fell most surely; empty where none did
    double fell_w = 0.0;
    std::optional<double> parent_fell_w;  // of the parent of the circuit, by the plan
    std::optional<bool> parent_agrees;
    std::vector<std::string> odd;  // meters that moved and are not explained
};
struct SwitchingResult {
    Outcome outcome = Outcome::not_provable;
    std::string reason;
    std::vector<Moved> steps;
    std::vector<Follows> circuits;  // of all meters that may follow one
    std::vector<std::pair<std::string, std::string>>
        interchanged;                 // circuit and the meter that counts it, both sure
    std::optional<std::string> next;  // the circuit to switch next
    std::string why_next;
};
[[nodiscard]] std::expected<SwitchingResult, quantity::Fault> switched(
    std::vector<SwitchedMeter> const& meters, std::vector<SwitchingStep> const& steps,
    SwitchingSettings const& settings = {});

}  // namespace phasewright::evidence
