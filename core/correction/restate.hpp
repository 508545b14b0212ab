// Restating interval data: what the meter should have counted, interval by interval, and how sure that is.
// Given are the stored intervals, the wirings that the meter may have had with their probabilities, and what
// is known of the load beside them. The answer is a corrected series (of the most probable wiring), the total
// with its mean and its 5 to 95 % range over all wirings, the trade's plain number beside it, or a refusal
// that says what would help. The sum is always sum of K(phi_t) W_t over the intervals, never K of a mean
// angle times the sum (docs/physics/correction.md, equation 6).
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/correction/band.hpp"
#include "core/correction/energy_law.hpp"
#include "core/correction/interval_data.hpp"
#include "core/diagnosis/verdict.hpp"
#include "core/plan/service.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::correction {

struct Hypothesis {
    wiring::Wiring wiring;
    double probability = 1.0;
    std::string in_words;
};

// What each element takes of the energy once the wiring is mended, and by how much that wanders (standard
// deviation).
struct Shares {
    std::vector<double> of_element;  // they sum to one
    double spread = 0.0;
};
struct AssumedLag {
    double lag_rad = 0.0;
    double spread_rad = 0.0;  // standard deviation
};

// Limits of error of the instruments, rectangular; where one is not known the project's own spread stands in.
struct Classes {
    std::optional<double> ct_size, ct_angle_rad, meter_size;
};
inline constexpr double unknown_ct_size =
    0.005;  // standard deviations, no source: with the meter's, 0.6 % in all
inline constexpr double unknown_ct_angle_rad = 0.00367;  // 0.21 degrees
inline constexpr double unknown_meter_size = 0.0033;

// How far back somebody may be billed is a rule of the place and never known here.
struct Limit {
    double days = 0.0;     // of 86 400 s
    double until_s = 0.0;  // counted back from here, s since 1970
};

struct Question {
    plan::ServiceModel model;
    plan::Nominal nominal;
    plan::Sequence rotation = plan::Sequence::abc;
    std::vector<Hypothesis> hypotheses;  // at least one, most probable first
    double left_out_probability = 0.0;
    RegisterKind kind = RegisterKind::net;
    std::optional<Shares> shares;
    std::optional<double>
        balanced_within;  // one phase's current against the mean, relative standard deviation
    std::optional<AssumedLag> lag;
    double unbalance = 0.01;  // of the supply: relative, rms
    Classes classes;
    std::optional<Limit> limit;
    std::uint64_t seed = 1;
    std::size_t least_draws = least_draws_of_a_band;
};

struct Refusal {
    std::string why;
    std::vector<std::string> what_would_help;
};

// One interval, corrected; empty where it is not determined.
struct CorrectedRow {
    std::vector<std::optional<Energy>> of_element;  // none for totals
    std::optional<double> wh;                       // of all elements together
    std::optional<double> varh;
};

struct PeriodSum {
    std::size_t rows = 0;
    double registered_wh = 0.0;
    double corrected_wh = 0.0;  // of the most probable wiring
};

struct Restated {
    RegisterKind kind = RegisterKind::net;
    diagnosis::EnergyLaw law = diagnosis::EnergyLaw::exact;
    std::vector<CorrectedRow>
        series;                  // one an interval; also where the total is refused, as far as it is known
    double registered_wh = 0.0;  // what the register counted in the intervals that could be corrected
    std::optional<double> corrected_wh;  // by the most probable wiring; by the register's own way of counting
    std::optional<Band> true_wh;         // over all wirings that tell
    std::optional<double> factor, factor_p05, factor_p95;  // mean true over registered
    std::optional<double> plain;                           // the trade's plain number for a balanced load
    std::size_t undetermined_rows = 0;
    double undetermined_registered_wh = 0.0;
    std::vector<double> known_wh;  // of the elements that are known, where the total is refused; else empty
    std::vector<bool> element_known;
    double alike_probability = 0.0;            // of wirings that give the same corrected total as the first
    double lost_probability = 0.0;             // of wirings under which nothing comes back
    std::optional<PeriodSum> inside, outside;  // of the limit
    std::optional<Refusal> refusal;
    std::vector<std::string> notes;
};

[[nodiscard]] Restated restate(Question const& question, IntervalData const& data);

}  // namespace phasewright::correction
