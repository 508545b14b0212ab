#include <charconv>

#include "app/commands/evidence_tests.hpp"
#include "app/commands/plan_entries.hpp"
#include "core/evidence/before_power.hpp"
#include "core/evidence/ratio.hpp"
#include "core/evidence/ring_out.hpp"

namespace phasewright::commands {

namespace {
using evidence::TestKind;
using quantity::Fault;
using tables::Table;
using Items = std::vector<AnswerItem>;

std::optional<double> number_of(std::string_view text) {
    double value = 0.0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

std::vector<std::string> cells(std::string_view text, char between) {
    std::vector<std::string> parts;
    while (true) {
        auto const end = std::min(text.find(between), text.size());
        auto part = text.substr(0, end);
        while (part.starts_with(' ')) part.remove_prefix(1);
        while (part.ends_with(' ')) part.remove_suffix(1);
        parts.emplace_back(part);
        if (end == text.size()) return parts;
        text.remove_prefix(end + 1);
    }
}

AnswerItem item_of_tested(TestKind test, evidence::Tested tested, std::string name) {
    return {.test = test,
            .name = std::move(name),
            .outcome = tested.outcome,
            .reason = std::move(tested.reason),
            .stop = tested.stop,
            .judgement = std::move(tested.judgement)};
}

evidence::RingOutTest read_ring_out(Table const& table) {
    table.only({"near", "far", "rung", "continuity_ohm", "open_ohm"});
    evidence::RingOutTest test{.near = table.texts("near"), .far = table.texts("far")};
    test.continuity_ohm = table.number("continuity_ohm", positive).value_or(test.continuity_ohm);
    test.open_ohm = table.number("open_ohm", positive).value_or(test.open_ohm);
    if (test.open_ohm < test.continuity_ohm)
        table.refuse("open_ohm", "what counts as open lies below what counts as a wire",
                     "above continuity_ohm");
    for (auto const& line : table.texts("rung")) {
        auto const parts = cells(line, '|');
        auto const ohm = parts.size() == 3 ? number_of(parts[2]) : std::nullopt;
        if (parts.size() != 3 || (!ohm && parts[2] != "open") || (ohm && *ohm < 0.0)) {
            table.refuse("rung", "an entry is no pair of marks with a resistance: \"" + line + "\"",
                         R"("HERE | THERE | OHM" or "HERE | THERE | open")");
            return test;
        }
        test.rung.push_back({parts[0], parts[1], ohm});
    }
    return test;
}

std::expected<AnswerItem, Fault> ring_out_item(Table const& table, EvidenceFile const& file) {
    auto const test = read_ring_out(table);
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto const result = evidence::rung_out(test);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    AnswerItem item{.test = TestKind::ring_out, .outcome = result->outcome, .reason = result->reason};
    for (auto const& ends : result->leads)
        item.notes.push_back(
            ends.near + " here is " +
            (ends.far ? *ends.far + " there" + (ends.rung ? "" : ", as it follows from the others")
                      : std::string{"not settled"}));
    for (auto const& finding : result->findings) item.notes.push_back(finding);
    if (result->next)
        item.notes.push_back("ring next: " + result->next->near + " here with " + result->next->far +
                             " there");
    return item;
}

std::expected<AnswerItem, Fault> loop_item(Table const& table, EvidenceFile const& file) {
    table.only(with_accuracy(
        {"limit", "name", "ohm", "open", "test_leads_ohm", "expected_ohm", "rated_a", "meter_va"}));
    evidence::LoopTest test;
    evidence::ExpectedLoop expected;
    if (file.point)
        expected =
            evidence::expected_loop(file.point->point, file.point->input ? &*file.point->input : nullptr);
    test.ohm = table.number("ohm", not_negative);
    bool const open = table.flag("open").value_or(false);
    if (test.ohm.has_value() == open)
        table.refuse("ohm", "a loop is open or has a resistance", "ohm, or open = true");
    if (!open) test.accuracy = read_accuracy(table);
    test.leads_of_meter_ohm = table.number("test_leads_ohm", not_negative).value_or(0.0);
    test.expected_ohm = table.has("expected_ohm") ? table.number("expected_ohm", positive) : expected.ohm;
    test.rated_a = table.number("rated_a", positive).value_or(expected.rated_a);
    test.meter_va = table.has("meter_va") ? table.number("meter_va", not_negative) : expected.meter_va;
    test.range = expected.range;
    auto const name = table.text("name").value_or("");
    auto const limit = limit_of(table, file.limits, "loop.resistance");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto result = evidence::loop_tested(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = item_of_tested(TestKind::loop_resistance, std::move(result->tested), name);
    if (result->ohm) item.figures.push_back({"loop", *result->ohm, "ohm"});
    if (test.expected_ohm) item.figures.push_back({"expected", *test.expected_ohm, "ohm"});
    if (!result->burden.empty()) item.notes.push_back("burden: " + result->burden);
    for (auto const& assumed : expected.assumed) item.notes.push_back("assumed: " + assumed);
    return item;
}

std::expected<AnswerItem, Fault> insulation_item(Table const& table, EvidenceFile const& file) {
    table.only(with_accuracy({"limit", "name", "mohm", "beyond_mohm", "test_v", "needed_v"}));
    evidence::InsulationTest test{.mohm = table.number("mohm", not_negative),
                                  .most_mohm = table.number("beyond_mohm", positive).value_or(0.0),
                                  .test_v = table.needed_number("test_v", positive)};
    if (table.has("mohm") == table.has("beyond_mohm"))
        table.refuse("mohm", "a reading is a value, or beyond what the instrument shows",
                     "mohm or beyond_mohm");
    if (test.mohm) test.accuracy = read_accuracy(table);
    auto const limit = limit_of(table, file.limits, "insulation.500-v");
    double const usual = limit.id == "insulation.extra-low"     ? 250.0
                         : limit.id == "insulation.above-500-v" ? 1000.0
                                                                : 500.0;
    test.needed_v = table.number("needed_v", positive).value_or(usual);
    auto const name = table.text("name").value_or("");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto result = evidence::insulation_tested(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    return item_of_tested(TestKind::insulation, std::move(*result), name);
}

std::expected<AnswerItem, Fault> flick_item(Table const& table, EvidenceFile const&) {
    table.only({"name", "closing", "opening"});
    auto const kick = [&](std::string_view field) {
        if (!table.has(field)) table.refuse(field, "the field is missing", "up, down, none");
        return read_word<evidence::Kick>(table, field).value_or(evidence::Kick::none);
    };
    evidence::FlickTest const test{kick("closing"), kick("opening")};
    auto const name = table.text("name").value_or("");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    return item_of_tested(TestKind::battery_flick, evidence::flicked(test), name);
}

std::expected<AnswerItem, Fault> earth_item(Table const& table, EvidenceFile const& file) {
    table.only(with_accuracy({"name", "connected_ohm", "lifted_ohm", "meter_connected"}));
    evidence::EarthTest test{.connected_ohm = table.number("connected_ohm", not_negative),
                             .lifted_ohm = table.number("lifted_ohm", not_negative),
                             .meter_connected = table.flag("meter_connected").value_or(true)};
    if (file.point) test.meter_earths = file.point->meter_earths;
    if (table.has("of_reading_percent") || table.has("digits")) test.accuracy = read_accuracy(table);
    auto const name = table.text("name").value_or("");
    if (auto const fault = table.fault()) return std::unexpected(*fault);
    auto result = evidence::earth_tested(
        test, {*file.limits.find("earth.connected"), *file.limits.find("earth.lifted")});
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    return item_of_tested(TestKind::one_earth, std::move(*result), name);
}

std::optional<quantity::TransformerRatio> ratio_in(std::string_view text) {
    auto const parts = cells(text, '/');
    if (parts.size() != 2) return std::nullopt;
    auto const primary = number_of(parts[0]);
    auto const secondary = number_of(parts[1]);
    if (!primary || !secondary || *primary <= 0.0 || *secondary <= 0.0) return std::nullopt;
    return quantity::TransformerRatio{*primary, *secondary};
}

std::string words_of(quantity::TransformerRatio const& ratio) {
    return quantity::shortest(ratio.primary) + "/" + quantity::shortest(ratio.secondary);
}

evidence::RatioTest read_ratio(Table const& root) {
    root.only({"limit", "time", "by_injection", "plate", "others", "turns", "primary_a", "secondary_readings",
               "secondary", "primary"});
    evidence::RatioTest test{.time = root.needed_text("time"),
                             .by_injection = root.flag("by_injection").value_or(false)};
    auto const plate = root.numbers("plate", 2, positive);
    if (plate.size() == 2)
        test.plate = {plate[0], plate[1]};
    else
        root.refuse("plate", "the ratio of the plate is needed", "[200, 5]");
    if (root.has("others"))
        for (auto const& text : root.texts("others")) {
            auto const ratio = ratio_in(text);
            if (!ratio) root.refuse("others", "this is no ratio: \"" + text + "\"", "\"400/5\"");
            test.others.push_back(ratio.value_or(test.plate));
        }
    test.turns = root.number("turns", positive).value_or(1.0);
    for (auto const& [field, into] :
         {std::pair{"primary", &test.primary}, std::pair{"secondary", &test.secondary}}) {
        auto const table = root.table(field);
        if (table)
            *into = read_instrument(*table);
        else
            root.refuse(field, "the instrument is missing", "a table of its name, accuracy and calibration");
    }
    auto const primary = root.any_numbers("primary_a", positive);
    auto const secondary = root.any_numbers("secondary_readings", not_negative);
    if (primary.empty() || primary.size() != secondary.size())
        root.refuse("primary_a", "both sides are not read equally often",
                    "primary_a and secondary_readings of one length, moment by moment");
    for (std::size_t k = 0; k < std::min(primary.size(), secondary.size()); ++k)
        test.pairs.push_back({primary[k], secondary[k]});
    return test;
}
}  // namespace

std::expected<EvidenceAnswer, Fault> before_power_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    root->only({"ring_out", "loop", "insulation", "flick", "earth"});
    EvidenceAnswer answer;
    if (auto const table = root->table("ring_out")) {
        auto item = ring_out_item(*table, file);
        if (!item) return std::unexpected(item.error());
        answer.items.push_back(std::move(*item));
    }
    constexpr std::array<
        std::pair<char const*, std::expected<AnswerItem, Fault> (*)(Table const&, EvidenceFile const&)>, 4>
        readers{{{"loop", loop_item},
                 {"insulation", insulation_item},
                 {"flick", flick_item},
                 {"earth", earth_item}}};
    for (auto const& [field, read] : readers)
        for (auto const& table : root->tables(field)) {
            auto item = read(table, file);
            if (!item) return std::unexpected(item.error());
            answer.items.push_back(std::move(*item));
        }
    if (answer.items.empty())
        root->refuse("loop", "there is no test",
                     "[ring_out], [[loop]], [[insulation]], [[flick]], [[earth]]");
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    return answer;
}

std::expected<EvidenceAnswer, Fault> ratio_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    auto const test = read_ratio(*root);
    auto const limit = limit_of(*root, file.limits, "ratio.plate");
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    auto result = evidence::ratio_tested(test, limit);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    auto item = item_of(test.by_injection ? TestKind::ratio_by_injection : TestKind::ratio_by_clamps,
                        result->judgement);
    item.figures = {{"primary over secondary", result->factor, ""},
                    {"expanded uncertainty", result->uncertainty.expanded, "%"}};
    for (auto const& candidate : result->candidates)
        item.notes.push_back(words_of(candidate.ratio) + ": " +
                             quantity::with_sign(candidate.deviation_percent, 2) + " %, " +
                             (candidate.possible ? "possible" : "not possible"));
    if (result->share_of_conductors)
        item.notes.push_back(
            "what arrives is " + quantity::fixed(*result->share_of_conductors, 2) +
            " of what the plate gives: look whether all cables of the phase go through the window");
    return EvidenceAnswer{{std::move(item)}, {}};
}

}  // namespace phasewright::commands
