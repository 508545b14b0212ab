#include "core/chain/point_accuracy.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace phasewright::chain {

namespace {
constexpr int halvings = 40;
constexpr double just_below = 1.0 - 1e-9;

AtCurrent at_current(PointChain const& chain, plan::MeteringPoint const& point, double current_a) {
    auto const load = load_at(point, current_a, chain.assumptions);
    auto reckoned = budget_at(chain, {&load, 1});
    return {current_a, load.power_factor, std::move(reckoned.budget), reckoned.silent};
}

std::optional<double> expanded_at(PointChain const& chain, LoadPoint load, double current_a) {
    load.current_a = current_a;
    auto const reckoned = budget_at(chain, {&load, 1});
    return reckoned.budget ? std::optional{reckoned.budget->expanded_percent} : std::nullopt;
}

using Holds = std::function<bool(double current_a)>;

// Going down from the highest current at which it holds: the lowest until which it does not stop to. Between
// two bends limits only fall with the current, so one crossing at most lies there.
std::optional<double> holds_from(std::vector<double> const& bends, Holds const& holds) {
    std::optional<double> from;
    for (std::size_t n = bends.size(); n-- > 0;) {
        if (holds(bends[n])) {
            from = bends[n];
        } else if (from) {
            double low = bends[n];
            double high = *from;
            for (int step = 0; step < halvings; ++step) {
                double const middle = (low + high) / 2.0;
                (holds(middle) ? high : low) = middle;
            }
            return high;
        }
        if (from && n > 0 && !holds(std::max(bends[n - 1], bends[n] * just_below))) return from;
    }
    return from;
}

void note_unconfirmed(PointAccuracy& accuracy, std::optional<AtCurrent> const& at) {
    if (!at || !at->budget) return;
    for (auto const& part : at->budget->parts)
        if (!may_judge(part.source) &&
            std::ranges::find(accuracy.unconfirmed, part.source) == accuracy.unconfirmed.end())
            accuracy.unconfirmed.push_back(part.source);
}

Shown shown_of(PointAccuracy const& accuracy) {
    if (!accuracy.wanted_percent) return Shown::not_asked;
    auto const& at = accuracy.usual ? accuracy.usual : accuracy.least ? accuracy.least : accuracy.most;
    if (!at) return Shown::cannot_tell;
    return accuracy.output_fits && at->budget && at->budget->expanded_percent <= *accuracy.wanted_percent
               ? Shown::yes
               : Shown::no;
}
}  // namespace

std::optional<double> shown_from_a(PointChain const& chain, LoadPoint load, double percent) {
    return holds_from(bends_of(chain), [&](double current_a) {
        auto const expanded = expanded_at(chain, load, current_a);
        return expanded && *expanded <= percent;
    });
}

PointAccuracy point_accuracy(plan::MeteringPoint const& point, plan::Nominal const& nominal,
                             plan::MeterHardware const* meter, Assumptions const& assumptions) {
    auto const chain = chain_of(point, nominal, meter, assumptions);
    PointAccuracy accuracy{
        .wanted_percent = point.accuracy_percent, .output_fits = chain.output_fits, .assumed = chain.assumed};
    if (point.least_a) accuracy.least = at_current(chain, point, *point.least_a);
    if (point.usual_a) accuracy.usual = at_current(chain, point, *point.usual_a);
    if (point.most_a) accuracy.most = at_current(chain, point, *point.most_a);
    auto const bends = bends_of(chain);
    auto const load = load_at(point, 0.0, assumptions);
    auto const says = [&](double current_a) { return expanded_at(chain, load, current_a).has_value(); };
    accuracy.stated_from_a = holds_from(bends, says);
    for (double const bend : bends)
        if (says(bend)) accuracy.stated_to_a = bend;
    if (accuracy.wanted_percent && chain.output_fits)
        accuracy.shown_from_a = shown_from_a(chain, load, *accuracy.wanted_percent);
    accuracy.shown = shown_of(accuracy);
    for (auto const* const at : {&accuracy.usual, &accuracy.least, &accuracy.most}) {
        note_unconfirmed(accuracy, *at);
        if (!accuracy.dominating && *at && (*at)->budget)
            accuracy.dominating = (*at)->budget->parts.front().part;
    }
    return accuracy;
}

}  // namespace phasewright::chain
