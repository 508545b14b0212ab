#include "core/design/inputs.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <map>

#include "core/design/assignment.hpp"
#include "core/design/lines.hpp"
#include "core/design/words.hpp"

namespace phasewright::design {

namespace {
using plan::Conductor;

constexpr double never = std::numeric_limits<double>::infinity();
constexpr std::size_t phases_of_meter = 3;

std::size_t index_of(Conductor phase) { return static_cast<std::size_t>(phase); }
std::string name_of(plan::Site const& site, Conductor phase) {
    return site.region.conductors[index_of(phase)];
}

plan::Panel const* panel_of(plan::Site const& site, std::string const& id) {
    auto const found = std::ranges::find(site.panels, id, &plan::Panel::id);
    return found == site.panels.end() ? nullptr : &*found;
}
bool is_in(std::vector<std::string> const& list, std::string const& id) {
    return std::ranges::find(list, id) != list.end();
}

// Whether anything in the plan speaks of this point by its id.
bool is_spoken_of(plan::Site const& site, std::string const& id) {
    return std::ranges::any_of(site.points, [&](auto const& point) { return point.parent == id; }) ||
           std::ranges::any_of(site.sums, [&](auto const& sum) {
               return is_in(sum.plus, id) || is_in(sum.minus, id) || sum.compared_with == id;
           });
}

constexpr auto measure_first =
    "a map is paper: measure the phase of each circuit before the first reading is believed";
}  // namespace

OnInputs circuits_on_inputs(std::vector<Conductor> const& phases, std::size_t inputs) {
    std::vector<std::vector<double>> cost(phases.size(), std::vector<double>(inputs, 0.0));
    for (std::size_t circuit = 0; circuit < phases.size(); ++circuit)
        for (std::size_t input = 0; input < inputs; ++input)
            // A lead out of order counts most; of equal ways circuits keep their order.
            cost[circuit][input] = (input % phases_of_meter == index_of(phases[circuit]) ? 0.0 : 1000.0) +
                                   static_cast<double>(input > circuit ? input - circuit : circuit - input);
    auto const found = cheapest_assignment(cost);
    OnInputs on;
    for (std::size_t circuit = 0; circuit < phases.size(); ++circuit) {
        auto const input = found.column_of[circuit].value_or(circuit);
        on.input_of.push_back(input);
        on.out_of_order += input % phases_of_meter == index_of(phases[circuit]) ? 0 : 1;
    }
    return on;
}

std::vector<std::vector<std::size_t>> circuits_on_meters(std::vector<Conductor> const& phases) {
    std::array<std::size_t, 4> count{};
    for (auto const phase : phases) ++count.at(index_of(phase));
    std::size_t const meters = *std::ranges::max_element(count);
    std::vector<std::vector<double>> cost(phases.size(),
                                          std::vector<double>(meters * phases_of_meter, never));
    std::array<std::size_t, 4> seen{};
    for (std::size_t circuit = 0; circuit < phases.size(); ++circuit) {
        auto const turn = seen.at(index_of(phases[circuit]))++;
        for (std::size_t meter = 0; meter < meters; ++meter)
            cost[circuit][meter * phases_of_meter + index_of(phases[circuit])] =
                static_cast<double>(meter > turn ? meter - turn : turn - meter);
    }
    std::vector<std::vector<std::size_t>> on(meters);
    if (phases.empty()) return on;
    auto const found = cheapest_assignment(cost);
    for (std::size_t meter = 0; meter < meters; ++meter)
        for (std::size_t input = 0; input < phases_of_meter; ++input)
            for (std::size_t circuit = 0; circuit < phases.size(); ++circuit)
                if (found.column_of[circuit] == meter * phases_of_meter + input) on[meter].push_back(circuit);
    return on;
}

namespace {
// Those of a point's branches whose phase is to be chosen; the order of the inputs is free where all of them
// are.
Proposal branches_of(plan::Site const& site, plan::Panel const& panel, plan::MeteringPoint& point) {
    Proposal proposal{.part = Part::inputs, .where = point.id};
    auto& branches = point.model_options.branches;
    bool const all_open = std::ranges::all_of(branches, &plan::Branch::to_choose);
    for (auto& branch : branches) {
        if (!branch.to_choose) continue;
        auto const phase = branch.way.empty() ? std::nullopt : plan::conductor_of_way(panel, branch.way);
        if (!phase) {
            proposal.standing = Standing::open;
            proposal.ask = "the phase of " + branch.id + ": its way is not on the map of panel " + panel.id +
                           "; name the way, or measure";
            return proposal;
        }
        branch.phase = *phase;
        branch.to_choose = false;
    }
    if (all_open) {
        std::vector<Conductor> phases;
        for (auto const& branch : branches) phases.push_back(branch.phase);
        auto const on = circuits_on_inputs(phases, std::max(phases.size(), phases_of_meter));
        std::vector<std::pair<std::size_t, plan::Branch>> sorted;
        for (std::size_t k = 0; k < branches.size(); ++k) sorted.emplace_back(on.input_of[k], branches[k]);
        std::ranges::stable_sort(sorted, {}, [](auto const& one) { return one.first; });
        for (std::size_t k = 0; k < branches.size(); ++k) branches[k] = sorted[k].second;
        proposal.reasons.emplace_back(
            on.out_of_order == 0 ? "every input has the voltage of its place in the order of the phases"
                                 : "as few voltage leads as possible leave the order of the phases: " +
                                       std::to_string(on.out_of_order));
    }
    for (std::size_t k = 0; k < branches.size(); ++k)
        proposal.choice += (k == 0 ? "" : ", ") +
                           ("input " + std::to_string(k + 1) + ": " + branches[k].id + " on ") +
                           name_of(site, branches[k].phase);
    proposal.reasons.emplace_back("each circuit's phase is what its way touches on the panel's pole map");
    proposal.assumed.emplace_back(measure_first);
    return proposal;
}

// A phase that the plan has decided, against what the map says: told, not changed.
void compare_with_map(plan::Site const& site, plan::Panel const& panel, plan::MeteringPoint const& point,
                      std::vector<Proposal>& all) {
    for (auto const& branch : point.model_options.branches) {
        auto const phase =
            branch.way.empty() || branch.to_choose ? std::nullopt : plan::conductor_of_way(panel, branch.way);
        if (!phase || *phase == branch.phase || is_overruled(point, "inputs")) continue;
        all.push_back({.part = Part::inputs,
                       .where = point.id,
                       .standing = Standing::offered,
                       .choice = branch.id + " on " + name_of(site, *phase),
                       .reasons = {"way " + branch.way + " of panel " + panel.id + " touches " +
                                   name_of(site, *phase) + " by the pole map"},
                       .assumed = {measure_first},
                       .instead_of = name_of(site, branch.phase) + ", as the plan has it"});
    }
}

bool is_being_designed(plan::MeteringPoint const& point) {
    return point.to_choose.meter || point.to_choose.ct;
}
}  // namespace

std::vector<Proposal> choose_phases(plan::Site& site) {
    std::vector<Proposal> all;
    for (auto& point : site.points) {
        auto const* const panel = panel_of(site, point.panel);
        if (point.service != plan::Service::one_phase_two_wire || panel == nullptr) continue;
        auto& branches = point.model_options.branches;
        compare_with_map(site, *panel, point, all);
        if (std::ranges::any_of(branches, &plan::Branch::to_choose)) {
            all.push_back(branches_of(site, *panel, point));
            continue;
        }
        auto const phase = branches.empty() && !point.way.empty() && is_being_designed(point)
                               ? plan::conductor_of_way(*panel, point.way)
                               : std::nullopt;
        if (!phase || *phase == Conductor::a) continue;
        branches.push_back({.id = point.id, .phase = *phase, .way = point.way});
        all.push_back({.part = Part::inputs,
                       .where = point.id,
                       .choice = "its voltage from " + name_of(site, *phase),
                       .reasons = {"way " + point.way + " touches " + name_of(site, *phase) +
                                   " on the panel's pole map"},
                       .assumed = {measure_first}});
    }
    return all;
}

namespace {
struct Circuit {
    std::size_t point = 0;
    Conductor phase = Conductor::a;
};
using Sharing = std::map<std::pair<std::string, double>, std::vector<Circuit>>;  // by panel and breaker

Sharing circuits_that_could(plan::Site const& site) {
    Sharing groups;
    for (std::size_t k = 0; k < site.points.size(); ++k) {
        auto const& point = site.points[k];
        auto const* const panel = panel_of(site, point.panel);
        if (point.service != plan::Service::one_phase_two_wire || panel == nullptr || point.way.empty() ||
            !point.breaker_a)
            continue;
        if (!point.to_choose.ct || !point.to_choose.meter || !point.to_choose.address ||
            point.model_options.branches.size() > 1)
            continue;
        if (is_overruled(point, "sharing") || !point.installed) continue;
        if (auto const phase = plan::conductor_of_way(*panel, point.way))
            groups[{point.panel, *point.breaker_a}].push_back({k, *phase});
    }
    return groups;
}

// The first becomes the meter's point, the others its branches.
void merge(plan::Site& site, std::vector<Circuit> const& circuits, std::vector<char>& gone) {
    auto& first = site.points[circuits.front().point];
    first.model_options.branches.clear();
    for (auto const& circuit : circuits) {
        auto const& point = site.points[circuit.point];
        first.model_options.branches.push_back({.id = point.id, .phase = circuit.phase, .way = point.way});
        if (circuit.point != circuits.front().point) gone[circuit.point] = 1;
        if (point.usual_a) first.usual_a = std::max(first.usual_a.value_or(0.0), *point.usual_a);
        if (point.most_a) first.most_a = std::max(first.most_a.value_or(0.0), *point.most_a);
        if (point.least_a) first.least_a = std::min(first.least_a.value_or(*point.least_a), *point.least_a);
    }
    first.way.clear();
}

Proposal sharing_of(plan::Site const& site, std::vector<Circuit> const& circuits) {
    auto const& first = site.points[circuits.front().point];
    Proposal proposal{.part = Part::sharing, .where = first.panel, .standing = Standing::offered};
    for (auto const& circuit : circuits)
        proposal.choice += (proposal.choice.empty() ? "one meter for " : ", ") +
                           site.points[circuit.point].id + " (" + name_of(site, circuit.phase) + ")";
    proposal.reasons = {
        "a meter of three inputs takes one circuit of each phase, each with its own voltage",
        "they have breakers of one rating, so one CT ratio suits all",
        std::to_string(circuits.size() - 1) + (circuits.size() == 2 ? " meter less" : " meters less")};
    proposal.assumed = {measure_first};
    return proposal;
}
}  // namespace

std::vector<Proposal> choose_sharing(plan::Site& site, std::vector<MeterOffer> const& offers,
                                     Settings const& settings) {
    bool const is_possible = std::ranges::any_of(offers, [](MeterOffer const& offer) {
        return offer.current_inputs >= 3 &&
               std::ranges::find(offer.services, plan::Service::four_wire_wye) != offer.services.end();
    });
    std::vector<Proposal> all;
    std::vector<char> gone(site.points.size(), 0);
    if (!is_possible) return all;
    for (auto const& [key, circuits] : circuits_that_could(site)) {
        std::vector<Conductor> phases;
        for (auto const& circuit : circuits) phases.push_back(circuit.phase);
        for (auto const& meter : circuits_on_meters(phases)) {
            if (meter.size() < 2) continue;
            std::vector<Circuit> together;
            for (auto const k : meter) together.push_back(circuits[k]);
            auto proposal = sharing_of(site, together);
            bool const bound = std::ranges::any_of(together, [&](Circuit const& one) {
                return is_spoken_of(site, site.points[one.point].id) ||
                       !site.points[one.point].parent.empty();
            });
            if (bound)
                proposal.reasons.emplace_back(
                    "sums or parents of the plan name these points: those lines are to be changed with it");
            if (settings.share_meters && !bound) {
                proposal.standing = Standing::taken;
                proposal.instead_of = "a meter each: they are branches of the point " +
                                      site.points[together.front().point].id + " now";
                merge(site, together, gone);
            }
            all.push_back(std::move(proposal));
        }
    }
    std::vector<plan::MeteringPoint> left;
    for (std::size_t k = 0; k < site.points.size(); ++k)
        if (gone[k] == 0) left.push_back(std::move(site.points[k]));
    site.points = std::move(left);
    return all;
}

}  // namespace phasewright::design
