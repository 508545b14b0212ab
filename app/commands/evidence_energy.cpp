#include <charconv>

#include "app/commands/evidence_tests.hpp"
#include "app/commands/plan_entries.hpp"
#include "app/commands/whole_file.hpp"
#include "core/evidence/comparison.hpp"
#include "core/evidence/no_load.hpp"
#include "core/evidence/registers.hpp"
#include "core/evidence/timing.hpp"

namespace phasewright::commands {

namespace {
using evidence::TestKind;
using quantity::Fault;
using tables::Table;

evidence::TimingTest read_timing(Table const& root) {
    root.only({"limit", "time", "kh_wh", "pulses_per_kwh", "factor", "ct", "vt", "pulses", "seconds",
               "timing", "reaction_s", "clock_last_place_s", "clock_ppm", "true_w", "true_u_percent",
               "class"});
    evidence::TimingTest test{.time = root.text("time").value_or("")};
    if (root.has("kh_wh") == root.has("pulses_per_kwh"))
        root.refuse("kh_wh", "the energy of a pulse is needed, once", "kh_wh or pulses_per_kwh");
    if (auto const constant = root.number("pulses_per_kwh", positive))
        test.kh_wh = evidence::kh_of_constant(*constant);
    if (auto const kh = root.number("kh_wh", positive)) test.kh_wh = *kh;
    if (root.has("factor") && (root.has("ct") || root.has("vt")))
        root.refuse("factor", "the factor is given twice", "factor, or ct and vt");
    test.factor = root.number("factor", positive).value_or(1.0);
    for (std::string_view const field : {"ct", "vt"})
        if (auto const ratio = root.numbers(field, 2, positive); ratio.size() == 2)
            test.factor *= ratio[0] / ratio[1];
    test.pulses = root.needed_number("pulses", positive);
    test.seconds = root.needed_number("seconds", positive);
    test.timing = read_word<evidence::Timing>(root, "timing").value_or(evidence::Timing::fixed_window);
    test.reaction_s = root.number("reaction_s", not_negative).value_or(test.reaction_s);
    test.clock_last_place_s = root.number("clock_last_place_s", not_negative).value_or(0.0);
    test.clock_ppm = root.number("clock_ppm", not_negative).value_or(test.clock_ppm);
    test.true_w = root.number("true_w", positive);
    test.true_u_percent = root.number("true_u_percent", not_negative).value_or(0.0);
    test.class_index = root.number("class", positive).value_or(test.class_index);
    return test;
}

evidence::ComparisonTest read_comparison(Table const& table, evidence::Instrument const& instrument) {
    table.only({"condition", "time", "power_factor", "meter_last_place", "meter", "reference"});
    evidence::ComparisonTest test{.time = table.needed_text("time"), .instrument = instrument};
    if (!table.has("condition")) table.refuse("condition", "the field is missing", "as-found, as-left");
    test.condition =
        read_word<evidence::Condition>(table, "condition").value_or(evidence::Condition::as_found);
    if (instrument.accuracy.phase_min && !table.has("power_factor"))
        table.refuse("power_factor", "an instrument with a phase error needs the power factor",
                     "above 0, at most 1");
    test.power_factor = table.number("power_factor", {0.0, 1.0, true}).value_or(1.0);
    test.meter_last_place = table.number("meter_last_place", not_negative).value_or(0.0);
    auto const meter = table.any_numbers("meter");
    auto const reference = table.any_numbers("reference");
    if (meter.empty() || meter.size() != reference.size())
        table.refuse("meter", "meter and reference are not read equally often",
                     "two lists of one length, moment by moment");
    for (std::size_t k = 0; k < std::min(meter.size(), reference.size()); ++k)
        test.pairs.push_back({meter[k], reference[k], ""});
    return test;
}

// "seconds,watts" a line, without a header or with one.
std::expected<std::vector<evidence::PowerReading>, Fault> read_powers(std::filesystem::path const& file) {
    auto const text = text_of(file, "the powers");
    if (!text) return std::unexpected(text.error());
    std::vector<evidence::PowerReading> powers;
    std::size_t at = 0;
    for (std::size_t line = 1; at < text->size(); ++line) {
        auto const end = std::min(text->find('\n', at), text->size());
        auto row = std::string_view{*text}.substr(at, end - at);
        at = end + 1;
        if (row.ends_with('\r')) row.remove_suffix(1);
        if (row.empty() || (line == 1 && row.find_first_of("sS") != std::string_view::npos)) continue;
        evidence::PowerReading reading;
        auto const first = std::from_chars(row.data(), row.data() + row.size(), reading.seconds);
        bool const comma =
            first.ec == std::errc{} && first.ptr != row.data() + row.size() && *first.ptr == ',';
        auto const second =
            comma ? std::from_chars(first.ptr + 1, row.data() + row.size(), reading.watts) : first;
        if (!comma || second.ec != std::errc{} || second.ptr != row.data() + row.size())
            return std::unexpected(
                Fault{"a line is no reading of power", file.string() + ":" + std::to_string(line),
                      std::string{row.substr(0, 60)}, "seconds,watts", "a full stop as decimal sign"});
        powers.push_back(reading);
    }
    return powers;
}

evidence::MeterConstants read_constants(Table const& table) {
    return {.pulses_per_kwh = table.needed_number("pulses_per_kwh", positive),
            .elements = static_cast<int>(table.whole("elements", {1.0, 3.0}).value_or(3)),
            .volts = table.needed_number("volts", positive),
            .starting_a = table.needed_number("starting_a", positive)};
}

std::expected<AnswerItem, Fault> advance_item(Table const& table, EvidenceFile const& file) {
    table.only({"limit", "before_kwh", "after_kwh", "before_s", "after_s", "last_place_kwh", "wraps_at_kwh",
                "power_u_percent", "clock_s", "longest_gap_s", "powers"});
    evidence::AdvanceTest test;
    test.before = {table.needed_number("before_s"), 1000.0 * table.needed_number("before_kwh")};
    test.after = {table.needed_number("after_s"), 1000.0 * table.needed_number("after_kwh")};
    test.last_place_wh = 1000.0 * table.needed_number("last_place_kwh", positive);
    if (auto const wrap = table.number("wraps_at_kwh", positive)) test.modulus_wh = 1000.0 * *wrap;
    test.power_u_percent = table.needed_number("power_u_percent", not_negative);
    test.clock_s = table.number("clock_s", not_negative).value_or(0.0);
    test.longest_gap_s = table.number("longest_gap_s", positive).value_or(test.longest_gap_s);
    auto const limit = limit_of(table, file.limits, "advance.against-power");
    auto const name = table.needed_text("powers");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto powers = read_powers(file.file.parent_path() / name);
    if (!powers) return std::unexpected(powers.error());
    test.powers = std::move(*powers);
    auto result = evidence::advanced(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = item_of(TestKind::register_advance, result->judgement);
    item.figures = {{"register advance", result->advance_wh / 1000.0, "kWh"},
                    {"integrated power", result->integrated_wh / 1000.0, "kWh"},
                    {"wraps", static_cast<double>(result->wraps), ""},
                    {"time for a tenth of the limit, at this load", result->seconds_needed, "s"}};
    if (!result->hint.empty()) item.notes.push_back(result->hint);
    return item;
}

std::expected<AnswerItem, Fault> pulse_item(Table const& table, EvidenceFile const& file) {
    table.only({"limit", "pulses", "advance_kwh", "last_place_kwh", "declared_wh"});
    evidence::PulseTest const test{.pulses = table.needed_number("pulses", positive),
                                   .advance_wh = 1000.0 * table.needed_number("advance_kwh", positive),
                                   .last_place_wh = 1000.0 * table.needed_number("last_place_kwh", positive),
                                   .declared_wh = table.needed_number("declared_wh", positive)};
    auto const limit = limit_of(table, file.limits, "pulse.weight");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto result = evidence::pulse_weighed(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = item_of(TestKind::pulse_weight, result->judgement);
    item.figures = {{"energy of a pulse", result->wh_per_pulse, "Wh"}};
    return item;
}

std::expected<AnswerItem, Fault> no_load_item(Table const& table, EvidenceFile const& file) {
    table.only({"limit", "pulses_per_kwh", "elements", "volts", "starting_a", "minutes", "pulses"});
    evidence::NoLoadTest const test{.meter = read_constants(table),
                                    .minutes = table.needed_number("minutes", positive),
                                    .pulses = static_cast<int>(table.needed_number("pulses", {0.0, 1e9}))};
    auto const limit = limit_of(table, file.limits, "no-load.pulses");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto result = evidence::crept(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = item_of(TestKind::no_load, *result);
    item.figures = {{"time that this meter needs", evidence::no_load_minutes(test.meter), "min"}};
    return item;
}

std::expected<AnswerItem, Fault> starting_item(Table const& table, EvidenceFile const& file) {
    table.only(
        {"limit", "pulses_per_kwh", "elements", "volts", "starting_a", "applied_a", "seconds", "pulses"});
    evidence::StartingTest const test{.meter = read_constants(table),
                                      .applied_a = table.needed_number("applied_a", positive),
                                      .seconds = table.needed_number("seconds", positive),
                                      .pulses = static_cast<int>(table.needed_number("pulses", {0.0, 1e9}))};
    auto const limit = limit_of(table, file.limits, "starting.pulse-time");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto result = evidence::started(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = item_of(TestKind::starting_current, *result);
    item.figures = {{"pulse period at the starting current", evidence::starting_period_s(test.meter), "s"}};
    return item;
}
}  // namespace

std::expected<EvidenceAnswer, Fault> timing_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    auto const test = read_timing(*root);
    auto const limit = limit_of(*root, file.limits, "registration.in-service");
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    auto const result = evidence::timed(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = result->judgement ? item_of(TestKind::timing, *result->judgement)
                                  : AnswerItem{.test = TestKind::timing};
    item.figures = {{"power by the pulses", result->watts, "W"},
                    {"its expanded uncertainty", result->watts_uncertainty.expanded, "%"}};
    if (result->registration_percent) {
        item.figures.push_back({"registration", *result->registration_percent, "%"});
        item.figures.push_back({"error", *result->error_percent, "%"});
        item.figures.push_back({"correction factor", *result->correction_factor, ""});
    }
    item.figures.push_back({"pulses for a tenth of the class", result->pulses_needed, ""});
    item.figures.push_back({"which take, at this load", result->seconds_needed, "s"});
    return EvidenceAnswer{{std::move(item)}, {}};
}

std::expected<EvidenceAnswer, Fault> comparison_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    root->only({"limit", "instrument", "comparison"});
    auto const table = root->table("instrument");
    if (!table) root->refuse("instrument", "the table is missing", "a table [instrument]");
    auto const instrument = table ? read_instrument(*table) : evidence::Instrument{};
    auto const limit = limit_of(*root, file.limits, "registration.in-service");
    std::vector<evidence::ComparisonTest> tests;
    for (auto const& one : root->tables("comparison")) tests.push_back(read_comparison(one, instrument));
    if (tests.empty()) root->refuse("comparison", "there is no comparison", "a table [[comparison]]");
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    EvidenceAnswer answer;
    std::vector<evidence::Comparison> all;
    for (auto const& test : tests) {
        auto result = evidence::compared(test, limit);
        if (!result) return std::unexpected(in_file(result.error(), file.file));
        auto item =
            item_of(TestKind::comparison, result->judgement, std::string{plan::name_of(test.condition)});
        item.figures = {{"error", result->error_percent, "%"},
                        {"registration", result->registration_percent, "%"},
                        {"expanded uncertainty", result->uncertainty.expanded, "%"},
                        {"coverage factor", result->uncertainty.coverage, ""}};
        answer.items.push_back(std::move(item));
        all.push_back(std::move(*result));
    }
    auto const both = evidence::kept_apart(std::move(all));
    if (!both) return std::unexpected(in_file(both.error(), file.file));
    if (both->change_percent)
        answer.items.back().figures.push_back({"change from as-found", *both->change_percent, "%"});
    return answer;
}

std::expected<EvidenceAnswer, Fault> registers_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    root->only({"advance", "pulses", "no_load", "starting"});
    EvidenceAnswer answer;
    constexpr std::array<
        std::pair<char const*, std::expected<AnswerItem, Fault> (*)(Table const&, EvidenceFile const&)>, 4>
        readers{{{"advance", advance_item},
                 {"pulses", pulse_item},
                 {"no_load", no_load_item},
                 {"starting", starting_item}}};
    for (auto const& [field, read] : readers) {
        auto const table = root->table(field);
        if (!table) continue;
        auto item = read(*table, file);
        if (!item) return std::unexpected(item.error());
        answer.items.push_back(std::move(*item));
    }
    if (answer.items.empty())
        root->refuse("advance", "there is no test", "[advance], [pulses], [no_load], [starting]");
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    return answer;
}

}  // namespace phasewright::commands
