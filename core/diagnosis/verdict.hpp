// What the diagnosis says of one reading set: ranked classes of wirings with their probabilities, what to mend, what
// to measure next, and what is dangerous. It is the outgoing half of the contract in docs/reference/readings.md.
// "Cannot tell" is an answer (undecided, unproven); a verdict never says that anything is safe.
#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/wiring/wiring.hpp"

namespace phasewright::diagnosis {

enum class State {
    as_planned,     // the wiring is as planned with at least the probability asked for
    mistake,        // the wiring is certainly not as planned
    undecided,      // something in between: `next_test` says what would tell
    unproven,       // the load is too small for any verdict
    contradictory,  // the readings do not agree with each other; there are no classes
};
enum class Severity {
    stop,  // would hurt or damage
    mend,  // readings would be wrong
    mind,  // worth knowing
};
enum class EnergyLaw {
    exact,   // the true energy of every interval follows from what was recorded
    factor,  // a number to multiply by
    band,    // only a range
    lost,    // not recoverable from this meter
};
[[nodiscard]] std::string_view name_of(State state);        // "as_planned"
[[nodiscard]] std::string_view name_of(Severity severity);  // "stop"
[[nodiscard]] std::string_view name_of(EnergyLaw law);      // "exact"

struct Finding {
    Severity severity = Severity::mind;
    std::string text;
};

// One step for a hand, in the words of the terminals.
struct Move {
    std::string move;                   // "exchange S1 and S2 of CT 2 at terminals 4 and 6"
    std::vector<std::string> cautions;  // before it
    std::string before;                 // what must be true first
    std::string then;                   // what must be seen after it
};

// Corrected total of the last snapshot, import and lagging positive; empty when nothing can be recovered.
struct TruePower {
    std::optional<double> p_w, q_var, p05_w, p95_w, q05_var, q95_var;
    std::string why;  // when p is empty
};

struct WiringMember {
    wiring::Wiring wiring;
    double prior = 0.0;  // share within the class
    std::string in_words;
    std::vector<Move> repair;  // empty when nothing needs moving
    std::string hazard;        // empty, or what is dangerous about it
    std::optional<plan::Sequence> rotation;  // at the source under this wiring, where nobody told it
};

struct WiringClass {
    double probability = 0.0;
    std::string in_words;               // "L2 current is reversed"
    std::vector<WiringMember> wirings;  // most probable first; the first one's repair is the class's
    TruePower true_power;
    EnergyLaw energy_law = EnergyLaw::exact;
    std::optional<double> registered_share;  // registered / true active power of the last snapshot
    bool as_planned = false;                 // the planned wiring is a member
};

struct Outcome {
    std::string if_seen;
    double p = 0.0;
    std::string then;
};
struct NextTest {
    std::string kind;  // one of the contract's test kinds
    std::string at;    // "CT2", "V1", "b"; empty when not made at a place
    std::string who;
    double minutes = 0.0;
    std::string what;  // the question, in words
    std::vector<std::string> cautions;
    std::vector<Outcome> outcomes;
    double gain = 0.0;
};

struct Disagreement {
    std::string field, found, expected;
};

// One element as predicted or as read, for tables and drawings: primary side, V, A, W, var, degrees (V minus I).
struct ElementValues {
    std::optional<double> v, i, p, q, lag_deg;
};

struct Given {
    std::vector<std::pair<std::string, double>> numbers;     // thresholds and priors used
    std::vector<std::pair<std::string, std::string>> facts;  // what of the site was used
    std::vector<std::string> unused;                         // fields that were sent and are not used yet
};

struct Verdict {
    std::string id;
    State state = State::undecided;
    std::vector<WiringClass> classes;  // most probable first, down to a sum of 0.999
    double left_out_probability = 0.0;
    TruePower true_power;              // of the first class
    std::vector<Finding> findings;     // most severe first
    std::optional<NextTest> next_test;
    std::vector<Disagreement> disagreements;
    Given given;

    std::vector<ElementValues> as_read;          // the last snapshot, primary side
    std::vector<ElementValues> after_repair;     // what the same load will read once the first class is mended
    std::vector<double> element_right;           // probability that the element is paired right and the right way round
    std::vector<double> expected_lag_deg;        // centre of the load angles believed possible, one an element as planned
    std::vector<double> expected_lag_half_width_deg;
};

}  // namespace phasewright::diagnosis
