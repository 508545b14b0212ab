// Two parties prove a point: whoever fitted the instrument transformers and pulled their leads, and whoever
// set the meter and read it. Neither can sign for the other. A side is done when each of its tests has passed
// and a person has signed after the last of them; a signature that is older than a later test of its side has
// gone stale. Defects stay open until somebody closes them with a name and a time; one that is to stop blocks
// both sides. The sentence at the foot of a page says how far the *metering* is proved. It never says that a
// panel is safe.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/caution.hpp"
#include "core/evidence/judgement.hpp"

namespace phasewright::evidence {

enum class Party { transformer_side, meter_side };
[[nodiscard]] constexpr auto word_table(Party) {
    return plan::Words<Party, 2>{
        {{Party::transformer_side, "transformer-side"}, {Party::meter_side, "meter-side"}}};
}
enum class DefectSeverity { stop, mend, mind };
[[nodiscard]] constexpr auto word_table(DefectSeverity) {
    return plan::Words<DefectSeverity, 3>{
        {{DefectSeverity::stop, "stop"}, {DefectSeverity::mend, "mend"}, {DefectSeverity::mind, "mind"}}};
}

struct TestDone {
    Party party = Party::meter_side;
    std::string what;  // "battery-flick CT1"; the last one of a name counts
    Outcome outcome = Outcome::not_provable;
    std::string time, by;
    std::string note;  // the reason
};
struct Signature {
    Party party = Party::meter_side;
    std::string who, licence, time;
};
struct Defect {
    std::string id, what;
    DefectSeverity severity = DefectSeverity::mend;
    std::string found_by, found_at;
    std::string closed_by, closed_at;  // empty: open
    [[nodiscard]] bool open() const { return closed_by.empty() || closed_at.empty(); }
};
struct PointEvidence {
    std::string point;
    std::vector<std::string> needed_of_transformers, needed_of_meter;  // names of tests that the job asks for
    std::vector<TestDone> tests;
    std::vector<Signature> signatures;
    std::vector<Defect> defects;
};

enum class SideState { not_begun, under_way, tested, signed_, stale };
[[nodiscard]] constexpr auto word_table(SideState) {
    return plan::Words<SideState, 5>{{{SideState::not_begun, "not-begun"},
                                      {SideState::under_way, "under-way"},
                                      {SideState::tested, "tested"},
                                      {SideState::signed_, "signed"},
                                      {SideState::stale, "stale"}}};
}
struct Side {
    SideState state = SideState::not_begun;
    std::vector<std::string> missing;       // needed and not made
    std::vector<std::string> not_provable;  // made, and they prove nothing
    std::vector<std::string> failed;
    std::optional<Signature> signature;  // the last one
};
struct PointState {
    Side transformers, meter;
    std::vector<Defect> open;  // most severe first
    bool stop = false;         // one of them is to stop
    bool proved = false;       // both sides signed, nothing open that is to stop or to mend
    std::string sentence;
};
[[nodiscard]] PointState state_of(PointEvidence const& evidence);

}  // namespace phasewright::evidence
