// A job's report as a value: what was planned, what each meter read, what that means. The print room draws
// it. Every sentence that a person sees is made here, so that paper, screen and terminal say the same words.
// None of them says that anything is safe: a meter's readings prove its metering, never the absence of
// voltage or of danger.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/verdict.hpp"
#include "core/plan/site.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::report {

struct PointSheet {
    plan::MeteringPoint point;
    std::optional<readings::ReadingSet> readings;  // empty when the meter could not be read
    std::optional<diagnosis::Verdict> verdict;
    std::vector<diagnosis::Finding> bus_findings;  // no answer, garbage, exception: the bus, not the wiring
    double reading_age_s = 0.0;
    std::string meter_identity;      // as the meter itself says; empty when it says nothing
    std::vector<std::string> notes;  // of the reading: what was derived or left out
};

struct JobReport {
    plan::Site site;
    std::string made_at;  // ISO 8601 with offset; given by the caller
    std::string program;  // "phasewright 0.1.0"
    std::vector<PointSheet> sheets;
    std::string revision = "1";
};

enum class PointState { done, doubtful, wrong, not_yet };
[[nodiscard]] std::string_view word_of(PointState state);  // "done", "doubtful", "wrong", "not yet"
[[nodiscard]] PointState state_of(PointSheet const& sheet);

// "L2 current is reversed." and "99.2 % sure": the two halves of a verdict line.
[[nodiscard]] std::string headline(PointSheet const& sheet);
[[nodiscard]] std::string certainty(PointSheet const& sheet);

// "Likeliest, 61.0 %: all currents are reversed."; only where it cannot be told yet.
[[nodiscard]] std::string likeliest(PointSheet const& sheet);

// "given: mixed load, no generation, new wiring": what of the site the probability rests on.
[[nodiscard]] std::string given_words(PointSheet const& sheet);

// "Rivals: L1 and L2 currents are exchanged 0.5 %, other 0.3 %."; empty when there are no probabilities.
[[nodiscard]] std::string rivals(PointSheet const& sheet);

// "Registers 38 % of the true 26.3 kW."; empty when nothing is known of the true power.
[[nodiscard]] std::string registered(PointSheet const& sheet);

// The line that stands at the foot of every sheet: how far the metering is proved, never that a panel is
// safe.
[[nodiscard]] std::string foot_line(PointSheet const& sheet);

// The bus's findings and the verdict's together, most severe first, without the one that only repeats the
// first class.
[[nodiscard]] std::vector<diagnosis::Finding> findings_of(PointSheet const& sheet);
[[nodiscard]] bool has_stop(PointSheet const& sheet);

// The moves that mend the first class, only where a mistake is certain: a guess is no reason to move a lead.
[[nodiscard]] std::vector<diagnosis::Move> repair_of(PointSheet const& sheet);

struct Count {
    PointState state = PointState::not_yet;
    int points = 0;
};
[[nodiscard]] std::vector<Count> counted(JobReport const& report);
[[nodiscard]] std::string counts_line(JobReport const& report);  // "8 points: 3 done, 1 doubtful, 4 wrong."

// The sheet that asks for a hand first: what could hurt, then what is wrong, then what did not answer, then
// what cannot be told, then what was not read. Empty when every point is done.
[[nodiscard]] std::optional<std::size_t> next_to_work_on(JobReport const& report);

// "Tenant 3 · panel DB-2 · way 7"
[[nodiscard]] std::string place_line(JobReport const& report, PointSheet const& sheet);

// The phase letters of the elements as planned, in the region's names: "L1", or "L1-L2" for a line voltage.
struct ElementNames {
    std::string voltage;  // "L1", "L1-L2"
    std::string current;  // "L1"; "derived" where the meter makes it from the others
};
[[nodiscard]] std::vector<ElementNames> element_names(PointSheet const& sheet, plan::Region const& region);

// V minus I in degrees: as given, or from P and Q where only they were read.
[[nodiscard]] std::optional<double> lag_of(diagnosis::ElementValues const& element);

// What must be kept in mind wherever somebody acts on this report.
[[nodiscard]] std::vector<std::string> standing_cautions();

}  // namespace phasewright::report
