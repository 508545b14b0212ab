#include "app/commands/verdict_lines.hpp"

#include <array>
#include <cmath>

#include <nlohmann/json.hpp>

#include "core/quantity/text.hpp"

namespace phasewright::commands {

using nlohmann::ordered_json;

namespace {
// Six significant digits: more than any meter has, and the same on every machine.
double rounded(double value) {
    if (value == 0.0 || !std::isfinite(value)) return value;
    double const scale = std::pow(10.0, 5.0 - std::floor(std::log10(std::abs(value))));
    double const near = std::round(value * scale) / scale;
    return std::isfinite(near) && near != 0.0 ? near : value;
}
double probability(double value) { return std::round(value * 1e6) / 1e6 + 0.0; }

ordered_json number(double value) {
    return std::isfinite(value) ? ordered_json(rounded(value)) : ordered_json(nullptr);
}
ordered_json number(std::optional<double> const& value) {
    return value ? number(*value) : ordered_json(nullptr);
}
ordered_json text_or_null(std::string const& text) {
    return text.empty() ? ordered_json(nullptr) : ordered_json(text);
}

ordered_json of(diagnosis::TruePower const& power) {
    return {{"p", number(power.p_w)},        {"q", number(power.q_var)},     {"p05", number(power.p05_w)},
            {"p95", number(power.p95_w)},    {"q05", number(power.q05_var)}, {"q95", number(power.q95_var)},
            {"why", text_or_null(power.why)}};
}

ordered_json of(std::vector<diagnosis::Move> const& repair) {
    auto moves = ordered_json::array();
    for (auto const& move : repair)
        moves.push_back(ordered_json{
            {"move", move.move}, {"cautions", move.cautions}, {"before", move.before}, {"then", move.then}});
    return moves;
}

// Complex entries as [real, imaginary].
template <class Row>
ordered_json rows_of(std::array<Row, wiring::most_elements> const& rows, std::size_t elements) {
    auto matrix = ordered_json::array();
    for (std::size_t k = 0; k < elements; ++k) {
        auto row = ordered_json::array();
        for (auto const& entry : rows[k]) row.push_back({number(entry.real()), number(entry.imag())});
        matrix.push_back(row);
    }
    return matrix;
}

bool is_selection(std::complex<double> entry) {
    return std::abs(entry) < 1e-12 || std::abs(entry - 1.0) < 1e-12 || std::abs(entry + 1.0) < 1e-12;
}

// How a wrong ratio comes about; a reading cannot tell which.
ordered_json causes_of(std::vector<double> const& ratios) {
    auto causes = ordered_json::array();
    for (double const ratio : ratios) {
        if (ratio == 1.0) continue;
        double const turns = std::round(ratio);
        double const cables = std::round(1.0 / ratio);
        causes.push_back("a CT of another ratio than the programmed one");
        if (turns >= 2.0 && turns <= 4.0 && std::abs(ratio - turns) < 1e-9) causes.push_back("the conductor passes the window " + std::to_string(std::lround(turns)) + " times");
        if (cables >= 2.0 && cables <= 4.0 && std::abs(1.0 / ratio - cables) < 1e-9)
            causes.push_back("one of " + std::to_string(std::lround(cables)) + " parallel cables passes the window");
        break;
    }
    return causes;
}

// What is said only where it matters: settings, transformers, causes, and N and M where entries are not 0 or +-1.
void add_further(wiring::Wiring const& wired, plan::ServiceModel const& model, ordered_json& line) {
    if (!wired.vt_sign.empty() || wired.vt_ratio != 1.0) {
        auto vt = ordered_json::array();
        for (std::size_t t = 0; t < wired.voltage.size(); ++t)
            vt.push_back(number(wired.vt_ratio * (wired.vt_sign.empty() ? 1.0 : wired.vt_sign[t])));
        line["vt"] = vt;
    }
    if (auto const causes = causes_of(wired.ratio); !causes.empty()) line["ratio_cause"] = causes;
    if (wired.two_elements) line["meter_service"] = "3P3W-2E";
    if (wired.supply_neutral_broken) line["supply_neutral"] = "broken";
    if (std::ranges::any_of(wired.current, &wiring::Feed::quarter_turn)) line["input_kind"] = "coil";
    if (wired.vars_turned) line["var_sign"] = "turned";
    auto plain = wired;
    plain.ratio.assign(plain.ratio.size(), 1.0);
    auto const seen = wiring::seen_by(plain, model);
    bool selections = true;
    for (std::size_t k = 0; k < seen.elements; ++k) {
        selections = selections && std::ranges::all_of(seen.voltage[k], is_selection) && std::ranges::all_of(seen.current[k], is_selection);
    }
    // A meter that makes its own star point shows phase minus mean as planned: nothing to say.
    bool const own_star = !model.has_neutral && model.elements.front().minus == plan::to_star_point;
    if (selections || own_star) return;
    line["N"] = rows_of(seen.voltage, seen.elements);
    line["M"] = rows_of(seen.current, seen.elements);
}

ordered_json of(diagnosis::WiringMember const& member, plan::ServiceModel const& model) {
    auto voltage = ordered_json::array();
    for (auto const touch : member.wiring.voltage) voltage.push_back(wiring::word_of(touch));
    auto const feeds = feeds_of(member.wiring, model);
    auto ratio = ordered_json::array();
    for (auto const value : feeds.ratio) ratio.push_back(number(value));
    ordered_json line{
        {"voltage", voltage},
        {"neutral", member.wiring.neutral ? ordered_json(wiring::word_of(*member.wiring.neutral)) : nullptr},
        {"current", feeds.current},
        {"ratio", ratio},
        {"in_words", member.in_words},
        {"repair", of(member.repair)},
        {"hazard", text_or_null(member.hazard)}};
    add_further(member.wiring, model, line);
    if (member.rotation) line["rotation"] = std::string{plan::name_of(*member.rotation)};
    return line;
}

ordered_json of(diagnosis::WiringClass const& wirings, plan::ServiceModel const& model) {
    auto members = ordered_json::array();
    for (auto const& member : wirings.wirings) members.push_back(of(member, model));
    auto const repair = wirings.wirings.empty() ? ordered_json::array() : of(wirings.wirings.front().repair);
    return {{"probability", probability(wirings.probability)},
            {"in_words", wirings.in_words},
            {"wirings", members},
            {"repair", repair},
            {"true_power", of(wirings.true_power)},
            {"energy_law", std::string{name_of(wirings.energy_law)}}};
}

// The place in the form in which the answer to the test is sent back: "CT2" -> {"ct":"CT2"}.
ordered_json place_of(std::string const& at) {
    if (at.empty()) return nullptr;
    if (at.starts_with("CT")) return {{"ct", at}};
    if (plan::conductor_of(at)) return {{"conductor", at}};
    if (at.starts_with("k")) return {{"branch", at}};
    return {{"terminal", at}};
}

ordered_json of(diagnosis::NextTest const& test) {
    auto outcomes = ordered_json::array();
    for (auto const& outcome : test.outcomes)
        outcomes.push_back(
            ordered_json{{"if", outcome.if_seen}, {"p", probability(outcome.p)}, {"then", outcome.then}});
    return {{"kind", test.kind},    {"at", place_of(test.at)},
            {"who", test.who},      {"minutes", number(test.minutes)},
            {"what", test.what},    {"cautions", test.cautions},
            {"outcomes", outcomes}, {"gain", number(test.gain)}};
}

ordered_json of(diagnosis::Given const& given) {
    auto numbers = ordered_json::object();
    for (auto const& [name, value] : given.numbers) numbers[name] = number(value);
    auto facts = ordered_json::object();
    for (auto const& [name, value] : given.facts) facts[name] = value;
    return {{"numbers", numbers}, {"facts", facts}, {"unused", given.unused}};
}

std::string dumped(ordered_json const& line) {
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

void carry(ordered_json& line, std::string_view carried) {
    if (carried.empty()) return;
    auto const fields = ordered_json::parse(carried);
    for (auto const& [name, value] : fields.items()) line[name] = value;
}

// A current as coefficients over the live conductors, in words: {-1, 0, -1} -> "-a-c".
std::string words_of(std::array<double, 3> const& sum) {
    std::string words;
    for (std::size_t k = 0; k < sum.size(); ++k) {
        double const factor = rounded(sum[k]);
        if (factor == 0.0) continue;
        words += factor < 0.0 ? '-' : '+';
        if (std::abs(factor) != 1.0) words += quantity::shortest(std::abs(factor));
        words += plan::letter_of(static_cast<plan::Conductor>(k));
    }
    return words.empty() ? "dead" : words;
}

double ratio_of(wiring::Wiring const& wiring, std::size_t input) {
    return input < wiring.ratio.size() ? wiring.ratio[input] : 1.0;
}
}  // namespace

ElementFeeds feeds_of(wiring::Wiring const& wiring, plan::ServiceModel const& model) {
    ElementFeeds feeds;
    for (auto const& element : model.elements) {
        if (element.current_input != plan::derived_current) {
            auto const input = static_cast<std::size_t>(element.current_input);
            feeds.current.push_back(wiring::word_of(wiring.current[input]));
            feeds.ratio.push_back(ratio_of(wiring, input));
            continue;
        }
        double common = ratio_of(wiring, 0);
        for (std::size_t input = 0; input < wiring.current.size(); ++input)
            if (ratio_of(wiring, input) != common) common = 1.0;
        std::array<double, 3> sum{};
        for (std::size_t input = 0; input < wiring.current.size(); ++input)
            if (auto const& feed = wiring.current[input]; !feed.dead)
                sum[static_cast<std::size_t>(feed.conductor)] -= feed.sign * ratio_of(wiring, input) / common;
        feeds.current.push_back(words_of(sum));
        feeds.ratio.push_back(common);
    }
    return feeds;
}

std::string verdict_line(diagnosis::Verdict const& verdict, plan::ServiceModel const& model,
                         std::string_view carried) {
    bool const contradictory = verdict.state == diagnosis::State::contradictory;
    ordered_json line{{"id", verdict.id}, {"contract", 1}, {"state", std::string{name_of(verdict.state)}}};
    line["classes"] = ordered_json::array();
    if (!contradictory)
        for (auto const& wirings : verdict.classes) line["classes"].push_back(of(wirings, model));
    line["left_out_probability"] = probability(verdict.left_out_probability);
    line["true_power"] = of(verdict.true_power);
    line["findings"] = ordered_json::array();
    for (auto const& finding : verdict.findings)
        line["findings"].push_back(
            ordered_json{{"severity", std::string{name_of(finding.severity)}}, {"text", finding.text}});
    line["next_test"] = verdict.next_test ? of(*verdict.next_test) : ordered_json(nullptr);
    line["given"] = of(verdict.given);
    if (contradictory) {
        line["disagreements"] = ordered_json::array();
        for (auto const& one : verdict.disagreements)
            line["disagreements"].push_back(
                ordered_json{{"field", one.field}, {"found", one.found}, {"expected", one.expected}});
    }
    carry(line, carried);
    return dumped(line);
}

std::string fault_line(std::size_t line_number, LineFault const& fault) {
    ordered_json line{{"line", line_number}, {"id", fault.id ? ordered_json(*fault.id) : nullptr}};
    line["error"] = ordered_json{{"field", fault.fault.where},
                                 {"found", fault.fault.found.empty() ? fault.fault.what : fault.fault.found},
                                 {"allowed", fault.fault.allowed},
                                 {"try", fault.fault.remedy}};
    carry(line, fault.carried);
    return dumped(line);
}

}  // namespace phasewright::commands
