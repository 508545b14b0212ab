// A reading set is what one meter showed, once or several times, with what is known of its site: one line of the
// contract in docs/reference/readings.md, in the contract's own units (SI, degrees) and on the side it was sent in.
// Not measured is an empty optional; a field that was not sent at all is an empty vector.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/plan/service.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::readings {

using Column = std::vector<std::optional<double>>;  // one entry an element (v_ll: one a line voltage)

// High-leg services may tell their three-phase part and their two lighting legs apart.
struct LoadKinds {
    std::optional<plan::LoadKind> whole;
    std::optional<plan::LoadKind> three_phase;
    std::optional<plan::LoadKind> legs;
};

struct Snapshot {
    Column v;        // V, element to its own minus side
    Column i;        // A
    Column p;        // W, import positive as the meter shows it
    Column q;        // var, source to load positive
    Column s;        // VA
    Column pf;       // sign by pf_sign
    Column v_ll;     // V
    Column v_angle;  // degrees, relative to the first element that has a voltage, positive leading
    Column i_angle;  // degrees, same zero
    Column thd_i;    // per unit
    std::optional<double> i_n, hz, p_total, q_total, s_total, pf_total;
    std::optional<plan::Sequence> sequence;  // as the meter shows it
    std::optional<std::string> time;         // ISO 8601 with offset
    std::optional<bool> generation_running;
    LoadKinds load_kind;
};

enum class SignHabit { iec, ieee, unsigned_, unknown };
enum class Prior { commissioning, in_service };

// A known resistive load switched on between two snapshots.
struct LoadStep {
    std::vector<plan::Conductor> conductors;
    std::optional<plan::Conductor> to;  // n or another phase
    double watts = 0.0;
    std::optional<double> rated_v;
    std::size_t before = 0;  // indices of snapshots
    std::size_t after = 1;
};

// The answer to a test that somebody made; `kind` is one of the contract's words.
struct TestAnswer {
    std::string kind;
    std::string at_what;  // "terminal", "ct", "conductor", "branch"; empty when the test is not made at a place
    std::string at;       // "V2", "CT1", "b", "k1"
    std::optional<double> value;
    std::string word;     // when the value is a word or yes/no: "yes", "acb", "b"
    std::string unit;
    std::optional<double> u;  // standard uncertainty in the same unit
    std::optional<double> before, during;
    Column before_each, during_each;  // the same, one an element
    std::optional<double> of;         // cables_in_window: how many cables the phase has
    std::optional<std::string> time;
};

struct Resolution {
    std::optional<double> v, i, p, q;
};

struct ReadingSet {
    std::string id;
    plan::Service service = plan::Service::four_wire_wye;
    std::optional<plan::Service> meter_service;
    plan::Nominal nominal;
    plan::ModelOptions model_options;  // high_leg, branches
    std::optional<plan::Conductor> earthed;
    std::optional<plan::ServiceModel> own_model;  // from voltage_terminals and elements, when they were sent

    quantity::Side side = quantity::Side::primary;
    std::vector<quantity::TransformerRatio> ct_planned, ct_programmed, vt_planned, vt_programmed;  // one, or one an element
    plan::CtOutput ct_output = plan::CtOutput::unknown;
    plan::CtOutput meter_input = plan::CtOutput::unknown;
    std::string ct_class;
    std::optional<double> starting_current;  // A, on the side of the readings

    LoadKinds load_kind;
    std::optional<plan::Flow> flow;
    bool positive_to_grid = false;  // the meter counts power from site to grid as positive
    std::optional<double> breaker_a;
    std::optional<plan::Sequence> rotation;  // at the source
    Prior prior = Prior::commissioning;
    SignHabit pf_sign = SignHabit::unknown;
    SignHabit var_sign = SignHabit::iec;
    Resolution resolution;
    std::optional<double> skew_s;

    std::vector<Snapshot> snapshots;
    std::vector<LoadStep> steps;
    std::vector<TestAnswer> tests;

    plan::TerminalNames terminals;              // the words of the repair; default names when not known
    plan::Region region;
    std::vector<std::string> fields_given;      // the optional fields that were sent, in the contract's names
};

// The model that the set's elements follow: the service's default, or the one that was sent.
[[nodiscard]] plan::ServiceModel model_of(ReadingSet const& set);

}  // namespace phasewright::readings
