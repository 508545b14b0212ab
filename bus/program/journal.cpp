#include "bus/program/journal.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "core/plan/service.hpp"

namespace phasewright::program {

namespace {

using nlohmann::ordered_json;
using profile::SettingName;
using quantity::Fault;

constexpr std::array purposes{Purpose::program, Purpose::finish, Purpose::undo};

// Services and parities by the plan's word: an enum's place may change, its word does not.
ordered_json json_of(SettingName name, std::optional<double> value) {
    if (!value) return nullptr;
    if (name == SettingName::service || name == SettingName::parity) return profile::words_of(name, *value);
    return *value;
}

std::optional<double> value_in(SettingName name, nlohmann::json const& json) {
    if (json.is_number()) return json.get<double>();
    if (!json.is_string()) return std::nullopt;
    auto const word = json.get<std::string>();
    if (name == SettingName::service) {
        auto const service = plan::service_of(word);
        return service ? std::optional(static_cast<double>(*service)) : std::nullopt;
    }
    auto const parity = plan::parity_of(word);
    return name == SettingName::parity && parity ? std::optional(static_cast<double>(*parity)) : std::nullopt;
}

ordered_json json_of(std::vector<profile::SettingRun> const& runs) {
    auto list = ordered_json::array();
    for (auto const& run : runs) list.push_back(ordered_json::array({run.address, run.values}));
    return list;
}

std::vector<profile::SettingRun> registers_in(nlohmann::json const& json) {
    std::vector<profile::SettingRun> runs;
    for (auto const& one : json)
        runs.push_back({one.at(0).get<std::uint16_t>(), one.at(1).get<std::vector<std::uint16_t>>()});
    return runs;
}

ordered_json head(std::string_view entry, std::string const& run, std::string const& time) {
    return {{"journal", 1}, {"entry", entry}, {"run", run}, {"time", time}};
}

std::string text_of(ordered_json const& json) {
    return json.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

void put(ordered_json& json, std::optional<Energies> const& energies) {
    if (!energies) return;
    auto counts = ordered_json::object();
    for (auto const& [name, value] : *energies) counts[name] = value;
    json["energies"] = std::move(counts);
}

Step step_in(nlohmann::json const& json) {
    auto const name = profile::setting_name_of(json.at("setting").get<std::string>());
    if (!name) throw std::invalid_argument("an unknown setting");
    Step step{.setting = *name};
    step.from = value_in(*name, json.at("from"));
    step.to = value_in(*name, json.at("to"));
    step.from_registers = registers_in(json.at("from_registers"));
    step.to_registers = registers_in(json.at("to_registers"));
    return step;
}

Begin begin_in(nlohmann::json const& json) {
    Begin begin;
    auto const word = json.at("purpose").get<std::string>();
    auto const purpose = std::ranges::find_if(purposes, [&](Purpose one) { return name_of(one) == word; });
    if (purpose == purposes.end()) throw std::invalid_argument("an unknown purpose");
    begin.purpose = *purpose;
    begin.of = json.at("of").get<std::string>();
    begin.point = json.at("point").get<std::string>();
    begin.place = json.at("place").get<std::string>();
    begin.profile = json.at("profile").get<std::string>();
    begin.meter = json.at("meter").get<std::string>();
    begin.serial = json.at("serial").get<std::string>();
    begin.unit = json.at("unit").get<int>();
    if (json.at("format").is_string()) {
        begin.format = format_of(json.at("format").get<std::string>());
        if (!begin.format) throw std::invalid_argument("an unknown format");
    }
    for (auto const& [name, value] : json.at("found").items()) {
        auto const setting = profile::setting_name_of(name);
        auto const number = setting ? value_in(*setting, value) : std::nullopt;
        if (number) begin.found[*setting] = *number;
    }
    for (auto const& step : json.at("steps")) begin.steps.push_back(step_in(step));
    return begin;
}

template <class Runs>
auto* run_called(Runs& runs, std::string const& name) {
    auto const found = std::ranges::find(runs, name, &Run::name);
    return found == runs.end() ? nullptr : &*found;
}

void take(nlohmann::json const& json, std::vector<Run>& runs) {
    if (json.at("journal").get<int>() != 1) throw std::invalid_argument("another version of the format");
    auto const entry = json.at("entry").get<std::string>();
    auto const name = json.at("run").get<std::string>();
    Run* const run = run_called(runs, name);
    if (entry == "begin") {
        if (run != nullptr) throw std::invalid_argument("a run that begins twice");
        runs.push_back({.name = name, .time = json.at("time").get<std::string>(), .begin = begin_in(json)});
        runs.back().states.assign(runs.back().begin.steps.size(), StepState::not_begun);
        return;
    }
    if (run == nullptr) throw std::invalid_argument("a run that did not begin");
    if (entry == "end") {
        run->ended = true;
        if (json.at("state") != "whole") return;
        // Who completes a cut-off undo has undone what that was to undo.
        auto of = run->begin.of;
        for (std::size_t links = 0; !of.empty() && links < runs.size(); ++links) {
            Run* const settled = run_called(runs, of);
            if (settled == nullptr) break;
            settled->settled_by = name;
            of = settled->begin.purpose == Purpose::undo ? settled->begin.of : std::string();
        }
        return;
    }
    auto const at = json.at("step").get<std::size_t>();
    if (at >= run->states.size()) throw std::invalid_argument("a step that was not meant");
    if (entry == "writing")
        run->states[at] = StepState::in_doubt;
    else if (entry == "written")
        run->states[at] = StepState::done;
    else if (entry == "not_written")
        run->states[at] = json.at("touched").get<bool>() ? StepState::in_doubt : StepState::given_up;
    else
        throw std::invalid_argument("an unknown entry");
}

bool wrote_anything(Run const& run) {
    return std::ranges::any_of(
        run.states, [](StepState state) { return state == StepState::done || state == StepState::in_doubt; });
}

// Taken back itself, or finished by a run that was.
bool is_undone(std::vector<Run> const& runs, Run const& run) {
    auto const* by = run.settled_by.empty() ? nullptr : run_called(runs, run.settled_by);
    for (std::size_t links = 0; by != nullptr && links < runs.size(); ++links) {
        if (by->begin.purpose == Purpose::undo) return true;
        by = by->settled_by.empty() ? nullptr : run_called(runs, by->settled_by);
    }
    return false;
}

}  // namespace

std::string_view name_of(Purpose purpose) {
    if (purpose == Purpose::program) return "program";
    return purpose == Purpose::finish ? "finish" : "undo";
}

std::string_view name_of(OldTotals totals) {
    switch (totals) {
        case OldTotals::kept: return "kept";
        case OldTotals::rescaled: return "rescaled";
        case OldTotals::cannot_tell: return "cannot-tell";
        case OldTotals::mixed: return "mixed";
    }
    return "cannot-tell";
}

std::optional<plan::SerialFormat> format_of(std::string_view words) {
    plan::SerialFormat format;
    auto const [rest, wrong] = std::from_chars(words.data(), words.data() + words.size(), format.bit_rate);
    if (wrong != std::errc{}) return std::nullopt;
    for (auto const parity : {plan::Parity::even, plan::Parity::odd, plan::Parity::none}) {
        for (int const stop_bits : {1, 2}) {
            format.parity = parity;
            format.stop_bits = stop_bits;
            if (plan::words_of(format) == words) return format;
        }
    }
    return std::nullopt;
}

std::string begin_line(std::string const& run, std::string const& time, Begin const& begin) {
    auto json = head("begin", run, time);
    json["purpose"] = name_of(begin.purpose);
    json["of"] = begin.of;
    json["point"] = begin.point;
    json["place"] = begin.place;
    json["unit"] = begin.unit;
    json["format"] = begin.format ? ordered_json(plan::words_of(*begin.format)) : ordered_json(nullptr);
    json["profile"] = begin.profile;
    json["meter"] = begin.meter;
    json["serial"] = begin.serial;
    auto found = ordered_json::object();
    for (auto const& [name, value] : begin.found)
        found[std::string(profile::name_of(name))] = json_of(name, value);
    json["found"] = std::move(found);
    if (begin.clock_uncertainty_s) json["clock_uncertainty_s"] = *begin.clock_uncertainty_s;
    auto steps = ordered_json::array();
    for (auto const& step : begin.steps) {
        steps.push_back({{"setting", profile::name_of(step.setting)},
                         {"from", json_of(step.setting, step.from)},
                         {"to", json_of(step.setting, step.to)},
                         {"from_registers", json_of(step.from_registers)},
                         {"to_registers", json_of(step.to_registers)}});
    }
    json["steps"] = std::move(steps);
    return text_of(json);
}

std::string writing_line(std::string const& run, std::string const& time, std::size_t step,
                         SettingName setting, std::optional<Energies> const& energies) {
    auto json = head("writing", run, time);
    json["step"] = step;
    json["setting"] = profile::name_of(setting);
    put(json, energies);
    return text_of(json);
}

std::string written_line(std::string const& run, std::string const& time, std::size_t step,
                         SettingName setting, std::optional<double> read_back,
                         std::optional<Energies> const& energies, std::optional<OldTotals> totals) {
    auto json = head("written", run, time);
    json["step"] = step;
    json["setting"] = profile::name_of(setting);
    json["read_back"] = json_of(setting, read_back);
    put(json, energies);
    if (totals) json["old_totals"] = name_of(*totals);
    return text_of(json);
}

std::string not_written_line(std::string const& run, std::string const& time, std::size_t step,
                             SettingName setting, std::string const& why, bool touched) {
    auto json = head("not_written", run, time);
    json["step"] = step;
    json["setting"] = profile::name_of(setting);
    json["why"] = why;
    json["touched"] = touched;
    return text_of(json);
}

std::string end_line(std::string const& run, std::string const& time, bool whole) {
    auto json = head("end", run, time);
    json["state"] = whole ? "whole" : "part";
    return text_of(json);
}

std::expected<std::vector<Run>, Fault> runs_of(std::string_view text, std::string const& where) {
    std::vector<Run> runs;
    for (std::size_t number = 1; !text.empty(); ++number) {
        auto const end = text.find('\n');
        if (end == std::string_view::npos) break;  // cut off while it was written
        auto const line = text.substr(0, end);
        text.remove_prefix(end + 1);
        if (line.empty()) continue;
        try {
            auto const json = nlohmann::json::parse(line, nullptr, false);
            // A torn line that a later start ended is no JSON; whatever it was to say, nothing was written
            // after it.
            if (json.is_discarded()) continue;
            take(json, runs);
        } catch (std::exception const& error) {
            return std::unexpected(Fault{.what = "a line of the settings journal cannot be understood",
                                         .where = fmt::format("{}:{}", where, number),
                                         .found = std::string(line.substr(0, 80)),
                                         .allowed = "what docs/reference/settings-journal.md lists",
                                         .remedy = error.what()});
        }
    }
    return runs;
}

Run const* open_run(std::vector<Run> const& runs, std::string_view point) {
    Run const* last = nullptr;
    for (auto const& run : runs)
        if (run.begin.point == point) last = &run;
    if (last == nullptr || !last->settled_by.empty()) return nullptr;
    bool const doubtful = std::ranges::find(last->states, StepState::in_doubt) != last->states.end();
    return !last->ended || doubtful ? last : nullptr;
}

Run const* run_to_undo(std::vector<Run> const& runs, std::string_view point) {
    if (auto const* const open = open_run(runs, point);
        open != nullptr && open->begin.purpose != Purpose::undo)
        return open;
    for (auto at = runs.rbegin(); at != runs.rend(); ++at) {
        if (at->begin.point != point || !wrote_anything(*at)) continue;
        if (at->begin.purpose != Purpose::undo && !is_undone(runs, *at)) return &*at;
    }
    return nullptr;
}

std::vector<Step> steps_to_finish(Run const& run) {
    std::vector<Step> steps;
    for (std::size_t at = 0; at < run.begin.steps.size(); ++at) {
        if (run.states[at] == StepState::done) continue;
        steps.push_back(run.begin.steps[at]);
        steps.back().again = run.states[at] == StepState::in_doubt;
    }
    return steps;
}

std::vector<Step> steps_to_undo(std::vector<Run> const& runs, Run const& run) {
    std::vector<Step> steps;
    auto const* at = &run;
    for (std::size_t links = 0; at != nullptr && links <= runs.size(); ++links) {
        for (std::size_t k = 0; k < at->begin.steps.size(); ++k) {
            auto const state = at->states[k];
            auto step = at->begin.steps[k];
            bool const known = std::ranges::find(steps, step.setting, &Step::setting) != steps.end();
            if (known || state == StepState::not_begun || state == StepState::given_up) continue;
            std::swap(step.from, step.to);
            std::swap(step.from_registers, step.to_registers);
            step.again = state == StepState::in_doubt;
            steps.push_back(std::move(step));
        }
        // What a finish found was half done: what was found before it stands in the run that it finished.
        at = at->begin.purpose == Purpose::finish ? run_called(runs, at->begin.of) : nullptr;
    }
    std::ranges::sort(steps, {}, &Step::setting);
    return steps;
}

}  // namespace phasewright::program
