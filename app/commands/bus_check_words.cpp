#include "app/commands/bus_check_words.hpp"

#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/terminal_lines.hpp"

namespace phasewright::commands {

namespace {
using nlohmann::ordered_json;

constexpr std::size_t most_shown = 6;

std::string paragraph(std::string const& text, std::string const& mark, std::size_t width) {
    std::string all;
    bool first = true;
    for (auto const& line : wrapped(printable(text), width - mark.size())) {
        all += (first ? mark : std::string(mark.size(), ' ')) + line + '\n';
        first = false;
    }
    return all;
}

ordered_json json_of(linefault::NextCheck const& check) {
    auto outcomes = ordered_json::array();
    for (auto const& outcome : check.outcomes)
        outcomes.push_back({{"if", printable(outcome.if_seen)}, {"p", outcome.probability}, {"then", printable(outcome.then)}});
    return {{"kind", check.kind}, {"what", printable(check.what)}, {"minutes", check.minutes}, {"bits", check.bits},
            {"cautions", check.cautions}, {"outcomes", outcomes}};
}
}  // namespace

std::string check_lines(linefault::Verdict const& verdict, std::string const& line, std::size_t width) {
    auto text = paragraph("Serial line " + line + ". " + verdict.sentence, "", width) + '\n';
    for (auto const& one : verdict.evidence) text += paragraph(one, "saw   ", width);
    text += '\n';
    std::size_t shown = 0;
    for (auto const& one : verdict.suspicions) {
        if (shown++ == most_shown) break;
        text += paragraph(one.words, fmt::format("{:5.1f} %  ", 100.0 * one.probability), width);
    }
    text += paragraph("no fault at all", fmt::format("{:5.1f} %  ", 100.0 * verdict.healthy), width);
    bool first = true;
    std::set<std::string> said;  // a caution stands before the first check that needs it
    for (auto const& check : verdict.next) {
        text += '\n';
        for (auto const& caution : check.cautions)
            if (said.insert(caution).second) text += paragraph(caution, "mind  ", width);
        text += paragraph(check.what + fmt::format(" ({:.0f} min)", check.minutes), first ? "next  " : "or    ", width);
        for (auto const& outcome : check.outcomes)
            text += paragraph(outcome.if_seen + " -> " + outcome.then, fmt::format("  {:3.0f} %  ", 100.0 * outcome.probability), width);
        first = false;
    }
    return text;
}

std::string check_json(linefault::Verdict const& verdict, std::string const& line) {
    auto suspicions = ordered_json::array();
    for (auto const& one : verdict.suspicions) {
        ordered_json fault{{"fault", linefault::name_of(one.fault.kind)}, {"p", one.probability}, {"says", printable(one.words)}};
        if (one.fault.after >= 0) fault["after"] = one.fault.after;
        if (one.fault.until >= 0) fault["until"] = one.fault.until;
        if (one.fault.device >= 0) fault["unit"] = verdict.devices[static_cast<std::size_t>(one.fault.device)].unit;
        suspicions.push_back(fault);
    }
    auto evidence = ordered_json::array();
    for (auto const& one : verdict.evidence) evidence.push_back(printable(one));
    auto next = ordered_json::array();
    for (auto const& check : verdict.next) next.push_back(json_of(check));
    ordered_json object{{"line", line}, {"state", linefault::name_of(verdict.state)}, {"says", printable(verdict.sentence)}};
    object["suspicions"] = suspicions;
    object["healthy"] = verdict.healthy;
    object["electrical"] = verdict.electrical;
    object["evidence"] = evidence;
    object["next"] = next;
    return object.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

}  // namespace phasewright::commands
