#include "core/diagnosis/test_catalogue.hpp"

#include <algorithm>
#include <array>

#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
using Cautions = std::span<std::string_view const>;

// What any test costs beside its own minutes: asking somebody and writing it down; at live parts also the
// walk there, the permit and the equipment. They make one telling test better than two that each tell a
// little.
constexpr double asking_minutes = 2.0;
constexpr double setting_up_minutes = 3.0;
constexpr double live_factor = 1.5;    // permit, protective equipment, a second person
constexpr double outage_factor = 1.3;  // somebody must agree to it

constexpr std::string_view qualified = "qualified electrician";
constexpr std::string_view anyone = "anyone on site";

constexpr std::array<std::string_view, 3> two_pole{
    "permit, protective equipment and a second person as the site requires",
    "two-pole tester of the right measurement category, fused leads; live parts",
    "a low-impedance tester: stray volts on an open lead vanish under its load"};
constexpr std::array<std::string_view, 2> clamping{
    "clamp round insulated conductors only",
    "live parts are near: protective equipment as the site requires"};
constexpr std::array<std::string_view, 3> loop{
    "treat the loop as open until the clamp has shown current in it: touch nothing but the insulation of the "
    "lead",
    "an open current loop can carry thousands of volts",
    "if the clamp shows nothing, stop: take the load off or de-energise the conductor"};
constexpr std::array<std::string_view, 3> shorting{
    "only after a clamp has shown current in this loop",
    "close the link on the CT side and tighten it; never open a current loop while current flows in its "
    "conductor",
    "open the link again only while both leads at the meter are tight"};
constexpr std::array<std::string_view, 3> fuse{
    "fuses are opened only in holders made for it, after checking what else they feed (the meter's own "
    "supply)",
    "two-pole tester of the right measurement category; the other fuses stay live",
    "a reading of 0 V is no proof of absence of voltage"};
constexpr std::array<std::string_view, 2> switching{
    "only a load that its user allows to be switched, by its own switch", "nothing in the panel is touched"};
constexpr std::array<std::string_view, 2> stopping{
    "by the generator's or inverter's own stop, with the consent of whoever runs it",
    "nothing in the panel is touched"};
constexpr std::array<std::string_view, 2> looking{
    "look only: covers come off by whoever may take them off, and live parts are behind them",
    "do not move the CT or its leads while the conductor carries current"};
constexpr std::array<std::string_view, 2> tracing{
    "with the panel de-energised and proved dead, wherever the lead cannot be followed by eye",
    "no current loop is opened: the short on the CT side is closed and proved first"};

constexpr std::array catalogue{
    TestKind{.kind = "tap_to_bus",
             .purpose = "volts between a voltage terminal and a busbar of known phase: 0 V on its own one",
             .who = qualified,
             .minutes = 3.0,
             .live = true,
             .answer = AnswerForm::volts,
             .answer_in_words = "volts",
             .cautions = two_pole},
    TestKind{.kind = "terminal_to_earth",
             .purpose = "volts from a voltage terminal to earth",
             .who = qualified,
             .minutes = 3.0,
             .live = true,
             .answer = AnswerForm::volts,
             .answer_in_words = "volts",
             .cautions = two_pole},
    TestKind{.kind = "clamp_primary",
             .purpose = "amperes in a conductor against the display: ratio, or a CT that gives nothing",
             .who = qualified,
             .minutes = 2.0,
             .live = true,
             .answer = AnswerForm::amperes,
             .answer_in_words = "amperes of the conductor",
             .cautions = clamping},
    TestKind{.kind = "clamp_secondary",
             .purpose = "amperes in one insulated lead of a CT: does the loop carry current?",
             .who = qualified,
             .minutes = 2.0,
             .live = true,
             .answer = AnswerForm::amperes,
             .answer_in_words = "amperes of the lead",
             .cautions = loop},
    TestKind{.kind = "ct_shorted",
             .purpose = "one CT shorted at its test block: which element falls to zero?",
             .who = qualified,
             .minutes = 5.0,
             .live = true,
             .answer = AnswerForm::amperes_pair,
             .answer_in_words = "amperes of its element before and during",
             .cautions = shorting},
    TestKind{.kind = "fuse_opened",
             .purpose = "one voltage fuse opened: which element falls to zero?",
             .who = qualified,
             .minutes = 4.0,
             .live = true,
             .outage = true,
             .answer = AnswerForm::volts_pair,
             .answer_in_words = "volts at its terminal before and during",
             .cautions = fuse},
    TestKind{.kind = "load_switched",
             .purpose = "a known resistive load switched on: which element answers, and which way?",
             .who = anyone,
             .minutes = 8.0,
             .answer = AnswerForm::power_pair,
             .answer_in_words = "the load's own W if known, then W before and during: the meter's total, or "
                                "one number an element",
             .cautions = switching},
    TestKind{.kind = "generation_stopped",
             .purpose = "does generation run? Or, stopped for a minute: which way does the total move?",
             .who = anyone,
             .minutes = 1.0,
             .answer = AnswerForm::yes_or_pair,
             .answer_in_words = "yes or no; or the meter's total in W before and during",
             .cautions = stopping},
    TestKind{.kind = "rotation_at_source",
             .purpose = "the order of the phases at the source, by a rotation meter",
             .who = qualified,
             .minutes = 4.0,
             .live = true,
             .answer = AnswerForm::sequence,
             .answer_in_words = "abc or acb",
             .cautions = two_pole},
    TestKind{.kind = "other_meter",
             .purpose = "the power that another meter shows of the same load at the same moment",
             .who = anyone,
             .minutes = 8.0,
             .answer = AnswerForm::power,
             .answer_in_words = "W or var of the other meter, or this meter's power as a fraction of it",
             .cautions = {}},
    TestKind{.kind = "nameplate",
             .purpose = "the rated primary current on the plate of a CT",
             .who = qualified,
             .minutes = 4.0,
             .live = true,
             .answer = AnswerForm::primary_rating,
             .answer_in_words = "rated primary, A",
             .cautions = looking},
    TestKind{.kind = "turns_in_window",
             .purpose = "how often the conductor passes the window of the CT",
             .who = qualified,
             .minutes = 3.0,
             .live = true,
             .answer = AnswerForm::turns,
             .answer_in_words = "a count",
             .cautions = looking},
    TestKind{.kind = "cables_in_window",
             .purpose = "how many of the cables of a phase pass the window of its CT",
             .who = qualified,
             .minutes = 3.0,
             .live = true,
             .answer = AnswerForm::cables,
             .answer_in_words = "so many of so many: 1 of 2",
             .cautions = looking},
    TestKind{.kind = "bill_pf",
             .purpose = "the mean power factor on the bill",
             .who = anyone,
             .minutes = 5.0,
             .answer = AnswerForm::power_factor,
             .answer_in_words = "0 to 1",
             .cautions = {}},
    TestKind{.kind = "lead_traced",
             .purpose = "one lead followed by hand from its terminal to its end",
             .who = qualified,
             .minutes = 25.0,
             .outage = true,
             .answer = AnswerForm::touch,
             .answer_in_words = "a b c n lost; dead for a CT that gives nothing",
             .cautions = tracing},
};
}  // namespace

std::span<TestKind const> test_catalogue() { return catalogue; }

TestKind const& catalogued(std::string_view kind) {
    auto const found = std::ranges::find(catalogue, kind, &TestKind::kind);
    return found == catalogue.end() ? catalogue.back() : *found;
}

double cost_of(TestKind const& kind, double minutes) {
    return (minutes + (kind.live ? setting_up_minutes : asking_minutes)) * (kind.live ? live_factor : 1.0) *
           (kind.outage ? outage_factor : 1.0);
}

std::string catalogue_in_markdown() {
    std::string text =
        "| kind | what it tells | who | minutes | near live parts | something goes off | answer |\n"
        "|---|---|---|---|---|---|---|\n";
    auto const word = [](bool yes) { return yes ? "yes" : "no"; };
    for (auto const& test : catalogue) {
        text += "| `" + std::string(test.kind) + "` | " + std::string(test.purpose) + " | " +
                std::string(test.who) + " | " + quantity::fixed(test.minutes, 0) + " | " + word(test.live) +
                " | " + word(test.outage) + " | " + std::string(test.answer_in_words) + " |\n";
    }
    text += "\n";
    for (auto const& test : catalogue) {
        if (test.cautions.empty()) continue;
        text += "- `" + std::string(test.kind) + "`: ";
        for (std::size_t k = 0; k < test.cautions.size(); ++k)
            text += (k > 0 ? "; " : "") + std::string(test.cautions[k]);
        text += ".\n";
    }
    return text;
}

}  // namespace phasewright::diagnosis
