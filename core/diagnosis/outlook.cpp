#include "core/diagnosis/outlook.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <unordered_map>
#include <utility>

#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using quantity::degrees_per_radian;

bool rotation_matters(plan::ServiceModel const& model) {
    if (model.service == plan::Service::split_phase_three_wire) return false;
    return model.service != plan::Service::one_phase_two_wire || model.live.size() > 1;
}

std::uint8_t step_of(double degrees) {
    auto const steps = static_cast<int>(std::lround(degrees / 30.0));
    return static_cast<std::uint8_t>(((steps % 12) + 12) % 12);
}

std::uint8_t kind_of(AngleClass const& one, std::size_t inputs) {
    std::array<bool, 3> met{};
    bool joined = false;
    int kind = 0;
    for (std::size_t input = 0; input < inputs; ++input) {
        auto own = InputKind::dead;
        if (one.path[input] >= 0)
            own = std::exchange(met[static_cast<std::size_t>(one.path[input])], true) ? InputKind::again : InputKind::first;
        if (one.path[input] == crossed_path) own = std::exchange(joined, true) ? InputKind::joined_again : InputKind::joined;
        kind = kind * kinds_of_input + static_cast<int>(own);
    }
    return static_cast<std::uint8_t>(kind);
}

AngleClass angle_class_of(Outlook const& outlook, OutlookAt const& at, std::uint32_t tap, CurrentLanding const& current) {
    AngleClass one{.vars_turned = current.vars_turned};
    one.path.fill(dead_path);
    one.step.fill(no_step);
    for (std::size_t input = 0; input < outlook.landings.model.current_inputs.size(); ++input) {
        one.path[input] = current.path[input];
        auto const& angle = at.views[tap].angle_deg[static_cast<std::size_t>(outlook.element_of_input[input])];
        if (current.path[input] == dead_path || !angle) continue;
        double const own = current.path[input] >= 0 ? at.path_angle_deg[static_cast<std::size_t>(current.path[input])] : 0.0;
        one.turn_deg[input] = quantity::wrapped_deg(own - *angle + (current.sign[input] < 0 ? 180.0 : 0.0) + (current.coil ? 90.0 : 0.0));
        one.step[input] = step_of(one.turn_deg[input]);
    }
    one.kind = kind_of(one, outlook.landings.model.current_inputs.size());
    return one;
}

std::uint64_t key_of(AngleClass const& one) {
    std::uint64_t key = one.vars_turned ? 1 : 0;
    for (std::size_t input = 0; input < 3; ++input) {
        key = (key << 3) | static_cast<std::uint64_t>(one.path[input] + 2);
        key = (key << 4) | one.step[input];
    }
    return key;
}

OutlookAt outlook_at(Outlook const& outlook, plan::Sequence rotation) {
    auto const& landings = outlook.landings;
    OutlookAt at{.rotation = rotation, .u = plan::source_phasors(landings.model, outlook.nominal, rotation)};
    for (auto const& tap : landings.taps) at.views.push_back(view_of(tap, landings.model, outlook.nominal, rotation));
    for (std::size_t path = 0; path < landings.model.live.size(); ++path)
        at.path_angle_deg[path] = std::arg(at.u[static_cast<std::size_t>(landings.model.live[path])]) * degrees_per_radian;
    std::unordered_map<std::uint64_t, std::uint32_t> known;
    for (std::size_t pair = 0; pair < outlook.tap_of_pair.size(); ++pair) {
        auto const one = angle_class_of(outlook, at, outlook.tap_of_pair[pair], landings.currents[outlook.current_of_pair[pair]]);
        auto const [entry, is_new] = known.try_emplace(key_of(one), static_cast<std::uint32_t>(at.angle_classes.size()));
        if (is_new) at.angle_classes.push_back(one);
        at.angle_class_of.push_back(entry->second);
    }
    return at;
}

void index_pairs(Outlook& outlook) {
    auto const& landings = outlook.landings;
    for (std::uint32_t h = 0; h < landings.size(); ++h) {
        outlook.prior.push_back(std::exp(landings.log_prior[h]));
        bool const is_new = h == 0 || landings.tap_of[h] != landings.tap_of[h - 1] || landings.current_of[h] != landings.current_of[h - 1];
        if (is_new) {
            // Every tap landing goes with the planned currents, so none is without a pair.
            if (h == 0 || landings.tap_of[h] != landings.tap_of[h - 1])
                outlook.first_pair.push_back(static_cast<std::uint32_t>(outlook.first.size()));
            outlook.first.push_back(h);
            outlook.tap_of_pair.push_back(landings.tap_of[h]);
            outlook.current_of_pair.push_back(landings.current_of[h]);
            outlook.largest_prior.push_back(0.0);
        }
        outlook.largest_prior.back() = std::max(outlook.largest_prior.back(), outlook.prior.back());
    }
    outlook.first_pair.push_back(static_cast<std::uint32_t>(outlook.first.size()));
    outlook.first.push_back(static_cast<std::uint32_t>(landings.size()));
    outlook.likeliest_first.resize(outlook.tap_of_pair.size());
    std::iota(outlook.likeliest_first.begin(), outlook.likeliest_first.end(), 0U);
    for (std::size_t tap = 0; tap + 1 < outlook.first_pair.size(); ++tap)
        std::stable_sort(outlook.likeliest_first.begin() + outlook.first_pair[tap],
                         outlook.likeliest_first.begin() + outlook.first_pair[tap + 1],
                         [&](auto one, auto other) { return outlook.largest_prior[one] > outlook.largest_prior[other]; });
}

void index_sizes(Outlook& outlook) {
    auto const& landings = outlook.landings;
    std::map<SizeClass, std::uint32_t> known;
    for (auto const& current : landings.currents) {
        SizeClass const one{current.path, current.coil};
        auto const [entry, is_new] = known.try_emplace(one, static_cast<std::uint32_t>(outlook.size_classes.size()));
        if (is_new) outlook.size_classes.push_back(one);
        outlook.size_class_of.push_back(entry->second);
    }
    for (auto const& ratio : landings.ratios) {
        auto& numbers = outlook.ratio_value_of.emplace_back();
        for (std::size_t input = 0; input < 3; ++input) {
            auto found = std::ranges::find(outlook.ratio_values, ratio[input]);
            if (found == outlook.ratio_values.end()) found = outlook.ratio_values.insert(found, ratio[input]);
            numbers[input] = static_cast<std::uint8_t>(found - outlook.ratio_values.begin());
        }
    }
}
}  // namespace

Outlook::Outlook(Landings landings_to_take, plan::Nominal const& nominal_supply)
    : landings(std::move(landings_to_take)), nominal(nominal_supply) {
    for (std::size_t k = 0; k < landings.model.elements.size(); ++k)
        if (int const input = landings.model.elements[k].current_input; input >= 0)
            element_of_input[static_cast<std::size_t>(input)] = static_cast<int>(k);
    index_pairs(*this);
    index_sizes(*this);
    at.push_back(outlook_at(*this, plan::Sequence::abc));
    if (rotation_matters(landings.model)) at.push_back(outlook_at(*this, plan::Sequence::acb));
}

}  // namespace phasewright::diagnosis
