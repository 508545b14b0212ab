#include "app/commands/reading_parts.hpp"

#include <algorithm>
#include <utility>

#include <nlohmann/json.hpp>

#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

using nlohmann::json;

std::vector<std::string> const& words_of_load_kinds() {
    static std::vector<std::string> const words{"resistive", "motor",      "electronic",
                                                "mixed",     "generation", "capacitive"};
    return words;
}
std::vector<std::string> const& words_of_sequences() {
    static std::vector<std::string> const words{"abc", "acb"};
    return words;
}
std::vector<std::string> const& words_of_conductors() {
    static std::vector<std::string> const words{"a", "b", "c", "n"};
    return words;
}

std::string place(std::string_view name, std::size_t k) {
    return std::string{name} + "[" + std::to_string(k) + "]";
}

readings::LoadKinds read_load_kind(FieldReader const& from, readings::ReadingSet const& set,
                                   FirstFault& fault) {
    readings::LoadKinds kinds;
    auto const* const value = from.child("load_kind");
    if (value == nullptr) return kinds;
    if (!value->is_object()) {
        kinds.whole = from.word<plan::LoadKind>("load_kind", plan::load_kind_of, words_of_load_kinds());
        return kinds;
    }
    if (set.service != plan::Service::high_leg_delta) {
        from.refuse("load_kind", "only a high-leg service tells two load kinds apart", as_found(*value),
                    quantity::joined(words_of_load_kinds(), " "), "send one word");
        return kinds;
    }
    FieldReader const parts(*value, from.path_of("load_kind"), {"three_phase", "legs"}, fault);
    kinds.three_phase = parts.word<plan::LoadKind>("three_phase", plan::load_kind_of, words_of_load_kinds());
    kinds.legs = parts.word<plan::LoadKind>("legs", plan::load_kind_of, words_of_load_kinds());
    return kinds;
}

namespace {
std::optional<std::string> read_time(FieldReader const& from) {
    auto const time = from.text("time");
    if (time && !readings::seconds_of(*time))
        from.refuse("time", "this is not a time", as_found(json(*time)),
                    "ISO 8601: 2026-05-20T10:00:00+02:00", "write date, T, time and the offset to UTC");
    return time;
}

readings::Snapshot read_snapshot(FieldReader const& from, readings::ReadingSet const& set,
                                 FirstFault& fault) {
    auto const model = model_of(set);
    auto const elements = model.elements.size();
    std::string_view const each = "one an element";
    Range const volts{.least = 0.0, .most = 1e6, .unit = "V"};
    Range const amperes{.least = 0.0, .most = 1e6, .unit = "A"};
    Range const power{.least = -1e12, .most = 1e12, .unit = "W, var or VA"};
    Range const factor{.least = -1.05, .most = 1.05};
    Range const degrees{.least = -360.0, .most = 360.0, .unit = "degrees"};
    from.require("v", "volts, " + std::string{each});
    from.require("i", "amperes, " + std::string{each});
    readings::Snapshot snapshot;
    snapshot.v = from.column("v", elements, each, volts);
    snapshot.i = from.column("i", elements, each, amperes);
    snapshot.p = from.column("p", elements, each, power);
    snapshot.q = from.column("q", elements, each, power);
    snapshot.s = from.column("s", elements, each, {.least = 0.0, .most = 1e12, .unit = "VA"});
    snapshot.pf = from.column("pf", elements, each, factor);
    snapshot.v_ll = from.column("v_ll", model.line_pairs.size(), "one a line voltage", volts);
    snapshot.v_angle = from.column("v_angle", elements, each, degrees);
    snapshot.i_angle = from.column("i_angle", elements, each, degrees);
    Range const distortion{.least = 0.0, .most = 100.0};
    auto const* const thd = from.child("thd_i");
    if (thd != nullptr && thd->is_number())
        snapshot.thd_i.assign(elements, from.number("thd_i", distortion));
    else
        snapshot.thd_i = from.column("thd_i", elements, each, distortion);
    snapshot.i_n = from.number("i_n", amperes);
    snapshot.hz = from.number("hz", {.least = 0.0, .most = 1000.0, .unit = "Hz"});
    snapshot.p_total = from.number("p_total", power);
    snapshot.q_total = from.number("q_total", power);
    snapshot.s_total = from.number("s_total", power);
    snapshot.pf_total = from.number("pf_total", factor);
    snapshot.sequence = from.word<plan::Sequence>("sequence", plan::sequence_of, words_of_sequences());
    snapshot.time = read_time(from);
    snapshot.generation_running = from.yes_no("generation_running");
    snapshot.load_kind = read_load_kind(from, set, fault);
    return snapshot;
}

std::vector<std::string> const snapshot_fields{
    "v",       "i",        "p",        "q",        "s",    "pf",
    "v_ll",    "v_angle",  "i_angle",  "i_n",      "hz",   "p_total",
    "q_total", "s_total",  "pf_total", "sequence", "time", "generation_running",
    "thd_i",   "load_kind"};

std::optional<plan::Conductor> conductor_at(FieldReader const& from, std::string_view field,
                                            std::string const& word) {
    auto const conductor = plan::conductor_of(word);
    if (!conductor) from.refuse_word(field, word, words_of_conductors());
    return conductor;
}

readings::LoadStep read_step(FieldReader const& from, std::size_t snapshots) {
    readings::LoadStep step;
    if (auto const one = from.text("conductor"))
        if (auto const conductor = conductor_at(from, "conductor", *one))
            step.conductors.push_back(*conductor);
    for (auto const& word : from.texts("conductors"))
        if (auto const conductor = conductor_at(from, "conductors", word))
            step.conductors.push_back(*conductor);
    if (from.child("conductor") == nullptr && from.child("conductors") == nullptr)
        from.require("conductor", "the conductor that carries the load's current: a b c");
    from.require("watts", "the load's power in W");
    step.to = from.word<plan::Conductor>("to", plan::conductor_of, words_of_conductors());
    step.watts = from.number("watts", {.most = 1e9, .above_zero = true, .unit = "W"}).value_or(0.0);
    step.rated_v = from.number("rated_v", {.most = 1e6, .above_zero = true, .unit = "V"});
    step.before = from.index("before").value_or(0);
    step.after = from.index("after").value_or(1);
    for (auto const* const name : {"before", "after"}) {
        auto const at = std::string_view{name} == "before" ? step.before : step.after;
        if (at >= snapshots)
            from.refuse(name, "there is no such snapshot", std::to_string(at),
                        "0 to " + std::to_string(snapshots - 1), "count the snapshots of this line from 0");
    }
    if (step.before == step.after)
        from.refuse("after", "a step needs two snapshots", std::to_string(step.after),
                    "another snapshot than before",
                    "read the meter once before and once after the switching");
    return step;
}

std::vector<std::string> const test_kinds{
    "tap_to_bus",         "terminal_to_earth", "clamp_primary", "clamp_secondary",
    "ct_shorted",         "fuse_opened",       "load_switched", "generation_stopped",
    "rotation_at_source", "other_meter",       "nameplate",     "turns_in_window",
    "cables_in_window",   "bill_pf",           "lead_traced"};

// Before and during: two numbers, or two lists with one number an element.
void read_before_and_during(FieldReader const& from, std::size_t elements, readings::TestAnswer& test) {
    auto const is_list = [&](std::string_view name) {
        auto const* const value = from.child(name);
        return value != nullptr && value->is_array();
    };
    if (is_list("before") && is_list("during")) {
        test.before_each = from.column("before", elements, "one an element");
        test.during_each = from.column("during", elements, "one an element");
        return;
    }
    test.before = from.number("before");
    test.during = from.number("during");
    bool const one_only = (from.child("before") == nullptr) != (from.child("during") == nullptr);
    if (one_only)
        from.refuse(from.child("before") == nullptr ? "before" : "during", "one half of a change says nothing", "nothing",
                    "before and during", "send the value before the test and the one during it");
}

// What the numbers of some kinds must be beside being numbers.
void refuse_odd_answers(FieldReader const& from, readings::TestAnswer const& test, bool has_neutral) {
    std::vector<std::string> const power_units{"W", "kW", "var", "kvar", "fraction"};
    bool const known_unit = test.unit.empty() || std::ranges::find(power_units, test.unit) != power_units.end();
    if (test.kind == "other_meter" && !known_unit) from.refuse_word("unit", test.unit, power_units);
    if (test.kind == "cables_in_window" && test.value) {
        bool const is_fraction = !test.of && *test.value > 0.0 && *test.value <= 1.0;
        bool const is_count = test.of && *test.value >= 1.0 && *test.value <= *test.of;
        if (!is_fraction && !is_count)
            from.refuse("value", "this is not a share of the cables of a phase", quantity::shortest(*test.value),
                        "a count, with of: how many cables the phase has; or a fraction up to 1",
                        R"(send {"value":1,"of":2} for one of two cables)");
    }
    if (test.kind == "load_switched" && !has_neutral && test.at_what == "conductor")
        from.refuse("at", "a load on one conductor needs a neutral", test.at, "no place: a three-phase load",
                    "send a load between two phases as a step, with conductor and to");
}

readings::TestAnswer read_test(FieldReader const& from, plan::ServiceModel const& model, FirstFault& fault) {
    readings::TestAnswer test;
    from.require("kind", quantity::joined(test_kinds, " "));
    test.kind = from.text("kind").value_or("");
    if (!test.kind.empty() && std::ranges::find(test_kinds, test.kind) == test_kinds.end())
        from.refuse_word("kind", test.kind, test_kinds);
    if (auto const* const at = from.object("at")) {
        std::vector<std::string> const places{"terminal", "ct", "conductor", "branch"};
        FieldReader const where(*at, from.path_of("at"), places, fault);
        for (auto const& name : places) {
            auto const text = where.text(name);
            if (!text) continue;
            if (!test.at_what.empty())
                from.refuse("at", "a test is made at one place", as_found(*at),
                            "one of terminal ct conductor branch", "send one test a place");
            if (name == "conductor") (void)conductor_at(where, name, *text);
            test.at_what = name;
            test.at = *text;
        }
    }
    if (auto const* const value = from.child("value")) {
        if (value->is_boolean())
            test.word = value->get<bool>() ? "yes" : "no";
        else if (value->is_string())
            test.word = value->get<std::string>();
        else
            test.value = from.number("value");
    }
    test.unit = from.text("unit").value_or("");
    test.u = from.number("u", {.least = 0.0});
    test.of = from.number("of", {.least = 1.0, .most = 100.0});
    read_before_and_during(from, model.elements.size(), test);
    if (!fault.any()) refuse_odd_answers(from, test, model.has_neutral);
    test.time = read_time(from);
    return test;
}
}  // namespace

void read_snapshots(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    line.require("snapshots", "a list of at least one snapshot");
    auto const* const list = line.array("snapshots");
    if (list == nullptr) return;
    if (list->empty())
        return line.refuse("snapshots", "there is no snapshot", "[]", "at least one", "read the meter once");
    for (std::size_t k = 0; k < list->size() && !fault.any(); ++k) {
        FieldReader const from((*list)[k], place("snapshots", k), snapshot_fields, fault);
        if (!fault.any()) set.snapshots.push_back(read_snapshot(from, set, fault));
    }
}

void read_steps(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    std::vector<std::string> const known{"conductor", "conductors", "to",   "watts",
                                         "rated_v",   "before",     "after"};
    auto const snapshots = set.snapshots.size();
    if (auto const* const step = line.object("step"))
        set.steps.push_back(read_step(FieldReader(*step, "step", known, fault), snapshots));
    auto const* const list = line.array("steps");
    for (std::size_t k = 0; list != nullptr && k < list->size(); ++k)
        set.steps.push_back(read_step(FieldReader((*list)[k], place("steps", k), known, fault), snapshots));
}

void read_tests(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    std::vector<std::string> const known{"kind", "at", "value", "unit", "u", "of", "before", "during", "time"};
    auto const model = model_of(set);
    auto const* const list = line.array("tests");
    for (std::size_t k = 0; list != nullptr && k < list->size(); ++k)
        set.tests.push_back(read_test(FieldReader((*list)[k], place("tests", k), known, fault), model, fault));
}

}  // namespace phasewright::commands
