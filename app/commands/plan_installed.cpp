#include "app/commands/plan_installed.hpp"

#include <algorithm>
#include <set>

namespace phasewright::commands {

void keep_what_is_installed(plan::Site& site) {
    std::set<std::string> gone;
    for (auto const& point : site.points)
        if (!point.installed) gone.insert(point.id);
    if (gone.empty()) return;
    auto const is_gone = [&](std::string const& id) { return gone.contains(id); };
    std::erase_if(site.points, [](plan::MeteringPoint const& point) { return !point.installed; });
    for (auto& point : site.points)
        if (is_gone(point.parent)) point.parent.clear();
    // A sum is made of sums before it only, so one walk is enough.
    for (auto& sum : site.sums) {
        std::erase_if(sum.plus, is_gone);
        std::erase_if(sum.minus, is_gone);
        if (is_gone(sum.compared_with)) sum.compared_with.clear();
        if (sum.plus.empty() && sum.minus.empty()) gone.insert(sum.id);
    }
    std::erase_if(site.sums, [&](plan::Sum const& sum) { return is_gone(sum.id); });
}

}  // namespace phasewright::commands
