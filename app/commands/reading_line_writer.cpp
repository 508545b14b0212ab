#include "app/commands/reading_line_writer.hpp"

#include <nlohmann/json.hpp>

namespace phasewright::commands {

namespace {
using nlohmann::ordered_json;

std::string word_of(readings::SignHabit habit) {
    switch (habit) {
        case readings::SignHabit::iec: return "iec";
        case readings::SignHabit::ieee: return "ieee";
        case readings::SignHabit::unsigned_: return "unsigned";
        case readings::SignHabit::unknown: break;
    }
    return "unknown";
}

ordered_json of(readings::Column const& column) {
    auto list = ordered_json::array();
    for (auto const& value : column) list.push_back(value ? ordered_json(*value) : ordered_json(nullptr));
    return list;
}

template <class Value>
void put(ordered_json& object, char const* name, std::optional<Value> const& value) {
    if (value) object[name] = *value;
}

void put(ordered_json& object, char const* name, readings::Column const& column) {
    for (auto const& value : column)
        if (value) {
            object[name] = of(column);
            return;
        }
}

void put(ordered_json& object, char const* name, std::vector<quantity::TransformerRatio> const& ratios) {
    if (ratios.empty()) return;
    auto list = ordered_json::array();
    for (auto const& ratio : ratios) list.push_back({ratio.primary, ratio.secondary});
    object[name] = ratios.size() == 1 ? list.front() : list;
}

// A word of the plan by its own name.
template <class Value>
void put_word(ordered_json& object, char const* name, std::optional<Value> const& value) {
    if (value) object[name] = std::string(plan::name_of(*value));
}

void put(ordered_json& object, readings::LoadKinds const& kinds) {
    if (kinds.whole) object["load_kind"] = std::string(plan::name_of(*kinds.whole));
    if (!kinds.three_phase && !kinds.legs) return;
    auto parts = ordered_json::object();
    put_word(parts, "three_phase", kinds.three_phase);
    put_word(parts, "legs", kinds.legs);
    object["load_kind"] = parts;
}

ordered_json of(readings::Snapshot const& snapshot) {
    ordered_json object{{"v", of(snapshot.v)}, {"i", of(snapshot.i)}};
    put(object, "p", snapshot.p);
    put(object, "q", snapshot.q);
    put(object, "s", snapshot.s);
    put(object, "pf", snapshot.pf);
    put(object, "v_ll", snapshot.v_ll);
    put(object, "v_angle", snapshot.v_angle);
    put(object, "i_angle", snapshot.i_angle);
    put(object, "thd_i", snapshot.thd_i);
    put(object, "i_n", snapshot.i_n);
    put(object, "hz", snapshot.hz);
    put(object, "p_total", snapshot.p_total);
    put(object, "q_total", snapshot.q_total);
    put(object, "s_total", snapshot.s_total);
    put(object, "pf_total", snapshot.pf_total);
    put_word(object, "sequence", snapshot.sequence);
    put(object, "time", snapshot.time);
    put(object, "generation_running", snapshot.generation_running);
    put(object, snapshot.load_kind);
    return object;
}

ordered_json of(readings::LoadStep const& step) {
    ordered_json object;
    auto conductors = ordered_json::array();
    for (auto const conductor : step.conductors)
        conductors.push_back(std::string(1, plan::letter_of(conductor)));
    object["conductors"] = conductors;
    if (step.to) object["to"] = std::string(1, plan::letter_of(*step.to));
    object["watts"] = step.watts;
    put(object, "rated_v", step.rated_v);
    object["before"] = step.before;
    object["after"] = step.after;
    return object;
}

ordered_json of(readings::TestAnswer const& answer) {
    ordered_json object{{"kind", answer.kind}};
    if (!answer.at_what.empty()) object["at"] = ordered_json{{answer.at_what, answer.at}};
    put(object, "value", answer.value);
    if (!answer.word.empty()) object["value"] = answer.word;
    if (!answer.unit.empty()) object["unit"] = answer.unit;
    put(object, "u", answer.u);
    put(object, "of", answer.of);
    put(object, "before", answer.before);
    put(object, "before", answer.before_each);
    put(object, "during", answer.during);
    put(object, "during", answer.during_each);
    put(object, "time", answer.time);
    return object;
}

void put_transformers(ordered_json& line, readings::ReadingSet const& set) {
    if (set.side == quantity::Side::secondary) line["side"] = "secondary";
    put(line, "ct_planned", set.ct_planned);
    put(line, "ct_programmed", set.ct_programmed);
    put(line, "vt_planned", set.vt_planned);
    put(line, "vt_programmed", set.vt_programmed);
    if (set.ct_output != plan::CtOutput::unknown)
        line["ct_output"] = std::string(plan::name_of(set.ct_output));
    if (set.meter_input != plan::CtOutput::unknown)
        line["meter_input"] = std::string(plan::name_of(set.meter_input));
    if (!set.ct_class.empty()) line["ct_class"] = set.ct_class;
    put(line, "starting_current", set.starting_current);
}

void put_site(ordered_json& line, readings::ReadingSet const& set) {
    put(line, set.load_kind);
    put_word(line, "flow", set.flow);
    if (set.positive_to_grid) line["positive"] = "to_grid";
    put(line, "breaker", set.breaker_a);
    put_word(line, "rotation", set.rotation);
    if (set.service == plan::Service::high_leg_delta)
        line["high_leg"] = std::string(1, plan::letter_of(set.model_options.high_leg));
    if (set.earthed) line["earthed"] = std::string(1, plan::letter_of(*set.earthed));
    line["prior"] = set.prior == readings::Prior::commissioning ? "commissioning" : "in_service";
    line["pf_sign"] = word_of(set.pf_sign);
    line["var_sign"] = word_of(set.var_sign);
    auto resolution = ordered_json::object();
    put(resolution, "v", set.resolution.v);
    put(resolution, "i", set.resolution.i);
    put(resolution, "p", set.resolution.p);
    put(resolution, "q", set.resolution.q);
    if (!resolution.empty()) line["resolution"] = resolution;
    put(line, "skew_s", set.skew_s);
    for (auto const& branch : set.model_options.branches)
        line["branches"].push_back(
            ordered_json{{"id", branch.id}, {"phase", std::string(1, plan::letter_of(branch.phase))}});
}
}  // namespace

std::string line_of(readings::ReadingSet const& set, std::string const& name) {
    ordered_json line{{"contract", 1}, {"id", set.id}};
    if (!name.empty()) line["x_name"] = name;
    line["service"] = std::string(plan::code_of(set.service));
    if (set.meter_service) line["meter_service"] = std::string(plan::code_of(*set.meter_service));
    auto const volts = [](double v) { return v > 0.0 ? ordered_json(v) : ordered_json(nullptr); };
    line["nominal"] = {
        {"v_ln", volts(set.nominal.v_ln)}, {"v_ll", volts(set.nominal.v_ll)}, {"hz", set.nominal.hz}};
    put_transformers(line, set);
    put_site(line, set);
    line["snapshots"] = ordered_json::array();
    for (auto const& snapshot : set.snapshots) line["snapshots"].push_back(of(snapshot));
    for (auto const& step : set.steps) line["steps"].push_back(of(step));
    for (auto const& answer : set.tests) line["tests"].push_back(of(answer));
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

std::string json_of_snapshot(readings::Snapshot const& snapshot) { return of(snapshot).dump(); }

}  // namespace phasewright::commands
