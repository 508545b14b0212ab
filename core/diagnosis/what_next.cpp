#include "core/diagnosis/what_next.hpp"

#include <algorithm>
#include <functional>
#include <map>

#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;

constexpr double setting_up_minutes = 1.0;  // what any test costs beside its own minutes

struct Proposal {
    NextTest test;
    double price = 1.0;  // factor on the minutes: energised work, an outage
    std::function<std::string(Candidate const&)> outcome_of;
};

std::string const two_pole = "two-pole tester of the right measurement category, fused leads, protective equipment; live parts";
std::string const qualified = "qualified electrician";

Proposal generation_question() {
    return {.test = {.kind = "generation_stopped",
                     .who = "anyone on site",
                     .minutes = 1.0,
                     .what = "Is generation running now, and is more made than used behind this point?"},
            .outcome_of = [](Candidate const& c) -> std::string {
                if (!c.true_p_w) return "cannot tell";
                return *c.true_p_w < 0.0 ? "yes: this point exports" : "no: this point imports";
            }};
}

Proposal rotation_at_source() {
    return {.test = {.kind = "rotation_at_source",
                     .who = qualified,
                     .minutes = 4.0,
                     .what = "Which way do the phases turn at the source, by a rotation meter?",
                     .cautions = {two_pole}},
            .price = 1.5,
            .outcome_of = [](Candidate const& c) {
                return c.rotation == plan::Sequence::abc ? std::string{"a-b-c"} : std::string{"a-c-b"};
            }};
}

Proposal tap_to_bus(TestSituation const& s, std::size_t terminal) {
    auto const own = s.model.terminals[terminal];
    return {.test = {.kind = "tap_to_bus",
                     .at = s.names.terminals.voltage[terminal],
                     .who = qualified,
                     .minutes = 3.0,
                     .what = "Measure from terminal " + s.names.terminals.voltage[terminal] + " to the " +
                             s.names.conductor(own) + " busbar with a low-impedance two-pole tester.",
                     .cautions = {two_pole}},
            .price = 1.5,
            .outcome_of = [terminal, own](Candidate const& c) -> std::string {
                auto const touch = c.wiring.voltage[terminal];
                if (touch == Touch::lost) return "between: the terminal floats";
                return touch == wiring::touch_of(own) ? "0 V: the same conductor" : "full voltage: another conductor";
            }};
}

Proposal clamp_on(TestSituation const& s, std::size_t input) {
    auto const phase = s.names.conductor(s.model.current_inputs[input]);
    return {.test = {.kind = "clamp_primary",
                     .at = std::string(1, plan::letter_of(s.model.current_inputs[input])),
                     .who = qualified,
                     .minutes = 2.0,
                     .what = "Clamp the insulated " + phase + " conductor and compare with the displayed current of element " +
                             std::to_string(input + 1) + ".",
                     .cautions = {"clamp round insulated conductors only; live parts are near: protective equipment"}},
            .price = 1.2,
            .outcome_of = [input](Candidate const& c) -> std::string {
                if (c.wiring.current[input].dead) return "current flows that the meter does not show";
                double const ratio = c.wiring.ratio[input];
                if (ratio != 1.0) return "the clamp shows " + quantity::fixed(1.0 / ratio, 2) + " of the display";
                return "the two agree, or neither shows current";
            }};
}

Proposal clamp_in_loop(TestSituation const& s, std::size_t input) {
    auto const phase = s.names.conductor(s.model.current_inputs[input]);
    return {.test = {.kind = "clamp_secondary",
                     .at = "CT" + std::to_string(input + 1),
                     .who = qualified,
                     .minutes = 2.0,
                     .what = "Clamp one insulated lead of the " + phase + " CT loop, and the " + phase + " conductor.",
                     .cautions = {"treat the loop as open: touch nothing but the insulation of the lead",
                                  "if the conductor carries current and the lead does not, stop and de-energise"}},
            .price = 1.0,
            .outcome_of = [input](Candidate const& c) -> std::string {
                return c.wiring.current[input].dead
                           ? "the conductor carries current: the loop is shorted before the meter if the lead carries it too, open if it does not"
                           : "neither carries current: the conductor is unloaded";
            }};
}

// A known one-phase resistive load switched on between phase and neutral: which element answers, and with which sign?
Proposal switched_load(TestSituation const& s, std::size_t input) {
    auto const phase = s.model.current_inputs[input];
    return {.test = {.kind = "load_switched",
                     .at = std::string(1, plan::letter_of(phase)),
                     .who = "anyone on site",
                     .minutes = 5.0,
                     .what = "Switch a known resistive load on " + s.names.conductor(phase) + " alone and watch which element's kW moves, and which way."},
            .outcome_of = [phase, model = s.model](Candidate const& c) -> std::string {
                for (std::size_t k = 0; k < model.elements.size(); ++k) {
                    int const in = model.elements[k].current_input;
                    if (in < 0) continue;
                    auto const& feed = c.wiring.current[static_cast<std::size_t>(in)];
                    if (feed.dead || feed.conductor != phase) continue;
                    auto const touch = c.wiring.voltage[static_cast<std::size_t>(model.elements[k].plus)];
                    auto const element = "element " + std::to_string(k + 1);
                    if (touch == Touch::lost) return element + " moves by amperes only";
                    bool const own = touch == wiring::touch_of(phase);
                    if (own) return element + (feed.sign > 0 ? " rises by the load" : " falls by the load");
                    return element + (feed.sign > 0 ? " falls by half the load or less" : " rises by half the load or less");
                }
                return "no element moves";
            }};
}

std::vector<Proposal> proposals_of(TestSituation const& s) {
    std::vector<Proposal> list;
    std::size_t const inputs = s.model.current_inputs.size();
    if (s.loop_may_be_open) {
        for (std::size_t k = 0; k < inputs; ++k)
            if (!s.flowing[k]) list.push_back(clamp_in_loop(s, k));
        return list;
    }
    if (!s.generation_known && s.generation_possible) list.push_back(generation_question());
    if (s.model.terminals.size() == 3) list.push_back(rotation_at_source());
    for (std::size_t t = 0; t < s.model.terminals.size(); ++t) list.push_back(tap_to_bus(s, t));
    for (std::size_t k = 0; k < inputs; ++k) list.push_back(clamp_on(s, k));
    if (s.model.has_neutral)
        for (std::size_t k = 0; k < inputs; ++k) list.push_back(switched_load(s, k));
    return list;
}

// Fills in outcomes and gain; the gain is the weight of the pairs cut, divided by the cost.
void score(Proposal& proposal, std::vector<Candidate> const& candidates) {
    struct Heap {
        double p = 0.0;
        double most = 0.0;
        std::string words;
    };
    std::map<std::string, Heap> heaps;
    double all = 0.0;
    double squares = 0.0;
    double kept = 0.0;
    for (auto const& c : candidates) {
        auto& heap = heaps[proposal.outcome_of(c)];
        heap.p += c.probability;
        if (c.probability > heap.most) {
            heap.most = c.probability;
            heap.words = c.in_words;
        }
        all += c.probability;
        squares += c.probability * c.probability;
    }
    for (auto const& [outcome, heap] : heaps) {
        proposal.test.outcomes.push_back({outcome, heap.p / all, "most probable then: " + heap.words});
        kept += heap.p * heap.p;
    }
    std::ranges::stable_sort(proposal.test.outcomes, std::greater{}, &Outcome::p);
    double const pairs = 0.5 * (all * all - squares);
    double const cut = pairs > 0.0 ? 0.5 * (all * all - kept) / pairs : 0.0;
    proposal.test.gain = cut / ((proposal.test.minutes + setting_up_minutes) * proposal.price);
}

NextTest wait_for_load() {
    return {.kind = "load_switched",
            .who = "anyone on site",
            .minutes = 10.0,
            .what = "Run the load until every phase carries more than 5 % of its CT's rating, and read again.",
            .outcomes = {{"the load runs", 1.0, "the readings decide"}},
            .gain = 0.0};
}
}  // namespace

std::optional<NextTest> next_test_of(TestSituation const& situation) {
    if (situation.unproven && !situation.loop_may_be_open) return wait_for_load();
    auto proposals = proposals_of(situation);
    for (auto& proposal : proposals) score(proposal, situation.candidates);
    auto const best = std::ranges::max_element(proposals, {}, [](Proposal const& p) { return p.test.gain; });
    if (best == proposals.end() || (best->test.gain <= 1e-6 && !situation.loop_may_be_open)) return std::nullopt;
    return best->test;
}

}  // namespace phasewright::diagnosis
