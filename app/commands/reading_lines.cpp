#include "app/commands/reading_lines.hpp"

#include <cctype>
#include <set>
#include <utility>

#include <nlohmann/json.hpp>

#include "app/commands/json_fields.hpp"
#include "app/commands/meter_parts.hpp"
#include "app/commands/reading_parts.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

using nlohmann::json;
using plan::Service;

namespace {
// The contract nests five deep; what is printed or taken apart again recurses, so depth is bounded.
constexpr int most_depth = 32;

// What is seen while a line is parsed: names that stand twice, and the id even when a later part is broken.
struct Watch {
    std::vector<std::set<std::string>> open;  // the names so far of every open object
    std::string key;
    std::string twice;
    std::optional<std::string> id;
    bool too_deep = false;

    bool operator()(int depth, json::parse_event_t event, json& parsed) {
        if (depth > most_depth) {
            too_deep = true;
            return false;  // not kept
        }
        if (event == json::parse_event_t::object_start) open.emplace_back();
        if (event == json::parse_event_t::object_end && !open.empty()) open.pop_back();
        if (event == json::parse_event_t::key && !open.empty()) {
            key = parsed.get<std::string>();
            if (!open.back().insert(key).second && twice.empty()) twice = key;
        }
        if (event == json::parse_event_t::value && depth == 1 && key == "id" && parsed.is_string())
            id = parsed.get<std::string>();
        return true;
    }
};

bool is_of_word(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-' || c == '+'; }

// The bare word that stands around a place, in lower case: "nan" of [230,NaN,230].
std::string word_around(std::string_view line, std::size_t place) {
    if (line.empty()) return {};
    std::size_t begin = std::min(place, line.size() - 1);
    while (begin > 0 && is_of_word(line[begin - 1])) --begin;
    std::string word;
    for (std::size_t at = begin; at < line.size() && is_of_word(line[at]) && word.size() < 12; ++at)
        word += static_cast<char>(std::tolower(static_cast<unsigned char>(line[at])));
    return word;
}

// The last name before a place that is followed by a colon: the field in which a broken value stands.
std::string field_before(std::string_view line, std::size_t place) {
    auto const colon = line.substr(0, place).rfind("\":");
    if (colon == std::string_view::npos || colon == 0) return {};
    auto const open = line.rfind('"', colon - 1);
    return open == std::string_view::npos ? std::string{}
                                          : std::string{line.substr(open + 1, colon - open - 1)};
}

bool is_not_a_number(std::string const& word) {
    for (auto const* const name : {"nan", "-nan", "+nan", "inf", "-inf", "+inf", "infinity", "-infinity"})
        if (word == name) return true;
    return false;
}

quantity::Fault not_json(std::string_view line, std::size_t byte) {
    std::size_t const place = byte == 0 ? 0 : byte - 1;
    auto const word = word_around(line, place);
    if (is_not_a_number(word))
        return {"this is not a number", field_before(line, place), word, "a number, or null",
                "send null for what was not measured"};
    auto const from = place < 12 ? 0 : place - 12;
    auto const near_it = std::string{line.substr(std::min(from, line.size()), 24)};
    return {"the line is not JSON", field_before(line, place),
            place >= line.size() ? "the end of the line after " + as_found(json(near_it))
                                 : as_found(json(near_it)) + " around character " + std::to_string(place + 1),
            "one JSON object a line", "look for a missing comma, quotation mark or bracket there"};
}

std::optional<readings::SignHabit> sign_habit_of(std::string_view word) {
    using enum readings::SignHabit;
    if (word == "iec") return iec;
    if (word == "ieee") return ieee;
    if (word == "unsigned") return unsigned_;
    if (word == "unknown") return unknown;
    return std::nullopt;
}
std::optional<readings::Prior> prior_of(std::string_view word) {
    if (word == "commissioning") return readings::Prior::commissioning;
    if (word == "in_service") return readings::Prior::in_service;
    return std::nullopt;
}
std::optional<quantity::Side> side_of(std::string_view word) {
    if (word == "primary") return quantity::Side::primary;
    if (word == "secondary") return quantity::Side::secondary;
    return std::nullopt;
}
std::optional<bool> to_grid_of(std::string_view word) {
    if (word == "to_grid") return true;
    if (word == "to_site") return false;
    return std::nullopt;
}

std::vector<std::string> const known_fields{"contract",
                                            "id",
                                            "service",
                                            "meter_service",
                                            "nominal",
                                            "side",
                                            "ct_planned",
                                            "ct_programmed",
                                            "ct_primary",
                                            "ct_secondary",
                                            "vt_planned",
                                            "vt_programmed",
                                            "ct_output",
                                            "meter_input",
                                            "ct_class",
                                            "starting_current",
                                            "load_kind",
                                            "flow",
                                            "positive",
                                            "breaker",
                                            "rotation",
                                            "high_leg",
                                            "earthed",
                                            "prior",
                                            "pf_sign",
                                            "var_sign",
                                            "resolution",
                                            "skew_s",
                                            "voltage_terminals",
                                            "elements",
                                            "branches",
                                            "snapshots",
                                            "step",
                                            "steps",
                                            "tests"};

std::vector<std::string> words_of_services() {
    std::vector<std::string> words;
    for (auto const service : plan::all_services) words.emplace_back(plan::code_of(service));
    return words;
}

void read_identity(FieldReader const& line, readings::ReadingSet& set) {
    auto const contract = line.number("contract");
    if (contract && *contract != 1.0)
        line.refuse("contract", "this version of the contract is not known", quantity::shortest(*contract),
                    "1", "send contract 1, or leave it out");
    line.require("id", "text of 1 to 200 characters, once in a file");
    set.id = line.text("id").value_or("");
    if (line.child("id") != nullptr && (set.id.empty() || set.id.size() > 200))
        line.refuse("id", "the length of this id is not usable", std::to_string(set.id.size()) + " bytes",
                    "1 to 200", "give every reading set a short name of its own");
    line.require("service", quantity::joined(words_of_services(), " "));
    set.service = line.word<Service>("service", plan::service_of, words_of_services()).value_or(set.service);
    set.meter_service = line.word<Service>("meter_service", plan::service_of, words_of_services());
    set.model_options.high_leg = line.word<plan::Conductor>("high_leg", plan::conductor_of, {"a", "b", "c"})
                                     .value_or(plan::Conductor::b);
    if (set.model_options.high_leg == plan::Conductor::n) line.refuse_word("high_leg", "n", {"a", "b", "c"});
    set.earthed = line.word<plan::Conductor>("earthed", plan::conductor_of, words_of_conductors());
}

bool has_line_voltage(Service service) { return service != Service::one_phase_two_wire; }
bool has_neutral(Service service) { return plan::model_of(service).has_neutral; }

// Both voltages must be named; the one that the service does not have may be null.
void read_nominal(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    line.require("nominal", R"({"v_ln","v_ll","hz"})");
    auto const* const object = line.object("nominal");
    if (object == nullptr) return;
    FieldReader const nominal(*object, "nominal", {"v_ln", "v_ll", "hz"}, fault);
    Range const volts{.most = 1e6, .above_zero = true, .unit = "V"};
    bool const ln_may_be_null = !has_neutral(set.service) && object->contains("v_ln");
    bool const ll_may_be_null = !has_line_voltage(set.service) && object->contains("v_ll");
    if (!ln_may_be_null) nominal.require("v_ln", "the rated phase-to-neutral voltage in V");
    if (!ll_may_be_null) nominal.require("v_ll", "the rated line voltage in V");
    nominal.require("hz", "the rated frequency in Hz");
    auto const v_ln = nominal.number("v_ln", volts);
    auto const v_ll = nominal.number("v_ll", volts);
    auto const of_ln =
        plan::nominal_from_ln(set.service, 1.0, 0.0).v_ll;  // line volts to one volt to neutral
    set.nominal.v_ln = v_ln.value_or(v_ll.value_or(0.0) / of_ln);
    set.nominal.v_ll = v_ll.value_or(v_ln.value_or(0.0) * of_ln);
    set.nominal.hz = nominal.number("hz", {.most = 1000.0, .above_zero = true, .unit = "Hz"}).value_or(0.0);
}

std::optional<double> rated_secondary(plan::CtOutput output) {
    if (output == plan::CtOutput::five_amperes) return 5.0;
    if (output == plan::CtOutput::one_ampere) return 1.0;
    return std::nullopt;
}

void read_transformers(FieldReader const& line, readings::ReadingSet& set) {
    std::vector<std::string> const outputs{"5A", "1A", "mV", "mA", "coil"};
    auto const model = model_of(set);
    set.side = line.word<quantity::Side>("side", side_of, {"primary", "secondary"}).value_or(set.side);
    set.ct_output =
        line.word<plan::CtOutput>("ct_output", plan::ct_output_of, outputs).value_or(set.ct_output);
    set.meter_input =
        line.word<plan::CtOutput>("meter_input", plan::ct_output_of, outputs).value_or(set.meter_input);
    set.ct_class = line.text("ct_class").value_or("");
    set.ct_planned = read_ratios(line, "ct_planned", model);
    set.ct_programmed = read_ratios(line, "ct_programmed", model);
    set.vt_planned = read_ratios(line, "vt_planned", model);
    set.vt_programmed = read_ratios(line, "vt_programmed", model);
    auto const primary = line.number("ct_primary", {.above_zero = true, .unit = "A"});
    auto const secondary = line.number("ct_secondary", {.above_zero = true, .unit = "A or V"});
    if ((primary || secondary) && !set.ct_planned.empty())
        line.refuse(primary ? "ct_primary" : "ct_secondary", "the planned ratio is said twice",
                    "ct_planned as well", "ct_planned, or ct_primary with ct_secondary",
                    "leave one of them out");
    auto const rated = secondary ? secondary : rated_secondary(set.ct_output);
    // The rated primary alone says what full load is. Only readings of the secondary side need the secondary as well.
    double const as_programmed = set.ct_programmed.empty() ? 5.0 : set.ct_programmed.front().secondary;
    if (primary && (rated || set.side == quantity::Side::primary)) set.ct_planned = {{*primary, rated.value_or(as_programmed)}};
    set.starting_current = line.number("starting_current", {.least = 0.0, .unit = "A"});
}

void read_site(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    std::vector<std::string> const habits{"iec", "ieee", "unsigned", "unknown"};
    set.load_kind = read_load_kind(line, set, fault);
    set.flow = line.word<plan::Flow>("flow", plan::flow_of, {"import", "export", "both"});
    set.positive_to_grid = line.word<bool>("positive", to_grid_of, {"to_site", "to_grid"}).value_or(false);
    set.breaker_a = line.number("breaker", {.most = 1e5, .above_zero = true, .unit = "A"});
    set.rotation = line.word<plan::Sequence>("rotation", plan::sequence_of, words_of_sequences());
    set.prior =
        line.word<readings::Prior>("prior", prior_of, {"commissioning", "in_service"}).value_or(set.prior);
    set.pf_sign = line.word<readings::SignHabit>("pf_sign", sign_habit_of, habits).value_or(set.pf_sign);
    set.var_sign = line.word<readings::SignHabit>("var_sign", sign_habit_of, habits).value_or(set.var_sign);
    set.skew_s = line.number("skew_s", {.least = 0.0, .unit = "s"});
    auto const* const object = line.object("resolution");
    if (object == nullptr) return;
    FieldReader const resolution(*object, "resolution", {"v", "i", "p", "q"}, fault);
    set.resolution.v = resolution.number("v", {.least = 0.0, .unit = "V"});
    set.resolution.i = resolution.number("i", {.least = 0.0, .unit = "A"});
    set.resolution.p = resolution.number("p", {.least = 0.0, .unit = "W"});
    set.resolution.q = resolution.number("q", {.least = 0.0, .unit = "var"});
}

// The optional fields that were sent, in the contract's names; two spellings of one thing count as the first.
void note_given(json const& line, readings::ReadingSet& set) {
    std::set<std::string> given;
    for (auto const& [name, value] : line.items()) {
        if (value.is_null() || name.starts_with("x_")) continue;
        if (name == "id" || name == "service" || name == "nominal" || name == "contract") continue;
        if (name == "snapshots") {
            for (auto const& snapshot : value)
                for (auto const& [field, inner] : snapshot.items())
                    if (!inner.is_null() && field != "v" && field != "i" && !field.starts_with("x_"))
                        given.insert("snapshots." + field);
            continue;
        }
        given.insert(name == "ct_primary" || name == "ct_secondary" ? "ct_planned"
                     : name == "step"                               ? "steps"
                                                                    : name);
    }
    set.fields_given.assign(given.begin(), given.end());
}

std::string carried_of(json const& line) {
    json carried = json::object();
    if (line.is_object())
        for (auto const& [name, value] : line.items())
            if (name.starts_with("x_")) carried[name] = value;
    return carried.empty() ? std::string{} : carried.dump();
}

readings::ReadingSet read_set(json const& object, FirstFault& fault) {
    readings::ReadingSet set;
    FieldReader const line(object, "", known_fields, fault);
    if (fault.any()) return set;
    read_identity(line, set);
    if (fault.any()) return set;
    read_nominal(line, set, fault);
    read_branches(line, set, fault);
    read_elements(line, set, fault);
    if (fault.any()) return set;
    read_transformers(line, set);
    read_site(line, set, fault);
    read_snapshots(line, set, fault);
    if (fault.any()) return set;
    read_steps(line, set, fault);
    read_tests(line, set, fault);
    if (!fault.any()) note_given(object, set);
    return set;
}
}  // namespace

std::expected<ReadLine, LineFault> read_line(std::string_view line) {
    Watch watch;
    json object;
    try {
        object = json::parse(line, std::ref(watch));
    } catch (json::parse_error const& error) {
        return std::unexpected(LineFault{watch.id, {}, not_json(line, error.byte)});
    } catch (json::exception const&) {
        return std::unexpected(LineFault{watch.id,
                                         {},
                                         {"a number is too large", watch.key, "a number beyond 1e308",
                                          "a number", "look at the unit of this value"}});
    }
    if (watch.too_deep)
        return std::unexpected(
            LineFault{watch.id,
                      {},
                      {"the line nests too deep", watch.key, "more brackets in brackets",
                       "at most " + std::to_string(most_depth), "send less in one field"}});
    auto const carried = carried_of(object);
    if (!watch.twice.empty())
        return std::unexpected(LineFault{watch.id,
                                         carried,
                                         {"this field stands twice", watch.twice, "two of them",
                                          "every field once", "leave one of them out"}});
    FirstFault fault;
    auto set = read_set(object, fault);
    if (fault.any()) return std::unexpected(LineFault{watch.id, carried, fault.get()});
    return ReadLine{std::move(set), carried};
}

}  // namespace phasewright::commands
