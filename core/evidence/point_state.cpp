#include "core/evidence/point_state.hpp"

#include <algorithm>
#include <map>

#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::evidence {

namespace {
double moment_of(std::string const& time) {
    return readings::seconds_of(time.size() == 10 ? time + "T00:00:00Z" : time).value_or(0.0);
}

Side side_of(PointEvidence const& evidence, Party party, std::vector<std::string> const& needed) {
    Side side;
    std::map<std::string, TestDone const*> last;
    double newest = 0.0;
    for (auto const& test : evidence.tests) {
        if (test.party != party) continue;
        newest = std::max(newest, moment_of(test.time));
        auto& kept = last[test.what];
        if (kept == nullptr || moment_of(test.time) >= moment_of(kept->time)) kept = &test;
    }
    for (auto const& what : needed)
        if (!last.contains(what)) side.missing.push_back(what);
    for (auto const& [what, test] : last) {
        if (test->outcome == Outcome::fail) side.failed.push_back(what);
        if (test->outcome == Outcome::not_provable) side.not_provable.push_back(what);
    }
    double signed_at = 0.0;
    for (auto const& one : evidence.signatures)
        if (one.party == party && !one.who.empty() && moment_of(one.time) >= signed_at) {
            side.signature = one;
            signed_at = moment_of(one.time);
        }
    bool const whole =
        !last.empty() && side.missing.empty() && side.failed.empty() && side.not_provable.empty();
    if (last.empty())
        side.state = SideState::not_begun;
    else if (side.signature && signed_at < newest)
        side.state = SideState::stale;
    else if (!whole)
        side.state = SideState::under_way;
    else
        side.state = side.signature ? SideState::signed_ : SideState::tested;
    return side;
}

std::string words_of(Side const& side, std::string const& name) {
    auto const list = [](std::vector<std::string> const& what) { return quantity::joined(what, ", "); };
    switch (side.state) {
        case SideState::not_begun: return name + ": nothing proved";
        case SideState::stale:
            return name + ": tested again after " + side.signature->who + " signed (" + side.signature->time +
                   "); to be signed again";
        case SideState::tested: return name + ": every test passed, not signed";
        case SideState::signed_:
            return name + ": every test passed, signed by " + side.signature->who + " on " +
                   side.signature->time;
        case SideState::under_way: break;
    }
    std::vector<std::string> parts;
    if (!side.failed.empty()) parts.push_back("failed " + list(side.failed));
    if (!side.not_provable.empty()) parts.push_back("not provable " + list(side.not_provable));
    if (!side.missing.empty()) parts.push_back("not made " + list(side.missing));
    return name + ": " + quantity::joined(parts, "; ");
}

std::string defects_words(std::vector<Defect> const& open) {
    if (open.empty()) return "No defect is open.";
    std::vector<std::string> each;
    for (auto const& defect : open)
        each.push_back(std::string{plan::name_of(defect.severity)} + " " + defect.id + ": " + defect.what);
    return std::to_string(open.size()) + (open.size() == 1 ? " defect is open: " : " defects are open: ") +
           quantity::joined(each, "; ") + ".";
}
}  // namespace

PointState state_of(PointEvidence const& evidence) {
    PointState state;
    state.transformers = side_of(evidence, Party::transformer_side, evidence.needed_of_transformers);
    state.meter = side_of(evidence, Party::meter_side, evidence.needed_of_meter);
    for (auto const& defect : evidence.defects)
        if (defect.open()) state.open.push_back(defect);
    std::ranges::stable_sort(state.open, {}, &Defect::severity);
    state.stop = !state.open.empty() && state.open.front().severity == DefectSeverity::stop;
    bool const nothing_to_mend = std::ranges::all_of(
        state.open, [](Defect const& defect) { return defect.severity == DefectSeverity::mind; });
    state.proved = state.transformers.state == SideState::signed_ &&
                   state.meter.state == SideState::signed_ && nothing_to_mend;
    std::string const head =
        state.stop     ? "Stop: a defect of this point comes before its metering. "
        : state.proved ? "The metering of " + evidence.point + " is proved by the tests of this record. "
                       : "The metering of " + evidence.point + " is not proved yet. ";
    state.sentence = head + words_of(state.transformers, "Instrument transformers") + ". " +
                     words_of(state.meter, "Meter") + ". " + defects_words(state.open) +
                     " This speaks of metering only; it says nothing about the safety of the panel.";
    return state;
}

}  // namespace phasewright::evidence
