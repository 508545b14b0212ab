#include "core/design/design.hpp"

#include <algorithm>
#include <set>
#include <unordered_map>

#include "core/design/choose_meter.hpp"
#include "core/design/choose_supply.hpp"
#include "core/design/choose_tap.hpp"
#include "core/design/distances.hpp"
#include "core/design/inputs.hpp"
#include "core/design/lines.hpp"
#include "core/design/words.hpp"
#include "core/plan/region.hpp"

namespace phasewright::design {

namespace {
constexpr auto nothing_said = "the usual current, or the rating of the breaker";

class Designing {
public:
    Designing(Design& result, Catalogue const& catalogue, std::vector<MeterOffer> const& offers,
              Settings const& settings)
        : result_(result), site_(result.site), catalogue_(catalogue), settings_(settings) {
        for (auto const& point : site_.points)
            if (point.to_choose.any()) touched_.insert(point.id);
        for (auto const& offer : offers) {
            by_profile_.emplace(offer.profile, &offer);
            offers_.push_back(&offer);
        }
        for (auto const& panel : site_.panels) panels_.emplace(panel.id, &panel);
        for (auto const& point : site_.points)
            if (!point.to_choose.meter) in_use_.insert(point.meter_profile);
    }

    void run() {
        for (auto& point : site_.points)
            if (auto const found = panels_.find(point.panel); found != panels_.end())
                instruments(point, *found->second);
        Distances distances(site_);
        supplies(distances);
        Meters meters;
        for (auto const& point : site_.points) meters.push_back(hardware_of(point));
        add(choose_lines(site_, meters, distances, settings_));
        add(choose_positions(site_, distances, settings_));
        add(choose_addresses(site_, meters));
    }

private:
    void add(std::vector<Proposal> more) {
        for (auto& proposal : more) result_.proposals.push_back(std::move(proposal));
    }
    void add(Proposal proposal) { result_.proposals.push_back(std::move(proposal)); }
    [[nodiscard]] plan::MeterHardware const* hardware_of(plan::MeteringPoint const& point) const {
        auto const found = by_profile_.find(point.meter_profile);
        return point.to_choose.meter || found == by_profile_.end() ? nullptr : &found->second->hardware;
    }
    [[nodiscard]] std::optional<double> breaker_of(plan::MeteringPoint const& point,
                                                   plan::Panel const& panel) const {
        if (point.breaker_a) return point.breaker_a;
        auto const* const way = plan::way_of(panel, point.way);
        return way == nullptr ? std::nullopt : way->breaker_a;
    }
    template <class Entry>
    Entry const* named(std::vector<Entry> const& entries, std::string const& id) const {
        auto const found = std::ranges::find(entries, id, &Entry::id);
        return found == entries.end() ? nullptr : &*found;
    }
    void ask(Part part, plan::MeteringPoint const& point, std::string what,
             std::vector<NotChosen> others = {}) {
        add({.part = part,
             .where = point.id,
             .standing = Standing::open,
             .others = std::move(others),
             .ask = std::move(what)});
    }
    // Overruled and still without a choice of its own: nothing is proposed again.
    bool is_kept(Part part, plan::MeteringPoint const& point) {
        auto const word = plan::name_of(part);
        auto const found =
            std::ranges::find_if(point.overruled, [&](auto const& one) { return one.what == word; });
        if (found == point.overruled.end()) return false;
        add({.part = part,
             .where = point.id,
             .standing = Standing::kept,
             .reasons = {"overruled" + (found->by.empty() ? "" : " by " + found->by) + ": " +
                         found->reason}});
        return true;
    }

    void instruments(plan::MeteringPoint& point, plan::Panel const& panel) {
        auto const breaker = breaker_of(point, panel);
        auto const load = load_of(point, breaker, settings_);
        if (point.to_choose.meter) choose_meter(point, panel, breaker, load);
        auto const* const meter = hardware_of(point);
        if (point.to_choose.ct && !point.to_choose.meter) choose_ct(point, panel, breaker, load, meter);
        if (meter == nullptr) return;
        choose_lead(point, panel, breaker, load, *meter);
        choose_the_tap(point, panel, breaker, *meter);
    }

    void choose_meter(plan::MeteringPoint& point, plan::Panel const& panel, std::optional<double> breaker,
                      std::optional<LoadProfile> const& load) {
        if (is_kept(Part::meter, point)) return;
        MeterNeed const need{
            .point = &point,
            .panel = &panel,
            .line = point.to_choose.address ? nullptr : named(site_.serial_lines, point.address.serial_line),
            .supply = point.supply ? named(site_.supplies, point.supply->supply) : nullptr,
            .breaker_a = breaker,
            .load = load,
            .first_commissioning = site_.first_commissioning,
            .sizes = site_.region.sizes,
            .in_use = &in_use_};
        auto const ranking = rank_meters(need, offers_, catalogue_, settings_);
        if (!ranking.best)
            return ask(Part::meter, point, "another meter, or another demand: none of the profiles suits",
                       ranking.others);
        auto const& best = *ranking.best;
        Proposal proposal{.part = Part::meter,
                          .where = point.id,
                          .choice = best.offer->name,
                          .reasons = best.reasons,
                          .others = ranking.others};
        if (point.accuracy_percent && (!best.bound || best.bound->usual_percent > *point.accuracy_percent))
            proposal.ask = "whether " + percent(*point.accuracy_percent) +
                           " are wanted in earnest: no choice proves them at the usual load";
        proposal.cost.va = needed_by(best.offer->hardware).va;
        point.meter_profile = best.offer->profile;
        point.to_choose.meter = false;
        in_use_.insert(best.offer->profile);
        add(std::move(proposal));
        if (best.vt != nullptr) take_vt(point, panel, *best.offer);
    }

    void take_vt(plan::MeteringPoint& point, plan::Panel const& panel, MeterOffer const& offer) {
        auto const ranking = rank_vts(offer.hardware, panel.nominal, catalogue_, settings_);
        if (ranking.best == nullptr || is_kept(Part::vt, point)) return;
        point.vt = ranking.best->ratio;
        point.vt_made = ranking.best->vt;
        add({.part = Part::vt,
             .where = point.id,
             .choice = ranking.best->vt.model,
             .reasons = ranking.reasons,
             .others = ranking.others,
             .assumed = {"nothing of its own error: it is not in the bound of the point"}});
    }

    void choose_ct(plan::MeteringPoint& point, plan::Panel const& panel, std::optional<double> breaker,
                   std::optional<LoadProfile> const& load, plan::MeterHardware const* meter) {
        if (is_kept(Part::ct, point)) return;
        if (!load) return ask(Part::ct, point, nothing_said);
        if (meter == nullptr)
            return ask(Part::ct, point,
                       "which outputs the meter's inputs take: nothing is known of \"" + point.meter_profile +
                           "\" as a thing with screws");
        auto const ranking = rank_cts(need_of(point, panel, breaker, *load, *meter), catalogue_, settings_);
        if (!ranking.best)
            return ask(Part::ct, point, "another CT, or another demand: none of the catalogue suits",
                       ranking.others);
        auto const& best = *ranking.best;
        Proposal proposal{.part = Part::ct,
                          .where = point.id,
                          .choice = ct_words(*best.offer),
                          .reasons = best.reasons,
                          .others = ranking.others,
                          .assumed = best.assumed};
        proposal.assumed.insert(proposal.assumed.end(), load->assumed.begin(), load->assumed.end());
        if (best.lead) proposal.cost.cable_m = best.lead->length_m;
        point.ct = best.offer->ct;
        point.lead = best.lead;
        point.to_choose.ct = false;
        add(std::move(proposal));
    }
    [[nodiscard]] CtNeed need_of(plan::MeteringPoint const& point, plan::Panel const& panel,
                                 std::optional<double> breaker, LoadProfile const& load,
                                 plan::MeterHardware const& meter) const {
        return {.point = &point,
                .panel = &panel,
                .breaker_a = breaker,
                .load = load,
                .meter = &meter,
                .first_commissioning = site_.first_commissioning,
                .sizes = site_.region.sizes};
    }

    // The wire of a lead whose CT is decided.
    void choose_lead(plan::MeteringPoint& point, plan::Panel const& panel, std::optional<double> breaker,
                     std::optional<LoadProfile> const& load, plan::MeterHardware const& meter) {
        bool const is_open = !point.to_choose.ct && point.lead && !point.lead->size;
        if (!is_open || !load || is_overruled(point, "lead")) return;
        Catalogue only;
        only.cts.push_back({.ct = point.ct});
        only.wires = catalogue_.wires;
        auto need = need_of(point, panel, breaker, *load, meter);
        need.breaker_a.reset();  // the CT is decided, whatever its rating
        need.load.steps[2].amperes = std::min(need.load.most_a(), point.ct.ratio.primary);
        auto const ranking = rank_cts(need, only, settings_);
        if (!ranking.best || !ranking.best->lead || !ranking.best->lead->size)
            return ask(Part::lead, point, "another lead or another CT: no wire of the catalogue suits",
                       ranking.others);
        point.lead = ranking.best->lead;
        add({.part = Part::lead,
             .where = point.id,
             .choice = metres(point.lead->length_m) + " of " + plan::text_of(*point.lead->size),
             .reasons = ranking.best->reasons,
             .assumed = ranking.best->assumed,
             .cost = {.cable_m = point.lead->length_m}});
    }

    void choose_the_tap(plan::MeteringPoint& point, plan::Panel const& panel, std::optional<double> breaker,
                        plan::MeterHardware const& meter) {
        if ((point.tap && is_whole(*point.tap)) || (!point.tap && !is_touched(point)) ||
            is_kept(Part::tap, point))
            return;
        TapNeed const need{
            .point = &point,
            .panel = &panel,
            .breaker_a = breaker ? breaker : panel.breaker_a,
            .meter = &meter,
            .feeds_meter = meter.supply && meter.supply->kind == plan::SupplyKind::voltage_inputs,
            .ten_feet = plan::rule_of(site_.region, "tap-10-ft") != nullptr,
            .sizes = site_.region.sizes};
        auto choice = choose_tap(need, catalogue_, settings_);
        if (!choice.tap)
            return ask(Part::tap, point,
                       need.ten_feet ? "another fuse or wire: none of the catalogue suits; heavier wire up "
                                       "to a fuse of its own, and thin wire "
                                       "from there to the meter, is one way"
                                     : "another fuse or wire: none of the catalogue suits",
                       choice.others);
        bool const is_decided =
            point.tap && point.tap->protection && *point.tap->protection != plan::TapProtection::fuse;
        Proposal proposal{.part = Part::tap,
                          .where = point.id,
                          .standing = is_decided ? Standing::offered : Standing::taken,
                          .choice = choice.words,
                          .reasons = choice.reasons,
                          .others = choice.others,
                          .assumed = choice.assumed,
                          .cost = {.cable_m = choice.tap->length_m.value_or(0.0), .va = choice.va}};
        if (is_decided)
            proposal.instead_of = "the protection that the plan has decided, \"" +
                                  std::string{plan::name_of(*point.tap->protection)} + "\"";
        else
            point.tap = choice.tap;
        add(std::move(proposal));
    }

    // A point that says nothing of its tap or supply is completed where something of it was open; a finished
    // one is left.
    [[nodiscard]] bool is_touched(plan::MeteringPoint const& point) const {
        return touched_.contains(point.id);
    }

    void supplies(Distances& distances) {
        Supplies all(site_, catalogue_, settings_, distances);
        for (auto const& point : site_.points) all.count(point, hardware_of(point));
        for (auto& point : site_.points) {
            auto const* const meter = hardware_of(point);
            auto const panel = panels_.find(point.panel);
            if (point.supply || meter == nullptr || panel == panels_.end() || !is_touched(point)) continue;
            if (!is_kept(Part::supply, point)) add(all.choose(point, *panel->second, *meter));
        }
    }

    Design& result_;
    plan::Site& site_;
    Catalogue const& catalogue_;
    Settings const& settings_;
    std::unordered_map<std::string, MeterOffer const*> by_profile_;
    std::vector<MeterOffer const*> offers_;
    std::unordered_map<std::string, plan::Panel const*> panels_;
    std::set<std::string> in_use_;
    std::set<std::string> touched_;  // ids of points of which something was open
};
}  // namespace

Design design(plan::Site const& site, Catalogue const& catalogue, std::vector<MeterOffer> const& meters,
              Settings const& settings) {
    Design result{.site = site, .proposals = {}};
    for (auto& proposal : choose_phases(result.site)) result.proposals.push_back(std::move(proposal));
    for (auto& proposal : choose_sharing(result.site, meters, settings))
        result.proposals.push_back(std::move(proposal));
    Designing(result, catalogue, meters, settings).run();
    return result;
}

ProposalCounts counted(std::vector<Proposal> const& proposals) {
    ProposalCounts counts;
    for (auto const& proposal : proposals) switch (proposal.standing) {
            case Standing::taken: ++counts.taken; break;
            case Standing::offered: ++counts.offered; break;
            case Standing::open: ++counts.open; break;
            case Standing::kept: ++counts.kept; break;
        }
    return counts;
}

}  // namespace phasewright::design
