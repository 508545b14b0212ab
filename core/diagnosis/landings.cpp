#include "core/diagnosis/landings.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "core/diagnosis/primitives.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr std::size_t most_mistakes = 3;

// One half of a landing with the weight of being reached by exactly 0, 1, 2 and 3 mistakes of its own kind.
template <class Half>
struct Reached {
    Half half;
    std::array<double, most_mistakes + 1> weight{};
    [[nodiscard]] std::size_t fewest() const {
        std::size_t n = 0;
        while (n < most_mistakes && weight[n] == 0.0) ++n;
        return n;
    }
};

// A dead input has no direction, and neither has anything else once no current arrives: landings that differ only
// there are one.
CurrentLanding settled(CurrentLanding current) {
    std::vector<std::size_t> crossed;
    for (std::size_t k = 0; k < 3; ++k) {
        if (current.path[k] == dead_path) current.sign[k] = 1;
        if (current.path[k] == crossed_path) crossed.push_back(k);
    }
    if (crossed.size() == 1) {  // the other half of the loop died: so did this one
        current.path[crossed[0]] = dead_path;
        current.sign[crossed[0]] = 1;
    }
    // Only the sense of one crossed input against the other means anything.
    if (crossed.size() == 2 && current.sign[crossed[0]] < 0)
        for (auto const k : crossed) current.sign[k] = static_cast<std::int8_t>(-current.sign[k]);
    return current;
}
TapLanding settled(TapLanding tap) {
    for (std::size_t t = 0; t < 3; ++t)
        if (tap.terminal[t] == wiring::Touch::lost) tap.turned[t] = 1;
    return tap;
}

// The ways of making a few mistakes: primitives of one stage may be made in any order.
template <class Primitive, class Half>
class Reaching {
   public:
    Reaching(plan::ServiceModel const& model, std::vector<Primitive> const& primitives, Half const& planned)
        : model_(model), primitives_(primitives), planned_(planned) {}

    std::vector<Reached<Half>> all() {
        add({}, 1.0);
        std::size_t const n = primitives_.size();
        for (std::size_t i = 0; i < n; ++i) {
            add({i}, primitives_[i].odds);
            for (std::size_t j = i + 1; j < n; ++j) {
                if (exclude_each_other(primitives_[i], primitives_[j])) continue;
                double const two = primitives_[i].odds * primitives_[j].odds;
                add({i, j}, two);
                for (std::size_t k = j + 1; k < n; ++k)
                    if (!exclude_each_other(primitives_[i], primitives_[k]) &&
                        !exclude_each_other(primitives_[j], primitives_[k]))
                        add({i, j, k}, two * primitives_[k].odds);
            }
        }
        return std::move(reached_);
    }
    [[nodiscard]] std::size_t sets_of(std::size_t mistakes) const { return sets_[mistakes]; }

   private:
    // `chosen` is in rising order.
    void add(std::vector<std::size_t> chosen, double weight) {
        if (weight <= 0.0) return;
        std::vector<Half> ends;
        do {
            bool in_order = true;
            for (std::size_t n = 1; n < chosen.size(); ++n)
                in_order = in_order && primitives_[chosen[n - 1]].stage <= primitives_[chosen[n]].stage;
            if (!in_order) continue;
            auto half = planned_;
            for (auto const index : chosen) apply(primitives_[index], model_, half);
            ends.push_back(settled(half));
        } while (std::ranges::next_permutation(chosen).found);
        ++sets_[chosen.size()];
        for (auto const& half : ends) {
            auto const [entry, is_new] = number_.try_emplace(half, reached_.size());
            if (is_new) reached_.push_back({half});
            reached_[entry->second].weight[chosen.size()] += weight / static_cast<double>(ends.size());
        }
    }

    plan::ServiceModel const& model_;
    std::vector<Primitive> const& primitives_;
    Half planned_;
    std::vector<Reached<Half>> reached_;
    std::map<Half, std::size_t> number_;
    std::array<std::size_t, most_mistakes + 1> sets_{};
};

std::vector<Reached<RatioSetting>> reached_ratios(std::vector<RatioPrimitive> const& primitives) {
    std::vector<Reached<RatioSetting>> reached{{{1.0, 1.0, 1.0}, {1.0}}};
    for (auto const& primitive : primitives) {
        RatioSetting ratio{1.0, 1.0, 1.0};
        for (std::size_t k = 0; k < 3; ++k)
            if (primitive.at < 0 || static_cast<std::size_t>(primitive.at) == k) ratio[k] = primitive.quotient;
        auto entry = std::ranges::find(reached, ratio, &Reached<RatioSetting>::half);
        if (entry == reached.end()) entry = reached.insert(entry, {ratio, {}});
        entry->weight[1] += primitive.odds;
    }
    return reached;
}

template <class Half>
std::vector<Half> halves(std::vector<Reached<Half>> const& reached) {
    std::vector<Half> list;
    for (auto const& one : reached) list.push_back(one.half);
    return list;
}

// Sum over i + j + k <= 3 of the weights of i, j and k mistakes of the three kinds.
double joined_weight(Reached<TapLanding> const& tap, Reached<CurrentLanding> const& current, Reached<RatioSetting> const& ratio) {
    double sum = 0.0;
    for (std::size_t k = 0; k <= 1; ++k) {
        if (ratio.weight[k] == 0.0) continue;
        for (std::size_t i = 0; i + k <= most_mistakes; ++i)
            for (std::size_t j = 0; i + j + k <= most_mistakes; ++j) sum += ratio.weight[k] * tap.weight[i] * current.weight[j];
    }
    return sum;
}
}  // namespace

Landings landings_of(plan::ServiceModel const& model, Odds const& odds, PointFacts const& facts) {
    auto const tap_list = tap_primitives(model, odds, facts);
    auto const current_list = current_primitives(model, odds, facts);
    auto const ratio_list = ratio_primitives(model, odds, facts);
    Reaching tap_ways(model, tap_list, planned_taps(model));
    Reaching current_ways(model, current_list, planned_currents(model));
    auto const taps = tap_ways.all();
    auto const currents = current_ways.all();
    auto const ratios = reached_ratios(ratio_list);
    Landings landings{.model = model, .taps = halves(taps), .currents = halves(currents), .ratios = halves(ratios)};
    std::array<std::size_t, most_mistakes + 1> const ratio_sets{1, ratio_list.size(), 0, 0};
    for (std::size_t i = 0; i <= most_mistakes; ++i)
        for (std::size_t j = 0; i + j <= most_mistakes; ++j)
            for (std::size_t k = 0; i + j + k <= most_mistakes; ++k)
                landings.sets += tap_ways.sets_of(i) * current_ways.sets_of(j) * ratio_sets[k];
    double total = 0.0;
    for (std::uint32_t t = 0; t < taps.size(); ++t)
        for (std::uint32_t c = 0; c < currents.size(); ++c) {
            std::size_t const made = taps[t].fewest() + currents[c].fewest();
            if (made > most_mistakes) continue;
            for (std::uint32_t r = 0; r < ratios.size(); ++r) {
                if (made + ratios[r].fewest() > most_mistakes) break;  // only the first ratio needs no mistake
                landings.tap_of.push_back(t);
                landings.current_of.push_back(c);
                landings.ratio_of.push_back(r);
                landings.log_prior.push_back(joined_weight(taps[t], currents[c], ratios[r]));
                total += landings.log_prior.back();
            }
        }
    for (double& weight : landings.log_prior) weight = std::log(weight / total);
    return landings;
}

wiring::Wiring wiring_of(plan::ServiceModel const& model, TapLanding const& tap, CurrentLanding const& current,
                         RatioSetting const& ratio) {
    wiring::Wiring wiring;
    wiring.voltage.assign(tap.terminal.begin(), tap.terminal.begin() + static_cast<long>(model.terminals.size()));
    if (model.has_neutral) wiring.neutral = tap.neutral;
    if (std::ranges::any_of(tap.turned, [](int sign) { return sign < 0; }))
        wiring.vt_sign.assign(tap.turned.begin(), tap.turned.begin() + static_cast<long>(model.terminals.size()));
    wiring.vt_ratio = usual_vt_ratios[tap.vt_ratio];
    wiring.two_elements = tap.two_elements;
    wiring.supply_neutral_broken = tap.supply_neutral_broken;
    wiring.vars_turned = current.vars_turned;
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k) {
        wiring::Feed feed{plan::Conductor::a, current.sign[k], current.path[k] == dead_path};
        if (current.path[k] >= 0) feed.conductor = model.live[static_cast<std::size_t>(current.path[k])];
        feed.quarter_turn = current.coil && !feed.dead;
        wiring.current.push_back(feed);
        wiring.ratio.push_back(ratio[k]);
    }
    // The two inputs of a joined loop: half the sum or half the difference of what they were meant for.
    std::vector<std::size_t> crossed;
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k)
        if (current.path[k] == crossed_path) crossed.push_back(k);
    if (crossed.size() == 2)
        for (auto const k : crossed) {
            auto& feed = wiring.current[k];
            feed.conductor = model.current_inputs[crossed[0]];
            feed.with = model.current_inputs[crossed[1]];
            feed.with_sign = static_cast<std::int8_t>(feed.sign * current.sign[crossed[1]]);
        }
    return wiring;
}

wiring::Wiring wiring_of(Landings const& landings, std::size_t hypothesis) {
    return wiring_of(landings.model, landings.taps[landings.tap_of[hypothesis]],
                     landings.currents[landings.current_of[hypothesis]],
                     landings.ratios[landings.ratio_of[hypothesis]]);
}

}  // namespace phasewright::diagnosis
