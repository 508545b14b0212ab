#include "app/commands/restate_words.hpp"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "core/quantity/text.hpp"

namespace phasewright::commands {

using nlohmann::ordered_json;

namespace {
constexpr double wh_a_kwh = 1000.0;

std::string kwh(double wh) { return quantity::fixed(wh / wh_a_kwh, 3); }

struct WiringWords {
    std::vector<std::string> voltage, current;
    std::string neutral;
};
WiringWords words_of_wiring(wiring::Wiring const& wired) {
    WiringWords words;
    for (auto const touch : wired.voltage) words.voltage.push_back(wiring::word_of(touch));
    for (auto const& feed : wired.current) words.current.push_back(wiring::word_of(feed));
    if (wired.neutral) words.neutral = wiring::word_of(*wired.neutral);
    return words;
}

std::string describe(correction::Hypothesis const& hypothesis) {
    auto const words = words_of_wiring(hypothesis.wiring);
    std::vector<std::string> ratios;
    for (double const ratio : hypothesis.wiring.ratio) ratios.push_back(quantity::shortest(ratio));
    auto text = "voltage " + quantity::joined(words.voltage, ",");
    if (!words.neutral.empty()) text += ", neutral " + words.neutral;
    text += ", current " + quantity::joined(words.current, ",") + ", ratio " + quantity::joined(ratios, ",");
    return text;
}

std::string line(std::string_view name, std::string const& value) {
    return fmt::format("{:<18}{}\n", name, value);
}

// What may hurt somebody stands before what is wrong with the account.
std::vector<std::string> stops_of(correction::Question const& question) {
    constexpr double worth_saying = 0.01;
    double dead = 0.0;
    double neutral = 0.0;
    for (auto const& one : question.hypotheses) {
        bool any = false;
        for (auto const& feed : one.wiring.current) any = any || feed.dead;
        if (any) dead += one.probability;
        if (one.wiring.neutral == wiring::Touch::lost) neutral += one.probability;
    }
    std::vector<std::string> stops;
    if (dead >= worth_saying)
        stops.emplace_back(
            "a current input without current may be an open CT secondary: treat the loop as open and touch "
            "nothing; take the "
            "load off or de-energise the conductor first");
    if (neutral >= worth_saying)
        stops.emplace_back(
            "either the meter's neutral lead or the supply neutral is broken: assume the supply, and have it "
            "measured at the "
            "source before anything else");
    return stops;
}

std::string head_of(RestatedFile const& r) {
    auto const& file = r.file;
    std::string text;
    for (auto const& stop : stops_of(r.question)) text += line("STOP", stop + ".");
    text += line("Intervals",
                 fmt::format("{} of {} s, {} to {}{}", file.data.rows(), quantity::shortest(file.interval_s),
                             file.times.front(), file.times.back(),
                             file.interval_inferred ? " (the step between most rows)" : ""));
    if (file.not_measured() > 0) text += line("Not measured", std::to_string(file.not_measured()) + " rows");
    if (!file.gaps.empty()) {
        double missing = 0.0;
        for (auto const& gap : file.gaps) missing += gap.missing_s;
        text += line("Gaps", fmt::format("{}, {} h in all; the first after {}", file.gaps.size(),
                                         quantity::fixed(missing / 3600.0, 2), file.gaps.front().after));
    }
    auto const& first = r.question.hypotheses.front();
    text += line("Wiring", describe(first));
    if (r.question.hypotheses.size() > 1)
        text += line("", fmt::format("{} wirings count; those that correct like this one hold {} %",
                                     r.question.hypotheses.size(),
                                     quantity::fixed(100.0 * r.result.alike_probability, 2)));
    text += line("Register", std::string{name_of(r.result.kind)});
    return text;
}

std::string limit_words(RestatedFile const& r) {
    if (!r.result.inside) return {};
    auto const part = [](correction::PeriodSum const& sum) {
        return fmt::format("{} intervals, registered {} kWh, corrected {} kWh", sum.rows,
                           kwh(sum.registered_wh), kwh(sum.corrected_wh));
    };
    return line("Limit", fmt::format("{} days back, as given", quantity::shortest(r.question.limit->days))) +
           line("  within", part(*r.result.inside)) + line("  older", part(*r.result.outside));
}

std::string total_words(RestatedFile const& r) {
    auto const& result = r.result;
    std::string text = line("Registered", kwh(result.registered_wh) + " kWh");
    if (result.refusal) {
        if (result.corrected_wh)
            text += line("Most probable", kwh(*result.corrected_wh) + " kWh, if the wiring is the first one");
        for (std::size_t k = 0; k < result.known_wh.size(); ++k)
            text += line(fmt::format("Element {}", k + 1),
                         result.element_known[k] ? kwh(result.known_wh[k]) + " kWh" : "not known");
        text += line("Refused", result.refusal->why + ".");
        for (auto const& help : result.refusal->what_would_help) text += line("  would help", help);
    } else {
        text += line("True", fmt::format("{} kWh, 5 to 95 %: {} to {}", kwh(result.true_wh->mean),
                                         kwh(result.true_wh->p05), kwh(result.true_wh->p95)));
        if (result.factor)
            text += line("Factor", fmt::format("{}, 5 to 95 %: {} to {}", quantity::fixed(*result.factor, 4),
                                               quantity::fixed(*result.factor_p05, 4),
                                               quantity::fixed(*result.factor_p95, 4)));
        text += line("Law", std::string{name_of(result.law)});
    }
    text += line("Plain number", result.plain ? quantity::shortest(std::round(*result.plain * 1e6) / 1e6) +
                                                    " (the trade's, for a balanced load)"
                                              : "none: it depends on the load's angle, or nothing registers");
    return text;
}
}  // namespace

std::string words_of(RestatedFile const& r) {
    auto text = head_of(r) + total_words(r) + limit_words(r);
    for (auto const& note : r.result.notes) text += line("Mind", note + ".");
    if (!r.file.unused.empty())
        text += line("Mind", "columns not used: " + quantity::joined(r.file.unused, ", ") + ".");
    text +=
        "This is arithmetic on readings. What may be billed, and how far back, is for the rules of the "
        "place; energy that is\n"
        "missing because a current loop is open or a neutral is broken is a danger first, for qualified "
        "people.\n";
    return text;
}

namespace {
// Nine significant digits: more than any register has, and the same on every machine.
ordered_json number(double value) {
    if (!std::isfinite(value)) return nullptr;
    if (value == 0.0) return 0.0;
    double const scale = std::pow(10.0, 8.0 - std::floor(std::log10(std::abs(value))));
    return std::isfinite(scale) ? std::round(value * scale) / scale : value;
}
ordered_json number(std::optional<double> const& value) {
    return value ? number(*value) : ordered_json(nullptr);
}
ordered_json in_kwh(std::optional<double> const& wh) {
    return wh ? number(*wh / wh_a_kwh) : ordered_json(nullptr);
}

ordered_json of(correction::PeriodSum const& sum) {
    return {{"intervals", sum.rows},
            {"registered_kwh", in_kwh(sum.registered_wh)},
            {"corrected_kwh", in_kwh(sum.corrected_wh)}};
}

ordered_json wirings_json(std::vector<correction::Hypothesis> const& hypotheses) {
    auto wirings = ordered_json::array();
    for (auto const& one : hypotheses) {
        auto const words = words_of_wiring(one.wiring);
        wirings.push_back(ordered_json{
            {"probability", number(one.probability)},
            {"voltage", words.voltage},
            {"neutral", words.neutral.empty() ? ordered_json(nullptr) : ordered_json(words.neutral)},
            {"current", words.current},
            {"ratio", one.wiring.ratio}});
    }
    return wirings;
}

void add_totals(ordered_json& out, RestatedFile const& r) {
    auto const& result = r.result;
    bool const told = !result.refusal && result.true_wh;
    out["law"] = std::string{name_of(result.law)};
    out["registered_kwh"] = in_kwh(result.registered_wh);
    out["corrected_kwh"] = in_kwh(result.corrected_wh);
    out["true_kwh"] =
        !told ? ordered_json(nullptr)
              : ordered_json{{"mean", in_kwh(result.true_wh->mean)}, {"sd", in_kwh(result.true_wh->sd)},
                             {"p05", in_kwh(result.true_wh->p05)},   {"p95", in_kwh(result.true_wh->p95)},
                             {"draws", result.true_wh->draws},       {"seed", r.question.seed}};
    out["factor"] = !result.factor ? ordered_json(nullptr)
                                   : ordered_json{{"mean", number(result.factor)},
                                                  {"p05", number(result.factor_p05)},
                                                  {"p95", number(result.factor_p95)}};
    out["plain_rule"] = number(result.plain);
    out["undetermined_intervals"] = result.undetermined_rows;
    out["undetermined_registered_kwh"] = in_kwh(result.undetermined_registered_wh);
    out["known_kwh"] = nullptr;
    if (result.refusal && !result.known_wh.empty()) {
        out["known_kwh"] = ordered_json::array();
        for (std::size_t k = 0; k < result.known_wh.size(); ++k)
            out["known_kwh"].push_back(result.element_known[k] ? in_kwh(result.known_wh[k])
                                                               : ordered_json(nullptr));
    }
    out["alike_probability"] = number(result.alike_probability);
    out["lost_probability"] = number(result.lost_probability);
    out["left_out_probability"] = number(r.question.left_out_probability);
}
}  // namespace

std::string json_line_of(RestatedFile const& r) {
    ordered_json out{{"file", r.options.data_file},
                     {"intervals", r.file.data.rows()},
                     {"from", r.file.times.front()},
                     {"to", r.file.times.back()},
                     {"interval_s", number(r.file.interval_s)},
                     {"not_measured", r.file.not_measured()}};
    out["stop"] = stops_of(r.question);
    out["gaps"] = ordered_json::array();
    for (auto const& gap : r.file.gaps)
        out["gaps"].push_back(
            ordered_json{{"after", gap.after}, {"before", gap.before}, {"missing_s", number(gap.missing_s)}});
    out["service"] = r.options.service;
    out["register"] = std::string{name_of(r.result.kind)};
    out["wirings"] = wirings_json(r.question.hypotheses);
    add_totals(out, r);
    out["limit"] = nullptr;
    if (r.result.inside)
        out["limit"] =
            ordered_json{{"days", number(r.question.limit->days)},
                         {"until", r.options.limit_until.empty() ? ordered_json(nullptr)
                                                                 : ordered_json(r.options.limit_until)},
                         {"inside", of(*r.result.inside)},
                         {"outside", of(*r.result.outside)}};
    out["refused"] = nullptr;
    if (r.result.refusal)
        out["refused"] = ordered_json{{"why", r.result.refusal->why},
                                      {"what_would_help", r.result.refusal->what_would_help}};
    out["notes"] = r.result.notes;
    return out.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

std::string corrected_csv(RestatedFile const& r) {
    auto const& file = r.file;
    auto const& data = file.data;
    bool const elements = !data.totals;
    std::vector<std::string> names;
    if (elements)
        for (std::size_t k = 0; k < data.columns; ++k)
            for (bool const vars : {false, true}) names.push_back(file.name_of(vars, k) + "_true");
    for (bool const vars : {false, true}) names.push_back(file.name_of(vars, std::nullopt) + "_true");
    if (r.question.limit) names.emplace_back("outside_limit");
    double const limit_s =
        r.question.limit ? r.question.limit->until_s - r.question.limit->days * 86400.0 : 0.0;
    std::vector<std::string> more;
    for (auto const& row : file.rows) {
        std::vector<std::string> cells;
        double const unit =
            row && file.powers ? file.watts_a_unit * data.duration_s[*row] / 3600.0 : wh_a_kwh;
        auto const cell = [&](std::optional<double> wh) {
            cells.push_back(wh ? quantity::fixed(*wh / unit, file.powers && file.watts_a_unit <= 1.0 ? 2 : 5)
                               : "");
        };
        correction::CorrectedRow const none;
        auto const& corrected = row && *row < r.result.series.size() ? r.result.series[*row] : none;
        if (elements)
            for (std::size_t k = 0; k < data.columns; ++k) {
                auto const e = k < corrected.of_element.size() ? corrected.of_element[k] : std::nullopt;
                cell(e ? std::optional{e->real()} : std::nullopt);
                cell(e && data.vars_recorded ? std::optional{e->imag()} : std::nullopt);
            }
        cell(corrected.wh);
        cell(corrected.varh);
        if (r.question.limit) cells.emplace_back(!row ? "" : data.start_s[*row] < limit_s ? "1" : "0");
        std::string text;
        for (std::size_t k = 0; k < cells.size(); ++k) text += (k == 0 ? "" : ",") + cells[k];
        more.push_back(std::move(text));
    }
    return with_columns(file, quantity::joined(names, ","), more);
}

}  // namespace phasewright::commands
