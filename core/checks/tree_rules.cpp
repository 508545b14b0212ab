// Is every load counted once? A point's meter sees its children's loads too, so in a sum a load is counted as
// often as the meters over it are:   c(load) = sum of the coefficients of its point and of all points above
// it 1 is right for what belongs to the sum, 0 for what does not.
#include <algorithm>
#include <array>
#include <cstdlib>
#include <unordered_map>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {

constexpr int most_counted = 1000;  // sums of sums of themselves stop counting here

struct Tree {
    std::vector<int> parent;  // -1: none
    std::vector<std::vector<std::size_t>> children;
    std::unordered_map<std::string_view, std::size_t> point_at;
    std::vector<std::unordered_map<std::size_t, int>> counted;  // of each sum: coefficients by point
};

Tree tree_of(Ground const& ground) {
    Tree tree;
    auto const count = ground.points.size();
    tree.parent.assign(count, -1);
    tree.children.resize(count);
    for (std::size_t k = 0; k < count; ++k) tree.point_at.emplace(ground.points[k].point->id, k);
    for (std::size_t k = 0; k < count; ++k) {
        auto const found = tree.point_at.find(ground.points[k].point->parent);
        if (found == tree.point_at.end() || found->second == k) continue;
        tree.parent[k] = static_cast<int>(found->second);
        tree.children[found->second].push_back(k);
    }
    std::unordered_map<std::string_view, std::size_t> sum_at;
    for (auto const& sum : ground.site.sums) {
        std::unordered_map<std::size_t, int> own;
        auto const add = [&](std::string const& id, int sign) {
            if (auto const point = tree.point_at.find(id); point != tree.point_at.end())
                own[point->second] += sign;
            if (auto const other = sum_at.find(id); other != sum_at.end())
                for (auto const& [point, times] : tree.counted[other->second])
                    own[point] = std::clamp(own[point] + sign * times, -most_counted, most_counted);
        };
        for (auto const& id : sum.plus) add(id, 1);
        for (auto const& id : sum.minus) add(id, -1);
        sum_at.emplace(sum.id, tree.counted.size());
        tree.counted.push_back(std::move(own));
    }
    return tree;
}

int coefficient(std::unordered_map<std::size_t, int> const& counted, std::size_t point) {
    auto const found = counted.find(point);
    return found == counted.end() ? 0 : found->second;
}

// How often the load at a point is counted. A ring of parents is walked once round at most.
int times_counted(Tree const& tree, std::unordered_map<std::size_t, int> const& counted, std::size_t point) {
    int times = 0;
    std::size_t steps = 0;
    for (int at = static_cast<int>(point); at >= 0 && steps++ <= tree.parent.size();
         at = tree.parent[static_cast<std::size_t>(at)])
        times += coefficient(counted, static_cast<std::size_t>(at));
    return times;
}

std::vector<std::size_t> in_order(std::unordered_map<std::size_t, int> const& counted) {
    std::vector<std::size_t> points;
    for (auto const& [point, times] : counted)
        if (times != 0) points.push_back(point);
    std::ranges::sort(points);
    return points;
}

std::string counted_above(Tree const& tree, std::unordered_map<std::size_t, int> const& counted,
                          std::size_t point, Ground const& ground) {
    std::size_t steps = 0;
    for (int at = tree.parent[point]; at >= 0 && steps++ <= tree.parent.size();
         at = tree.parent[static_cast<std::size_t>(at)])
        if (coefficient(counted, static_cast<std::size_t>(at)) != 0)
            return ground.points[static_cast<std::size_t>(at)].point->id;
    return {};
}

void look_at_twice(Ground const& ground, Notes& notes) {
    auto const tree = tree_of(ground);
    for (std::size_t k = 0; k < tree.counted.size(); ++k)
        for (auto const point : in_order(tree.counted[k])) {
            int const times = times_counted(tree, tree.counted[k], point);
            if (times >= 0 && times <= 1) continue;
            auto const above = counted_above(tree, tree.counted[k], point, ground);
            auto what = times > 1 ? "its load is counted " + std::to_string(times) + " times in " +
                                        ground.site.sums[k].id
                                  : "its load is taken away " + std::to_string(std::abs(times)) +
                                        (times == -1 ? " time" : " times") + " in " + ground.site.sums[k].id +
                                        ", which does not count it";
            if (!above.empty()) what += ": once by its own meter, and by " + above + " above it";
            notes.add({.places = {at_point(ground.points[point]), {PlaceKind::sum, ground.site.sums[k].id}},
                       .what = std::move(what),
                       .value = times,
                       .limit = 1.0,
                       .unit = "times"});
        }
}

// The topmost points under `top` whose loads the sum does not count.
std::vector<std::string> missing_under(Tree const& tree, std::unordered_map<std::size_t, int> const& counted,
                                       std::size_t top, Ground const& ground) {
    std::vector<char> has_counted(tree.parent.size(), 0);  // it, or something under it, stands in the sum
    for (auto const point : in_order(counted))
        for (int at = static_cast<int>(point); at >= 0 && has_counted[static_cast<std::size_t>(at)] == 0;
             at = tree.parent[static_cast<std::size_t>(at)])
            has_counted[static_cast<std::size_t>(at)] = 1;
    std::vector<std::string> missing;
    std::vector<char> seen(tree.parent.size(), 0);
    std::vector<std::size_t> open(tree.children[top].rbegin(), tree.children[top].rend());
    while (!open.empty()) {
        auto const point = open.back();
        open.pop_back();
        if (seen[point] != 0 || coefficient(counted, point) != 0) continue;
        seen[point] = 1;
        if (has_counted[point] == 0)
            missing.push_back(ground.points[point].point->id);
        else
            open.insert(open.end(), tree.children[point].rbegin(), tree.children[point].rend());
    }
    return missing;
}

bool is_under(Tree const& tree, std::size_t point, std::size_t top) {
    std::size_t steps = 0;
    for (int at = static_cast<int>(point); at >= 0 && steps++ <= tree.parent.size();
         at = tree.parent[static_cast<std::size_t>(at)])
        if (static_cast<std::size_t>(at) == top) return true;
    return false;
}

void look_at_comparison(Ground const& ground, Notes& notes) {
    auto const tree = tree_of(ground);
    for (std::size_t k = 0; k < tree.counted.size(); ++k) {
        auto const& sum = ground.site.sums[k];
        auto const top = tree.point_at.find(sum.compared_with);
        if (top == tree.point_at.end()) continue;
        std::vector<Place> places{{PlaceKind::sum, sum.id}, at_point(ground.points[top->second])};
        std::vector<std::string> foreign;
        for (auto const point : in_order(tree.counted[k]))
            if (coefficient(tree.counted[k], point) > 0 &&
                (point == top->second || !is_under(tree, point, top->second)))
                foreign.push_back(ground.points[point].point->id);
        if (!foreign.empty() && !tree.children[top->second].empty())
            notes.add({.places = places,
                       .what = "it is held against " + sum.compared_with + ", which does not see " +
                               named(foreign) + " as something under it"});
        auto const missing = missing_under(tree, tree.counted[k], top->second, ground);
        if (!missing.empty())
            notes.add({.places = places,
                       .what = "it is held against " + sum.compared_with +
                               ", and leaves out what that one also sees: " + named(missing),
                       .value = static_cast<double>(missing.size()),
                       .limit = 0.0,
                       .unit = "points"});
    }
}

void look_at_ways(Ground const& ground, Notes& notes) {
    auto const tree = tree_of(ground);
    std::unordered_map<std::string, std::size_t> first_on;
    for (std::size_t k = 0; k < ground.points.size(); ++k) {
        auto const& point = *ground.points[k].point;
        if (point.way.empty() || point.panel.empty()) continue;
        auto const [first, is_new] = first_on.emplace(point.panel + "\n" + point.way, k);
        if (is_new || is_under(tree, k, first->second) || is_under(tree, first->second, k)) continue;
        auto const& other = *ground.points[first->second].point;
        if (point.purpose_kind == plan::PurposeKind::check || other.purpose_kind == plan::PurposeKind::check)
            continue;
        notes.add({.places = {at_point(ground.points[k]),
                              at_point(ground.points[first->second]),
                              {PlaceKind::panel, point.panel}},
                   .what = "way " + point.way + " is metered by " + other.id +
                           " too, and neither stands under the other"});
    }
}

void look_at_left_out(Ground const& ground, Notes& notes) {
    auto const tree = tree_of(ground);
    bool const has_tree =
        std::ranges::any_of(tree.parent, [](int parent) { return parent >= 0; }) || !tree.counted.empty();
    if (!has_tree) return;
    std::vector<char> used(ground.points.size(), 0);
    for (auto const& counted : tree.counted)
        for (auto const& [point, times] : counted) used[point] = 1;
    for (auto const& sum : ground.site.sums)
        if (auto const top = tree.point_at.find(sum.compared_with); top != tree.point_at.end())
            used[top->second] = 1;
    std::vector<std::string> left_out;
    std::vector<Place> places;
    for (std::size_t k = 0; k < ground.points.size(); ++k)
        if (tree.parent[k] < 0 && tree.children[k].empty() && used[k] == 0) {
            left_out.push_back(ground.points[k].point->id);
            places.push_back(at_point(ground.points[k]));
        }
    if (!left_out.empty())
        notes.add({.places = std::move(places),
                   .what = std::to_string(left_out.size()) +
                           (left_out.size() == 1 ? " point stands" : " points stand") +
                           " under no meter and in no sum: " + named(left_out)});
}

void look_at_children(Ground const& ground, Notes& notes) {
    auto const tree = tree_of(ground);
    for (std::size_t k = 0; k < ground.points.size(); ++k) {
        auto const& point = *ground.points[k].point;
        if (!point.breaker_a) continue;
        for (auto const child : tree.children[k]) {
            auto const& below = *ground.points[child].point;
            if (!below.breaker_a || *below.breaker_a <= *point.breaker_a || below.service != point.service)
                continue;
            notes.add({.places = {at_point(ground.points[child]), at_point(ground.points[k])},
                       .what = "its breaker of " + figure(*below.breaker_a) + " A is larger than that of " +
                               point.id + " above it, " + figure(*point.breaker_a) + " A",
                       .value = below.breaker_a,
                       .limit = point.breaker_a,
                       .unit = "A"});
        }
    }
}

constexpr RuleSource once{"derived", "", "every load is counted once", plan::Footing::derived};

constexpr std::array rules{
    Rule{.id = "tree.counted-twice",
         .title = "a sum counts a load twice, or takes away what it does not count",
         .source = once,
         .remedy = "leave the point out of the sum, or take it away from the one above",
         .look = look_at_twice},
    Rule{.id = "tree.comparison",
         .title = "a sum and the meter that it is held against do not see the same",
         .source = once,
         .remedy = "add what is left out to the sum, or correct the parents",
         .look = look_at_comparison},
    Rule{.id = "tree.way-twice",
         .title = "two points meter one way, side by side",
         .source = once,
         .remedy = "correct the way, make one the parent of the other, or call one a check",
         .look = look_at_ways},
    Rule{.id = "tree.left-out",
         .title = "points stand under no meter and in no sum",
         .severity = Severity::mind,
         .source = once,
         .remedy = "say their parent, or put them in a sum",
         .look = look_at_left_out},
    Rule{.id = "tree.larger-child",
         .title = "a point's breaker is larger than that of the point above it",
         .severity = Severity::mind,
         .source = {"the plan", "", "parent and breaker_a", plan::Footing::derived},
         .remedy = "correct the parent or the breaker",
         .look = look_at_children},
};
}  // namespace

std::span<Rule const> tree_rules() { return rules; }

}  // namespace phasewright::checks
