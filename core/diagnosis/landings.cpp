#include "core/diagnosis/landings.hpp"

#include <cmath>
#include <map>
#include <numeric>
#include <unordered_map>

#include "core/diagnosis/primitives.hpp"

namespace phasewright::diagnosis {

namespace {
// The distinct values met so far, numbered in the order of their first appearance.
template <class Value>
class Register {
   public:
    std::uint32_t number_of(Value const& value) {
        auto const [entry, is_new] = numbers_.try_emplace(value, static_cast<std::uint32_t>(values_.size()));
        if (is_new) values_.push_back(value);
        return entry->second;
    }
    [[nodiscard]] std::vector<Value> values() && { return std::move(values_); }

   private:
    std::map<Value, std::uint32_t> numbers_;
    std::vector<Value> values_;
};

// A dead input has no direction: two landings that differ only there are one.
CurrentLanding settled(CurrentLanding current) {
    for (std::size_t k = 0; k < 3; ++k)
        if (current.path[k] < 0) current.sign[k] = 1;
    return current;
}

class Merger {
   public:
    explicit Merger(plan::ServiceModel const& model) { landings_.model = model; }

    void add(Draft const& draft, double weight) {
        auto const tap = taps_.number_of(draft.tap);
        auto const current = currents_.number_of(settled(draft.current));
        auto const ratio = ratios_.number_of(draft.ratio);
        std::uint64_t const key = (std::uint64_t{tap} << 40) | (std::uint64_t{current} << 20) | ratio;
        auto const [entry, is_new] = hypotheses_.try_emplace(key, weights_.size());
        if (is_new) {
            landings_.tap_of.push_back(tap);
            landings_.current_of.push_back(current);
            landings_.ratio_of.push_back(ratio);
            weights_.push_back(0.0);
        }
        weights_[entry->second] += weight;
        ++landings_.sets;
    }

    Landings finish() && {
        double const total = std::accumulate(weights_.begin(), weights_.end(), 0.0);
        for (double const weight : weights_) landings_.log_prior.push_back(std::log(weight / total));
        landings_.taps = std::move(taps_).values();
        landings_.currents = std::move(currents_).values();
        landings_.ratios = std::move(ratios_).values();
        return std::move(landings_);
    }

   private:
    Landings landings_;
    Register<TapLanding> taps_;
    Register<CurrentLanding> currents_;
    Register<RatioSetting> ratios_;
    std::unordered_map<std::uint64_t, std::size_t> hypotheses_;
    std::vector<double> weights_;
};
}  // namespace

Landings landings_of(plan::ServiceModel const& model, Odds const& odds, std::span<double const> programmed) {
    auto const primitives = primitives_of(model, odds, programmed);
    Merger merger(model);
    auto const none = planned_draft(model);
    merger.add(none, 1.0);
    // Primitives are sorted by stage, so picking them in order applies them in order.
    for (std::size_t i = 0; i < primitives.size(); ++i) {
        auto first = none;
        apply(primitives[i], model, first);
        merger.add(first, primitives[i].odds);
        for (std::size_t j = i + 1; j < primitives.size(); ++j) {
            if (exclude_each_other(primitives[i], primitives[j])) continue;
            auto second = first;
            apply(primitives[j], model, second);
            double const two = primitives[i].odds * primitives[j].odds;
            merger.add(second, two);
            for (std::size_t k = j + 1; k < primitives.size(); ++k) {
                if (exclude_each_other(primitives[i], primitives[k]) ||
                    exclude_each_other(primitives[j], primitives[k]))
                    continue;
                auto third = second;
                apply(primitives[k], model, third);
                merger.add(third, two * primitives[k].odds);
            }
        }
    }
    return std::move(merger).finish();
}

wiring::Wiring wiring_of(plan::ServiceModel const& model, TapLanding const& tap, CurrentLanding const& current,
                         RatioSetting const& ratio) {
    wiring::Wiring wiring;
    wiring.voltage.assign(tap.terminal.begin(), tap.terminal.begin() + static_cast<long>(model.terminals.size()));
    if (model.has_neutral) wiring.neutral = tap.neutral;
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k) {
        wiring::Feed feed{plan::Conductor::a, current.sign[k], current.path[k] < 0};
        if (!feed.dead) feed.conductor = model.live[static_cast<std::size_t>(current.path[k])];
        wiring.current.push_back(feed);
        wiring.ratio.push_back(ratio[k]);
    }
    return wiring;
}

wiring::Wiring wiring_of(Landings const& landings, std::size_t hypothesis) {
    return wiring_of(landings.model, landings.taps[landings.tap_of[hypothesis]],
                     landings.currents[landings.current_of[hypothesis]],
                     landings.ratios[landings.ratio_of[hypothesis]]);
}

}  // namespace phasewright::diagnosis
