#include "app/commands/evidence_answer.hpp"

#include <algorithm>
#include <ostream>
#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/terminal_lines.hpp"

namespace phasewright::commands {

namespace {
using evidence::Outcome;
using nlohmann::ordered_json;
constexpr std::size_t width = 100;

std::string words_of(Outcome outcome) {
    switch (outcome) {
        case Outcome::pass: return "pass";
        case Outcome::fail: return "FAIL";
        case Outcome::not_provable: return "not provable";
    }
    return {};
}

// What follows the first line hangs two columns deeper than it.
std::string paragraph(std::string const& text, std::string const& before) {
    auto const indent = std::min(before.find_first_not_of(' '), before.size()) + 2;
    auto const lines = wrapped(printable(before + text), width - indent);
    std::string all = std::string(indent - 2, ' ') + (lines.empty() ? "" : lines.front()) + "\n";
    for (std::size_t k = 1; k < lines.size(); ++k) all += std::string(indent, ' ') + lines[k] + "\n";
    return all;
}

// A probability is never said to be one or nothing.
std::string chance(double p) {
    return p > 0.9995 ? "more than 0.999" : p < 0.0005 ? "below 0.001" : fmt::format("{:.3f}", p);
}

std::vector<std::string> cautions_of(AnswerItem const& item) {
    return item.test ? evidence::cautions_of(*item.test) : std::vector<std::string>{};
}

std::string item_lines(AnswerItem const& item) {
    auto name = item.test ? std::string{plan::name_of(*item.test)} : std::string{};
    if (!item.name.empty()) name += (name.empty() ? "" : " ") + printable(item.name);
    std::string text =
        item.stop ? fmt::format("{}: STOP. Energise nothing before it is mended.\n", name) : std::string{};
    if (item.outcome)
        text += paragraph(item.reason + ".", fmt::format("{}: {}: ", name, words_of(*item.outcome)));
    if (!item.outcome && !item.figures.empty()) text += name + ":\n";
    for (auto const& figure : item.figures)
        text += fmt::format("  {}: {:.6g}{}\n", figure.name, figure.value,
                            figure.unit.empty() ? "" : " " + figure.unit);
    for (auto const& note : item.notes) text += paragraph(note, "  ");
    if (!item.judgement) return text;
    auto const& judgement = *item.judgement;
    for (auto const& part : judgement.uncertainty.parts)
        text += fmt::format("  u {:.4f} {}  {}\n", part.u, judgement.limit.unit, part.what);
    if (judgement.within) text += "  probability that the limit is met: " + chance(*judgement.within) + "\n";
    if (judgement.by_the_numbers && *judgement.by_the_numbers != Outcome::not_provable)
        text += fmt::format("  by the numbers alone: {}\n", words_of(*judgement.by_the_numbers));
    auto const confirmed = judgement.limit.source.confirmed ? ", confirmed by you" : "";
    text +=
        paragraph(fmt::format("limit {}: {} ({}; {}{})", judgement.limit.id,
                              evidence::words_of(judgement.limit), chain::words_of(judgement.limit.source),
                              plan::name_of(judgement.limit.source.footing), confirmed),
                  "  ");
    return text;
}

ordered_json limit_object(evidence::AcceptanceLimit const& limit) {
    auto const side = [](std::optional<double> const& value) {
        return value ? ordered_json(*value) : ordered_json(nullptr);
    };
    return {{"id", limit.id},
            {"low", side(limit.low)},
            {"high", side(limit.high)},
            {"unit", limit.unit},
            {"source",
             {{"standard", limit.source.standard},
              {"edition", limit.source.edition},
              {"clause", limit.source.clause},
              {"footing", plan::name_of(limit.source.footing)},
              {"confirmed", limit.source.confirmed}}}};
}

ordered_json item_object(AnswerItem const& item) {
    ordered_json object;
    object["test"] = item.test ? ordered_json(plan::name_of(*item.test)) : ordered_json(nullptr);
    object["name"] = printable(item.name);
    object["outcome"] = item.outcome ? ordered_json(plan::name_of(*item.outcome)) : ordered_json(nullptr);
    object["reason"] = printable(item.reason);
    object["stop"] = item.stop;
    object["figures"] = ordered_json::array();
    for (auto const& figure : item.figures)
        object["figures"].push_back({{"name", figure.name}, {"value", figure.value}, {"unit", figure.unit}});
    object["notes"] = ordered_json::array();
    for (auto const& note : item.notes) object["notes"].push_back(printable(note));
    if (item.judgement) {
        auto const& judgement = *item.judgement;
        object["value"] = judgement.value;
        object["expanded_uncertainty"] = judgement.uncertainty.expanded;
        object["coverage_factor"] = judgement.uncertainty.coverage;
        object["guard_band"] = judgement.guard;
        object["within"] = judgement.within ? ordered_json(*judgement.within) : ordered_json(nullptr);
        object["by_the_numbers"] = judgement.by_the_numbers
                                       ? ordered_json(plan::name_of(*judgement.by_the_numbers))
                                       : ordered_json(nullptr);
        object["uncertainty"] = ordered_json::array();
        for (auto const& part : judgement.uncertainty.parts)
            object["uncertainty"].push_back({{"what", part.what}, {"u", part.u}});
        object["limit"] = limit_object(judgement.limit);
    }
    object["cautions"] = cautions_of(item);
    return object;
}
}  // namespace

int say(EvidenceAnswer const& answer, bool json, std::ostream& out) {
    std::set<std::string> cautions;
    for (auto const& item : answer.items) {
        if (json) {
            out << item_object(item).dump() << '\n';
            continue;
        }
        out << item_lines(item);
        for (auto const& caution : cautions_of(item))
            if (cautions.insert(caution).second) out << paragraph(caution, "  caution: ");
    }
    if (!answer.sentence.empty() && json)
        out << ordered_json{{"sentence", printable(answer.sentence)}}.dump() << '\n';
    if (!answer.sentence.empty() && !json) out << paragraph(answer.sentence, "");
    bool const all = std::ranges::all_of(
        answer.items, [](AnswerItem const& item) { return !item.outcome || *item.outcome == Outcome::pass; });
    return all ? 0 : 1;
}

}  // namespace phasewright::commands
