// Wirings in the words of docs/reference/readings.md: given on the command line, or standing in a verdict.
#include <algorithm>
#include <cmath>
#include <tuple>

#include <nlohmann/json.hpp>

#include "app/commands/restate_inputs.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

using nlohmann::json;
using quantity::Fault;

namespace {
std::expected<wiring::Touch, Fault> touch_from(std::string const& word, std::string const& where) {
    if (word == "lost") return wiring::Touch::lost;
    if (auto const conductor = plan::conductor_of(word)) return wiring::touch_of(*conductor);
    return std::unexpected(Fault{"the word does not say what a voltage terminal touches", where,
                                 "\"" + word + "\"", "a, b, c, n or lost",
                                 "write one word a terminal, in the meter's order"});
}

std::expected<wiring::Feed, Fault> feed_from(std::string const& word, std::string const& where) {
    wiring::Feed feed;
    if (word == "dead") {
        feed.dead = true;
        return feed;
    }
    // A sign and a conductor; of two loops that became one, half of each: "+0.5a-0.5b".
    auto const take = [](std::string_view& rest,
                         std::string_view factor) -> std::optional<std::pair<std::int8_t, plan::Conductor>> {
        bool const long_enough = rest.size() >= factor.size() + 2;
        if (!long_enough || (rest[0] != '+' && rest[0] != '-') || rest.substr(1, factor.size()) != factor)
            return std::nullopt;
        auto const conductor = plan::conductor_of(rest.substr(1 + factor.size(), 1));
        if (!conductor || *conductor == plan::Conductor::n) return std::nullopt;
        std::int8_t const sign = rest[0] == '+' ? 1 : -1;
        rest.remove_prefix(factor.size() + 2);
        return std::pair{sign, *conductor};
    };
    std::string_view rest = word;
    feed.quarter_turn = rest.starts_with('j');
    if (feed.quarter_turn) rest.remove_prefix(1);
    if (auto const one = take(rest, ""); one && rest.empty()) {
        std::tie(feed.sign, feed.conductor) = *one;
        return feed;
    }
    rest = word;
    auto const first = take(rest, "0.5");
    auto const second = first ? take(rest, "0.5") : std::nullopt;
    if (second && rest.empty()) {
        std::tie(feed.sign, feed.conductor) = *first;
        feed.with_sign = second->first;
        feed.with = second->second;
        return feed;
    }
    return std::unexpected(Fault{"the word does not say what feeds a current input", where,
                                 "\"" + word + "\"", "+a, -b (turned by 180 degrees) or dead",
                                 "write one word an element: '+a,-b,+c'"});
}

// Words, one an element, without those of derived currents.
template <class Value>
std::vector<Value> of_inputs(std::vector<Value> const& all, plan::ServiceModel const& model) {
    if (all.size() == model.current_inputs.size() && all.size() != model.elements.size()) return all;
    std::vector<Value> inputs;
    for (std::size_t k = 0; k < all.size() && k < model.elements.size(); ++k)
        if (model.elements[k].current_input != plan::derived_current) inputs.push_back(all[k]);
    return inputs;
}

Fault wrong_count(std::string const& what, std::string const& where, std::size_t found, std::size_t wanted) {
    return {"there are too many or too few " + what, where, std::to_string(found), std::to_string(wanted),
            "look at the service: docs/reference/services.md lists its elements"};
}
}  // namespace

std::expected<wiring::Wiring, Fault> wiring_from(WiringWords const& words, plan::ServiceModel const& model,
                                                 std::string const& where) {
    auto wired = wiring::as_planned(model);
    if (!words.voltage.empty()) {
        if (words.voltage.size() != model.terminals.size())
            return std::unexpected(
                wrong_count("voltage terminals", where, words.voltage.size(), model.terminals.size()));
        for (std::size_t k = 0; k < words.voltage.size(); ++k) {
            auto const touch = touch_from(words.voltage[k], where);
            if (!touch) return std::unexpected(touch.error());
            wired.voltage[k] = *touch;
        }
    }
    if (!words.neutral.empty()) {
        if (!model.has_neutral)
            return std::unexpected(Fault{"this service has no neutral terminal", where, words.neutral,
                                         "nothing", "leave --neutral out"});
        auto const touch = touch_from(words.neutral, where);
        if (!touch) return std::unexpected(touch.error());
        wired.neutral = *touch;
    }
    bool const right_count =
        words.current.size() == model.elements.size() || words.current.size() == model.current_inputs.size();
    if (!words.current.empty() && !right_count)
        return std::unexpected(wrong_count("currents", where, words.current.size(), model.elements.size()));
    auto const currents = of_inputs(words.current, model);
    for (std::size_t k = 0; k < currents.size(); ++k) {
        auto const feed = feed_from(currents[k], where);
        if (!feed) return std::unexpected(feed.error());
        if (std::ranges::find(model.live, feed->conductor) == model.live.end())
            return std::unexpected(Fault{"this service has no such conductor", where, currents[k],
                                         "a conductor of the service", "look at docs/reference/services.md"});
        wired.current[k] = *feed;
    }
    auto const ratios = of_inputs(words.ratio, model);
    if (!ratios.empty() && ratios.size() != model.current_inputs.size())
        return std::unexpected(wrong_count("ratios", where, words.ratio.size(), model.current_inputs.size()));
    for (std::size_t k = 0; k < ratios.size(); ++k) {
        if (!(ratios[k] > 0.0) || ratios[k] > 1000.0)
            return std::unexpected(Fault{"the ratio is not one", where, quantity::shortest(ratios[k]),
                                         "programmed over installed, above 0",
                                         "write 2 where the meter was set to twice the CT's ratio"});
        wired.ratio[k] = ratios[k];
    }
    return wired;
}

namespace {
Fault not_a_verdict(std::string const& where, std::string found) {
    return {"this is not a verdict with wirings", where, std::move(found),
            "a line as phasewright diagnose writes it", "run phasewright diagnose and keep its output"};
}

std::vector<std::string> texts(json const& array) {
    std::vector<std::string> words;
    if (array.is_array())
        for (auto const& word : array) words.push_back(word.is_string() ? word.get<std::string>() : "?");
    return words;
}

// Voltage transformers and settings of the meter, where the verdict names them.
void add_settings(json const& member, wiring::Wiring& wired) {
    auto const vt = member.value("vt", json::array());
    if (vt.is_array() && vt.size() == wired.voltage.size() && !vt.empty()) {
        for (auto const& ratio : vt) {
            double const value = ratio.is_number() && ratio.get<double>() != 0.0 ? ratio.get<double>() : 1.0;
            wired.vt_sign.push_back(value < 0.0 ? -1 : 1);
            wired.vt_ratio = std::abs(value);
        }
        if (std::ranges::all_of(wired.vt_sign, [](auto sign) { return sign > 0; })) wired.vt_sign.clear();
    }
    auto const says = [&](char const* field, std::string_view word) {
        return member.contains(field) && member[field].is_string() &&
               member[field].get<std::string>() == word;
    };
    wired.two_elements = says("meter_service", "3P3W-2E");
    wired.vars_turned = says("var_sign", "turned");
    wired.supply_neutral_broken = says("supply_neutral", "broken");
}

std::expected<wiring::Wiring, Fault> member_of(json const& member, plan::ServiceModel const& model,
                                               std::string const& where) {
    WiringWords words{.voltage = texts(member.value("voltage", json::array())),
                      .current = texts(member.value("current", json::array()))};
    if (member.contains("neutral") && member["neutral"].is_string())
        words.neutral = member["neutral"].get<std::string>();
    for (auto const& ratio : member.value("ratio", json::array()))
        words.ratio.push_back(ratio.is_number() ? ratio.get<double>() : 0.0);
    if (words.voltage.empty() || words.current.empty())
        return std::unexpected(not_a_verdict(where, "no voltage or no current"));
    auto wired = wiring_from(words, model, where);
    if (wired) add_settings(member, *wired);
    return wired;
}

std::expected<FromVerdict, Fault> from_line(json const& line, std::string const& where,
                                            plan::ServiceModel const& model) {
    if (!line.contains("classes") || !line["classes"].is_array() || line["classes"].empty())
        return std::unexpected(not_a_verdict(where, line.contains("error")
                                                        ? "a line that was not answered"
                                                        : line.value("state", std::string{"no classes"})));
    FromVerdict result;
    if (line.contains("left_out_probability") && line["left_out_probability"].is_number())
        result.left_out_probability = line["left_out_probability"].get<double>();
    for (auto const& one : line["classes"]) {
        if (!one.is_object() || !one.contains("probability") || !one["probability"].is_number() ||
            !one.contains("wirings") || !one["wirings"].is_array() || one["wirings"].empty())
            return std::unexpected(not_a_verdict(where, "a class without probability or wirings"));
        // No reading separates the members of a class and the verdict does not weigh them: equal parts.
        double const each = one["probability"].get<double>() / static_cast<double>(one["wirings"].size());
        for (auto const& member : one["wirings"]) {
            if (!member.is_object())
                return std::unexpected(not_a_verdict(where, "a wiring that is no object"));
            auto wired = member_of(member, model, where);
            if (!wired) return std::unexpected(wired.error());
            auto const words = member.contains("in_words") && member["in_words"].is_string()
                                   ? member["in_words"].get<std::string>()
                                   : "";
            auto const same = std::ranges::find(result.hypotheses, *wired, &correction::Hypothesis::wiring);
            if (same == result.hypotheses.end())
                result.hypotheses.push_back({*wired, each, words});
            else
                same->probability += each;
        }
    }
    return result;
}
}  // namespace

std::expected<FromVerdict, Fault> wirings_of_verdict(std::string_view lines, std::string const& id,
                                                     std::string const& file,
                                                     plan::ServiceModel const& model) {
    std::optional<json> chosen;
    std::size_t number = 0;
    std::size_t chosen_at = 0;
    std::size_t found = 0;
    while (!lines.empty()) {
        auto const end = lines.find('\n');
        auto const text = lines.substr(0, end);
        lines = end == std::string_view::npos ? std::string_view{} : lines.substr(end + 1);
        ++number;
        if (text.find_first_not_of(" \t\r") == std::string_view::npos) continue;
        auto line = json::parse(text, nullptr, false);
        if (line.is_discarded() || !line.is_object())
            return std::unexpected(not_a_verdict(file + ":" + std::to_string(number), "no JSON object"));
        bool const wanted = id.empty() || (line.contains("id") && line["id"].is_string() &&
                                           line["id"].get<std::string>() == id);
        if (!wanted) continue;
        ++found;
        chosen = std::move(line);
        chosen_at = number;
    }
    if (found != 1)
        return std::unexpected(Fault{found == 0 ? "no verdict has this id" : "there are several verdicts",
                                     file, found == 0 ? "\"" + id + "\"" : std::to_string(found) + " lines",
                                     "one line", "name one of them with --id"});
    return from_line(*chosen, file + ":" + std::to_string(chosen_at), model);
}

}  // namespace phasewright::commands
