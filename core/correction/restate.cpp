#include "core/correction/restate.hpp"

#include <algorithm>
#include <cmath>

#include "core/correction/read_back.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::correction {

namespace {
constexpr double most_lost = 0.05;          // of probability: beyond it no total is given
constexpr double widest_band = 5.0;         // p95 / p05: beyond it the totals do not determine the energy
constexpr double registers_nothing = 1e-6;  // of all energy that passed the elements
constexpr double same_total = 1e-6;
constexpr double day_s = 86400.0;

struct Weighed {
    ReadBack read;
    double probability = 0.0;
};

std::vector<Weighed> all_read(Question const& question, IntervalData const& data) {
    std::vector<Weighed> all;
    for (auto const& hypothesis : question.hypotheses) {
        all.push_back({data.totals ? read_totals(question, hypothesis, data)
                                   : read_elements(question, hypothesis, data),
                       hypothesis.probability});
        if (all.size() > 1) all.back().read.series.clear();  // the series is the first one's
    }
    return all;
}

// Total over the wirings that tell, each drawn as often as it is probable.
Band band_over(Question const& question, std::vector<Weighed> const& all) {
    std::vector<Weighed const*> telling;
    double sum = 0.0;
    for (auto const& one : all)
        if (!one.read.refusal) {
            telling.push_back(&one);
            sum += one.probability;
        }
    auto const draw = [&, sum](Dice& dice) {
        double at = telling.size() > 1 ? dice.uniform() * sum : 0.0;
        std::size_t chosen = 0;
        while (chosen + 1 < telling.size() && at >= telling[chosen]->probability)
            at -= telling[chosen++]->probability;
        return drawn_total(question, telling[chosen]->read, dice);
    };
    return band_of(draw, question.seed, question.least_draws);
}

void split_by_limit(Question const& question, IntervalData const& data, Restated& result) {
    if (!question.limit) return;
    double const from_s = question.limit->until_s - question.limit->days * day_s;
    result.inside.emplace();
    result.outside.emplace();
    for (std::size_t row = 0; row < data.rows(); ++row) {
        auto& part = data.start_s[row] < from_s ? *result.outside : *result.inside;
        ++part.rows;
        if (row >= result.series.size() || !result.series[row].wh) continue;
        part.registered_wh += registered_wh(data, question.kind, row);
        double const wh = *result.series[row].wh;
        double amount = wh;
        if (question.kind == RegisterKind::import_only) amount = std::max(wh, 0.0);
        if (question.kind == RegisterKind::export_only) amount = std::max(-wh, 0.0);
        if (question.kind == RegisterKind::absolute || question.kind == RegisterKind::per_phase) {
            amount = data.totals ? wh : 0.0;
            for (auto const& e : result.series[row].of_element)
                if (e)
                    amount += question.kind == RegisterKind::absolute ? std::abs(e->real())
                                                                      : std::max(e->real(), 0.0);
        }
        part.corrected_wh += amount;
    }
}

bool rotation_matters(Question const& question) {
    if (question.model.live.size() < 3) return false;
    auto const both = seen_both(question.hypotheses.front().wiring, question.model);
    std::array<ElementLaw, 2> laws;
    for (std::size_t k = 0; k < 2; ++k)
        laws[k] = element_law(both, volts_of(both, plan::source_phasors(question.model, question.nominal,
                                                                        static_cast<plan::Sequence>(k))));
    double apart = 0.0;
    for (std::size_t k = 0; k <= of_total; ++k)
        for (std::size_t l = 0; l < wiring::most_elements; ++l)
            apart = std::max(apart, std::abs(laws[0].share[k][l] - laws[1].share[k][l]));
    return apart > 1e-9;
}

void add_notes(Question const& question, IntervalData const& data, ReadBack const& first, Restated& result) {
    auto& notes = result.notes;
    if (rotation_matters(question))
        notes.push_back(std::string{"the phase rotation at the source matters here; "} +
                        (question.rotation == plan::Sequence::abc ? "abc" : "acb") + " was used");
    if (result.undetermined_rows > 0)
        notes.push_back(std::to_string(result.undetermined_rows) +
                        " intervals are not determined and stand in no total; the register counted " +
                        quantity::fixed(result.undetermined_registered_wh / 1000.0, 3) + " kWh in them");
    if (first.law == diagnosis::EnergyLaw::band && first.central.by_sum)
        notes.emplace_back("one current was not seen: the three currents are taken to sum to zero");
    if (data.totals && !first.by_shares && !first.refusal && first.law == diagnosis::EnergyLaw::band)
        notes.emplace_back("the load is taken to be balanced, as was said: totals alone cannot show it");
    auto const& wiring = question.hypotheses.front().wiring;
    bool floating = wiring.neutral == wiring::Touch::lost;
    for (auto const& element : question.model.elements)
        floating =
            floating || (element.minus >= 0 &&
                         wiring.voltage[static_cast<std::size_t>(element.minus)] == wiring::Touch::lost);
    if (floating && !first.refusal)
        notes.emplace_back(
            "a common voltage lead is taken to be lost between equal inputs: nothing else may feed it");
    if (question.left_out_probability > 0.0)
        notes.push_back("wirings of together " + quantity::fixed(100.0 * question.left_out_probability, 2) +
                        " % were left out by the verdict");
    if (result.true_wh && !result.refusal &&
        (result.true_wh->mean < result.true_wh->p05 || result.true_wh->mean > result.true_wh->p95))
        notes.emplace_back("improbable wirings far from the others pull the mean out of the range");
    if (result.true_wh && !result.true_wh->settled)
        notes.emplace_back(
            "the band is not settled to its first digit: its ends are uncertain by about that much");
}

void refuse_if_too_wide(Restated& result) {
    if (!result.true_wh || !result.true_wh->draws) return;
    double const low = result.true_wh->p05;
    double const high = result.true_wh->p95;
    double const most = std::max(std::abs(low), std::abs(high));
    double const least = std::min(std::abs(low), std::abs(high));
    bool const sides = low * high < 0.0;
    if (!sides && most <= widest_band * least) return;
    result.refusal =
        Refusal{"the range from 5 to 95 % is so wide (" + quantity::fixed(low / 1000.0, 1) + " to " +
                    quantity::fixed(high / 1000.0, 1) + " kWh) that no factor can be stated",
                {"the kWh and kvarh of each element over the same intervals",
                 "narrower knowledge of the load's shares or of its power factor",
                 "a balance against another meter that counts the same energy"}};
}

void set_factor(IntervalData const& data, Restated& result) {
    double passed = 0.0;
    for (auto const& e : data.energy) passed += std::abs(e);
    if (std::abs(result.registered_wh) <= registers_nothing * passed) {
        result.notes.emplace_back(
            "the register counted nothing, so there is no factor; the energy itself is known");
        return;
    }
    result.factor = result.true_wh->mean / result.registered_wh;
    double const at_05 = result.true_wh->p05 / result.registered_wh;
    double const at_95 = result.true_wh->p95 / result.registered_wh;
    result.factor_p05 = std::min(at_05, at_95);
    result.factor_p95 = std::max(at_05, at_95);
}
}  // namespace

Restated restate(Question const& question, IntervalData const& data) {
    Restated result{.kind = question.kind};
    auto all = all_read(question, data);
    auto& first = all.front().read;
    result.plain = plain_rule(
        first.both, plan::source_phasors(question.model, question.nominal, question.rotation), question.kind);
    result.law = first.law;
    result.series = std::move(first.series);
    result.registered_wh = first.registered_wh;
    result.undetermined_rows = first.undetermined_rows;
    result.undetermined_registered_wh = first.undetermined_registered_wh;
    result.element_known = first.element_known;
    result.known_wh = first.known_wh;
    double sum = 0.0;
    for (auto const& one : all) {
        sum += one.probability;
        if (one.read.refusal) result.lost_probability += one.probability;
        bool const both_known = !one.read.refusal && !first.refusal;
        if (&one.read == &first || (both_known && std::abs(one.read.true_wh - first.true_wh) <=
                                                      same_total * std::abs(first.true_wh)))
            result.alike_probability += one.probability;
    }
    if (first.refusal) {
        result.refusal = first.refusal;
    } else if (first.undetermined_rows == data.rows()) {
        result.refusal = Refusal{"no interval is determined", what_gives_lost_energy()};
    } else {
        result.corrected_wh = first.true_wh;
        if (result.lost_probability > most_lost * sum) {
            result.refusal =
                Refusal{"with a probability of " + quantity::fixed(100.0 * result.lost_probability / sum, 1) +
                            " % the wiring is one under which the energy does not come back",
                        {"the next test that the verdict names, which tells the wirings apart",
                         "a balance against another meter that counts the same energy"}};
        } else {
            result.true_wh = band_over(question, all);
            refuse_if_too_wide(result);
            if (!result.refusal) set_factor(data, result);
        }
    }
    if (!first.refusal) split_by_limit(question, data, result);
    if (result.refusal && result.registered_wh == 0.0)
        for (std::size_t row = 0; row < data.rows(); ++row)
            result.registered_wh += registered_wh(data, question.kind, row);
    add_notes(question, data, first, result);
    return result;
}

}  // namespace phasewright::correction
