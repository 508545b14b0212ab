#include "core/diagnosis/confirmation.hpp"

#include <algorithm>
#include <cmath>

#include "core/diagnosis/newer.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

std::string_view name_of(Confirmed state) {
    switch (state) {
        case Confirmed::confirmed: return "confirmed";
        case Confirmed::agrees: return "agrees";
        case Confirmed::differs: return "differs";
        case Confirmed::not_newer: return "not_newer";
        case Confirmed::cannot_compare: return "cannot_compare";
    }
    return "cannot_compare";
}

namespace {
// Why the two sets do not belong together, or empty.
std::string mismatch(readings::ReadingSet const& before, readings::ReadingSet const& after) {
    if (before.service != after.service)
        return "the reading before the move is of a " + std::string(plan::words_of(before.service)) +
               " service, the new one of a " + std::string(plan::words_of(after.service)) + " one";
    auto const elements = readings::model_of(before).elements.size();
    if (elements != readings::model_of(after).elements.size())
        return "the two readings have not as many elements";
    auto const other = [](double a, double b) { return std::abs(a - b) > 0.01 * std::max(a, b); };
    if (other(before.nominal.v_ln, after.nominal.v_ln) || other(before.nominal.hz, after.nominal.hz))
        return "the two readings name different nominal voltages or frequencies";
    return {};
}

// What was told of the load at the two moments, where it differs.
std::string other_conditions(readings::ReadingSet const& before, readings::ReadingSet const& after) {
    auto const& was = before.snapshots.back();
    auto const& is = after.snapshots.back();
    if (was.generation_running && is.generation_running && *was.generation_running != *is.generation_running)
        return *is.generation_running ? "generation runs now and did not before the move"
                                      : "generation ran before the move and does not now";
    auto const kind = [](readings::Snapshot const& snapshot, readings::ReadingSet const& set) {
        return snapshot.load_kind.whole ? snapshot.load_kind.whole : set.load_kind.whole;
    };
    if (kind(was, before) && kind(is, after) && *kind(was, before) != *kind(is, after))
        return "another kind of load runs now than before the move";
    return {};
}

enum class Ratio { right, one, all };
// Whether what was to be mended was a ratio: the share of a current tells little of it, its level nothing.
Ratio ratio_mended(Verdict const& verdict) {
    if (verdict.classes.empty() || verdict.classes.front().wirings.empty()) return Ratio::right;
    auto const& ratio = verdict.classes.front().wirings.front().wiring.ratio;
    auto const wrong =
        std::ranges::count_if(ratio, [](double value) { return std::abs(value - 1.0) > 1e-6; });
    if (wrong == 0) return Ratio::right;
    return static_cast<std::size_t>(wrong) == ratio.size() ? Ratio::all : Ratio::one;
}
bool ratio_was_measured(readings::ReadingSet const& set) {
    return std::ranges::any_of(set.tests, [](auto const& test) {
        return test.kind == "clamp_primary" || test.kind == "nameplate" || test.kind == "other_meter" ||
               test.kind == "load_switched" || test.kind == "turns_in_window" ||
               test.kind == "cables_in_window";
    });
}

std::string share(double probability) {
    if (probability >= 0.9995) return "more than 99.9 %";
    return probability < 0.0005 ? "less than 0.1 %" : quantity::fixed(100.0 * probability, 1) + " %";
}

std::string likeliest(Verdict const& verdict) {
    if (verdict.classes.empty()) return "nothing";
    return verdict.classes.front().in_words + ", " + share(verdict.classes.front().probability);
}

std::vector<std::string> names_where(Comparison const& c, std::optional<bool> agrees,
                                     bool only_changed = false) {
    std::vector<std::string> names;
    for (auto const& e : c.elements)
        if (e.agrees == agrees && (e.was_to_change || !only_changed)) names.push_back(e.name);
    return names;
}

void cannot(Confirmation& out, std::string why) {
    out.state = Confirmed::cannot_compare;
    out.in_words = std::move(why);
}

constexpr auto no_ratio =
    "whether a CT ratio is right shows in no comparison of two loads; a clamp round the conductor tells";

// A ratio was to be mended, and neither three wires nor a measurement tell of it.
bool ratio_is_open(Verdict const& before, readings::ReadingSet const& newer) {
    auto const ratio = ratio_mended(before);
    bool const closed = readings::model_of(newer).currents_sum_to_zero;
    return (ratio == Ratio::all || (ratio == Ratio::one && !closed)) && !ratio_was_measured(newer);
}

// No prediction: the new reading speaks for itself.
void by_diagnosis(Confirmation& out, RepairDone const& repair, readings::ReadingSet const& newer) {
    out.by_diagnosis_alone = true;
    auto const& verdict = *out.verdict;
    std::string const alone = "by the new reading alone, since no prediction fits";
    if (verdict.state == State::as_planned && ratio_is_open(repair.verdict, newer)) {
        out.state = Confirmed::agrees;
        out.in_words = "wired as planned, " + alone + "; " + no_ratio;
    } else if (verdict.state == State::as_planned) {
        out.state = Confirmed::confirmed;
        out.in_words = "wired as planned, " + alone;
    } else if (verdict.state == State::mistake) {
        out.state = Confirmed::differs;
        out.in_words = "not wired as planned (" + likeliest(verdict) + "), " + alone;
    } else if (!verdict.classes.empty() && verdict.classes.front().as_planned) {
        out.state = Confirmed::agrees;
        out.in_words = "wired as planned is likeliest, not proved, " + alone;
    } else {
        cannot(out,
               "no prediction fits, and the new reading alone does not tell (" + likeliest(verdict) + ")");
    }
}

void differs(Confirmation& out) {
    out.state = Confirmed::differs;
    std::vector<std::string> parts = out.comparison.against;
    for (auto const& e : out.comparison.elements)
        if (e.agrees == false) parts.push_back(e.name + ": " + e.why);
    out.in_words = "not as predicted: " + quantity::joined(parts, "; ");
}

// What keeps a reading that looks as predicted from proving the repair, or empty.
std::string unproved(Confirmation const& out, RepairDone const& repair, readings::ReadingSet const& newer) {
    auto const& verdict = *out.verdict;
    auto const& c = out.comparison;
    auto const open = names_where(c, std::nullopt, true);
    if (!open.empty())
        return quantity::joined(open, " and ") + " (to be mended) carries too little current to compare";
    if (verdict.state != State::as_planned) {
        if (verdict.classes.empty() || !verdict.classes.front().as_planned)
            return "by itself the new reading would rather say: " + likeliest(verdict);
        return "by itself the new reading gives the planned wiring and what looks like it " +
               share(verdict.classes.front().probability) + ", which does not prove it";
    }
    if (c.by_current_only) {
        auto const other = names_where(c, false);
        return "the share of the current in " + quantity::joined(other, " and ") +
               " changed more than usual; the load there may have";
    }
    return ratio_is_open(repair.verdict, newer) ? no_ratio : std::string{};
}

// Of several wirings that the old reading left open the prediction was made for the likeliest alone. Where
// another one was mended, the reading is right to be otherwise.
bool was_made_for_another(Confirmation& out, Verdict const& before) {
    auto const& c = out.comparison;
    bool const off = !names_where(c, false).empty() || !c.against.empty();
    if (before.state != State::undecided || !off || c.by_current_only) return false;
    out.reasons.push_back(
        "the reading before the move was undecided, and what was predicted holds for one wiring only (" +
        likeliest(before) + "); the new reading is not what that one would have become");
    return true;
}

void judge(Confirmation& out, RepairDone const& repair, readings::ReadingSet const& newer) {
    auto const& verdict = *out.verdict;
    auto const wrong = names_where(out.comparison, false);
    if (out.comparison.by_current_only && verdict.state != State::mistake) {
        // A load that was switched is no wiring mistake: left to `unproved`.
    } else if (!wrong.empty() || !out.comparison.against.empty()) {
        differs(out);
        if (verdict.state == State::mistake)
            out.reasons.push_back("by itself the new reading says: " + likeliest(verdict));
        if (verdict.state == State::as_planned)
            out.reasons.emplace_back(
                "by itself the new reading looks as planned: read again at a load like the one before the "
                "move");
        return;
    }
    if (verdict.state == State::mistake) {
        out.state = Confirmed::differs;
        out.in_words =
            "by itself the new reading shows another wiring than the planned one: " + likeliest(verdict);
        return;
    }
    auto const why = unproved(out, repair, newer);
    out.state = why.empty() ? Confirmed::confirmed : Confirmed::agrees;
    out.in_words = why.empty() ? "reads as predicted, and proves the planned wiring by itself"
                               : "reads as predicted, but " + why;
    if (out.comparison.by_current_only) out.in_words = "angles and voltages are as predicted, but " + why;
}

// Why the prediction cannot be held against the reading, or empty.
std::string no_prediction(RepairDone const& repair) {
    if (repair.verdict.state == State::contradictory)
        return "the readings before the move did not agree with each other, so nothing was predicted";
    if (repair.verdict.state == State::unproven)
        return "the load before the move was too small to predict anything";
    if (repair.verdict.after_repair.empty()) {
        auto const& why = repair.verdict.true_power.why;
        return "nothing was predicted" + (why.empty() ? std::string{} : ": " + why);
    }
    return {};
}

void compare_and_judge(Confirmation& out, RepairDone const& repair, Diagnoser& diagnoser,
                       PriorSets const& priors) {
    if (auto why = mismatch(repair.before, repair.after); !why.empty()) {
        cannot(out, std::move(why));
        return;
    }
    auto const part = newer_part(repair.before, repair.after, repair.moved_at);
    if (part.age != Age::newer) {
        out.state = part.age == Age::not_newer ? Confirmed::not_newer : Confirmed::cannot_compare;
        out.in_words = part.why;
        return;
    }
    for (auto const& left_out : part.left_out) out.reasons.push_back("left out: " + left_out);
    if (!repair.moved_at)
        out.reasons.emplace_back(
            "when the move was made was not told: the reading is newer than the one before it, not shown to "
            "be newer than the move");
    out.verdict = diagnoser.diagnose(part.set);
    if (out.verdict->state == State::contradictory) {
        std::vector<std::string> fields;
        for (auto const& one : out.verdict->disagreements) fields.push_back(one.field);
        cannot(out, "the new readings do not agree with each other: " + quantity::joined(fields, ", "));
        return;
    }
    if (out.verdict->state == State::unproven) {
        cannot(out, "the load is too small to confirm anything: read again while more of it runs");
        return;
    }
    auto why = no_prediction(repair);
    if (why.empty()) why = other_conditions(repair.before, part.set);
    Verdict without = repair.verdict;
    if (!why.empty()) without.after_repair.clear();
    RepairDone const compared{repair.before, without, part.set, repair.moved_at};
    out.comparison = compare(compared, out.verdict->as_read, priors_for(part.set, priors));
    bool const any =
        std::ranges::any_of(out.comparison.elements, [](auto const& e) { return e.agrees.has_value(); }) ||
        !out.comparison.against.empty();
    if (why.empty() && !any)
        why = "too little current flowed, now or before the move, to compare any element";
    if (!why.empty()) out.reasons.push_back(why);
    if (!why.empty() || was_made_for_another(out, repair.verdict)) {
        by_diagnosis(out, repair, part.set);
    } else {
        judge(out, compared, part.set);
    }
}

// A danger that was named before the move is gone when a reading says so, not when there is none.
void keep_findings(Confirmation& out, Verdict const& before) {
    if (out.verdict) out.findings = out.verdict->findings;
    if (out.state != Confirmed::not_newer && out.state != Confirmed::cannot_compare) return;
    std::vector<Finding> standing;
    for (auto const& finding : before.findings)
        if (finding.severity == Severity::stop &&
            std::ranges::none_of(out.findings, [&](auto const& own) { return own.text == finding.text; }))
            standing.push_back(finding);
    out.findings.insert(out.findings.begin(), standing.begin(), standing.end());
}
}  // namespace

Confirmation confirm(RepairDone const& repair, Diagnoser& diagnoser, PriorSets const& priors) {
    Confirmation out{.id = repair.after.id};
    compare_and_judge(out, repair, diagnoser, priors);
    keep_findings(out, repair.verdict);
    return out;
}

}  // namespace phasewright::diagnosis
