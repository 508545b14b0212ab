// Unit ids of meters (lines.hpp).
#include <algorithm>
#include <map>
#include <set>

#include "core/design/lines.hpp"

namespace phasewright::design {

namespace {
constexpr int least_unit =
    1;  // 0 is a broadcast, 248 to 255 are reserved: MODBUS over Serial Line V1.02, clause 2.2
constexpr int most_unit = 247;

std::string bus_of(plan::BusAddress const& address) {
    if (!address.serial_line.empty()) return "line " + address.serial_line;
    return address.gateway.empty() ? std::string{} : "gateway " + address.gateway;
}
struct Units {
    std::set<int> used;
    std::set<int> delivered;
};
}  // namespace

std::vector<Proposal> choose_addresses(plan::Site& site, Meters const& meters) {
    std::map<std::string, Units, std::less<>> buses;
    for (std::size_t k = 0; k < site.points.size(); ++k) {
        auto const& point = site.points[k];
        auto& units = buses[bus_of(point.address)];
        if (!point.to_choose.address) units.used.insert(point.address.unit);
        if (meters[k] != nullptr && meters[k]->bus && meters[k]->bus->delivered_address)
            units.delivered.insert(*meters[k]->bus->delivered_address);
    }
    std::vector<Proposal> proposals;
    // In the order of the line, so that the numbers rise along it.
    std::vector<std::size_t> open;
    for (std::size_t k = 0; k < site.points.size(); ++k)
        if (site.points[k].to_choose.address && !bus_of(site.points[k].address).empty()) open.push_back(k);
    std::ranges::stable_sort(open, {}, [&](std::size_t k) { return site.points[k].address.position; });
    for (auto const k : open) {
        auto& point = site.points[k];
        auto& units = buses[bus_of(point.address)];
        Proposal proposal{.part = Part::address, .where = point.id};
        int unit = 0;
        for (bool const avoid : {true, false})
            for (int one = least_unit; one <= most_unit && unit == 0; ++one)
                if (!units.used.contains(one) && !(avoid && units.delivered.contains(one))) unit = one;
        if (unit == 0) {
            proposal.standing = Standing::open;
            proposal.ask = "another line or gateway: all of 1 to 247 are taken on this one";
            proposals.push_back(std::move(proposal));
            continue;
        }
        units.used.insert(unit);
        point.address.unit = unit;
        point.to_choose.address = false;
        proposal.choice = "unit " + std::to_string(unit) + " on " + bus_of(point.address);
        proposal.reasons.emplace_back("it is the lowest that is free there");
        if (!units.delivered.empty()) {
            std::string words;
            for (int const one : units.delivered) words += (words.empty() ? "" : ", ") + std::to_string(one);
            proposal.reasons.push_back(
                units.delivered.contains(unit)
                    ? "nothing but addresses of new meters is left (" + words + ")"
                    : "new meters of this bus come with " + words +
                          "; one of those could be mistaken for a meter that was just put in");
        }
        proposals.push_back(std::move(proposal));
    }
    return proposals;
}

}  // namespace phasewright::design
