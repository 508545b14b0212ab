// Places along a serial line (lines.hpp).
#include <algorithm>
#include <map>

#include "core/design/chain_order.hpp"
#include "core/design/lines.hpp"
#include "core/design/words.hpp"

namespace phasewright::design {

namespace {
constexpr double worth_a_change_m = 5.0;  // of cable that another order saves, before it is offered; ours
constexpr double worth_a_change_share = 0.05;

struct Member {
    std::size_t point = 0;
    std::string panel;
};

class Ordering {
public:
    Ordering(plan::Site& site, plan::SerialLine& line, std::vector<std::size_t> const& members,
             Distances& distances, Settings const& settings)
        : site_(site), line_(line), distances_(distances), settings_(settings) {
        for (auto const k : members) (address(k).position > 0 ? placed_ : open_).push_back(k);
        std::ranges::stable_sort(placed_, {}, [&](std::size_t k) { return address(k).position; });
    }

    std::vector<Proposal> order() {
        refuse_branches();
        head_ = line_.panel.empty() ? site_.panels.front().id : line_.panel;
        head_is_assumed_ = line_.panel.empty();
        if (!open_.empty())
            place_open();
        else
            offer_shorter();
        say_ends();
        return std::move(proposals_);
    }

private:
    plan::BusAddress& address(std::size_t k) { return site_.points[k].address; }
    std::string const& panel(std::size_t k) const { return site_.points[k].panel; }

    // Two meters at one place would be a branch or a star.
    void refuse_branches() {
        for (std::size_t k = 1; k < placed_.size();) {
            if (address(placed_[k]).position != address(placed_[k - 1]).position) {
                ++k;
                continue;
            }
            auto const at = placed_[k];
            moved_.emplace(at, address(at).position);
            address(at).position = 0;
            open_.push_back(at);
            placed_.erase(placed_.begin() + static_cast<std::ptrdiff_t>(k));
        }
    }

    std::vector<std::string> panels_of(std::vector<std::size_t> const& members) const {
        std::vector<std::string> panels;
        for (auto const k : members)
            if (std::ranges::find(panels, panel(k)) == panels.end()) panels.push_back(panel(k));
        return panels;
    }
    std::optional<Matrix> matrix(std::string const& from, std::vector<std::string> const& panels) {
        Matrix metres(panels.size() + 1, std::vector<double>(panels.size() + 1, 0.0));
        for (std::size_t i = 0; i <= panels.size(); ++i)
            for (std::size_t j = i + 1; j <= panels.size(); ++j) {
                auto const& one = i == 0 ? from : panels[i - 1];
                auto const between = distances_.metres(one, panels[j - 1]);
                if (!between) {
                    unknown_ = one + " and " + panels[j - 1];
                    return std::nullopt;
                }
                metres[i][j] = metres[j][i] = *between;
            }
        return metres;
    }

    void place_open() {
        auto const from = placed_.empty() ? head_ : panel(placed_.back());
        auto panels = panels_of(open_);
        auto const metres_between = matrix(from, panels);
        Chain chain;
        if (metres_between) chain = shortest_chain(*metres_between);
        std::vector<std::string> order;
        for (auto const stop : chain.stops) order.push_back(panels[stop - 1]);
        if (!metres_between) order = panels;
        int position = placed_.empty() ? 0 : address(placed_.back()).position;
        std::string before = from;
        std::vector<std::size_t> in_order;
        for (auto const& at_panel : order)
            for (auto const k : open_)
                if (panel(k) == at_panel) in_order.push_back(k);
        for (auto const k : in_order) {
            auto const along = distances_.metres(before, panel(k));
            bool const same = panel(k) == before;  // from the head too
            propose(k, ++position, same ? std::optional(settings_.between_meters_m) : along, chain,
                    metres_between ? star_length(*metres_between) : 0.0, metres_between.has_value());
            before = panel(k);
            placed_.push_back(k);
        }
    }

    void propose(std::size_t k, int position, std::optional<double> along, Chain const& chain, double star,
                 bool known) {
        auto& own = address(k);
        Proposal proposal{.part = Part::position, .where = site_.points[k].id};
        own.position = position;
        if (known && !own.distance_m) own.distance_m = along;
        if (!own.drop_m) own.drop_m = 0.0;
        proposal.choice = "place " + std::to_string(position) + " on " + line_.id;
        if (known && along) {
            proposal.choice += ", " + metres(*along) + " of cable from the place before";
            proposal.cost.cable_m = *own.distance_m;
            proposal.reasons.push_back(
                std::string{chain.exact ? "no other order of these panels needs less cable than "
                                        : "no exchange of panels in this order saves cable; it needs "} +
                metres(chain.length_m));
            if (star > chain.length_m + worth_a_change_m)
                proposal.others.push_back({"a lead of its own to every panel, " + metres(star),
                                           "a star throws the signal back at every branch and takes " +
                                               metres(star - chain.length_m) +
                                               " more (MODBUS over Serial Line V1.02, 3.4)"});
            if (head_is_assumed_) proposal.assumed.push_back("that the head stands at panel " + head_);
        } else {
            proposal.reasons.emplace_back("panels in the order of the plan");
            proposal.assumed.push_back("nothing of the cable: between " + unknown_ +
                                       " no distance is known (place_m, or a run)");
        }
        proposal.reasons.emplace_back(
            "the line passes through the meter's own terminals, so there is no drop");
        if (auto const was = moved_.find(k); was != moved_.end())
            proposal.instead_of = "place " + std::to_string(was->second) +
                                  ", where another meter stands: a branch, and a line has none";
        proposals_.push_back(std::move(proposal));
    }

    void offer_shorter() {
        auto const panels = panels_of(placed_);
        auto const metres_between = matrix(head_, panels);
        if (!metres_between || panels.size() < 2) return;
        double now = 0.0;
        std::string before = head_;
        for (auto const k : placed_) {
            now += distances_.metres(before, panel(k)).value_or(0.0);
            before = panel(k);
        }
        auto const chain = shortest_chain(*metres_between);
        double const saved = now - chain.length_m;
        if (saved < worth_a_change_m || saved < worth_a_change_share * now) return;
        Proposal proposal{.part = Part::position, .where = line_.id, .standing = Standing::offered};
        for (auto const stop : chain.stops)
            proposal.choice += (proposal.choice.empty() ? "through " : ", ") + panels[stop - 1];
        proposal.reasons.push_back("it needs " + metres(chain.length_m) + " of cable between panels, " +
                                   metres(saved) + " less");
        proposal.instead_of = "the places that the plan has decided, " + metres(now);
        proposal.cost.cable_m = chain.length_m;
        if (head_is_assumed_) proposal.assumed.push_back("that the head stands at panel " + head_);
        proposals_.push_back(std::move(proposal));
    }

    void say_ends() {
        if (placed_.empty()) return;
        int const last = address(placed_.back()).position;
        double along = 0.0;
        bool all_known = true;
        for (auto const k : placed_) {
            along += address(k).distance_m.value_or(0.0);
            all_known = all_known && address(k).distance_m.has_value();
        }
        std::vector<int> const ends{0, last};
        bool const is_said = line_.terminators && (line_.terminators == ends || open_.empty());
        if (is_said && line_.bias_at) return;
        if (all_known && line_.length_m < along) line_.length_m = along;
        Proposal proposal{
            .part = Part::line,
            .where = line_.id,
            .choice = "terminators at the head and at place " + std::to_string(last) + ", bias at the head"};
        proposal.reasons.emplace_back(
            "two terminators, at both ends and nowhere else; one bias (MODBUS over Serial Line V1.02, 3.4.5, "
            "3.4.6)");
        if (line_.terminators && !is_said)
            proposal.instead_of = "the terminators of the plan: the line ends elsewhere now";
        proposal.cost.cable_m = line_.length_m;
        if (!is_said) line_.terminators = ends;
        if (!line_.bias_at) line_.bias_at = 0;
        proposals_.push_back(std::move(proposal));
    }

    plan::Site& site_;
    plan::SerialLine& line_;
    Distances& distances_;
    Settings const& settings_;
    std::vector<std::size_t> placed_, open_;
    std::map<std::size_t, int> moved_;
    std::string head_;
    std::string unknown_;
    bool head_is_assumed_ = false;
    std::vector<Proposal> proposals_;
};
}  // namespace

std::vector<Proposal> choose_positions(plan::Site& site, Distances& distances, Settings const& settings) {
    std::vector<Proposal> all;
    if (site.panels.empty()) return all;
    std::map<std::string, std::vector<std::size_t>, std::less<>> members;
    for (std::size_t k = 0; k < site.points.size(); ++k) {
        auto const& point = site.points[k];
        if (!point.address.serial_line.empty() && !is_overruled(point, "position"))
            members[point.address.serial_line].push_back(k);
    }
    for (auto& line : site.serial_lines) {
        auto const found = members.find(line.id);
        if (found == members.end()) continue;
        for (auto& proposal : Ordering(site, line, found->second, distances, settings).order())
            all.push_back(std::move(proposal));
    }
    return all;
}

}  // namespace phasewright::design
