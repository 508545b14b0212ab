// What an evidence command answers: one item a test, with its outcome, figures, reason and cautions; for
// people or as JSON.
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/acceptance.hpp"
#include "core/evidence/caution.hpp"
#include "core/evidence/judgement.hpp"

namespace phasewright::commands {

struct Figure {
    std::string name;  // "power by the pulses"
    double value = 0.0;
    std::string unit;
};
struct AnswerItem {
    std::optional<evidence::TestKind> test;    // empty: a state, no test
    std::string name;                          // which one of its kind: "CT1", "as-found"; may be empty
    std::optional<evidence::Outcome> outcome;  // empty: a figure alone, nothing was judged
    std::string reason;
    bool stop = false;
    std::vector<Figure> figures;
    std::vector<std::string> notes;
    std::optional<evidence::Judgement> judgement;
};
struct EvidenceAnswer {
    std::vector<AnswerItem> items;
    std::string sentence;  // for the foot of a page; empty where a single test was answered
};

// 0: everything passed, or nothing was to be judged; 1: something failed or is not provable.
[[nodiscard]] int say(EvidenceAnswer const& answer, bool json, std::ostream& out);

}  // namespace phasewright::commands
