// One hypothesis asked about all intervals: the corrected rows, and the few sums from which a draw of the
// Monte Carlo method makes another total without going through the intervals again.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "core/correction/restate.hpp"

namespace phasewright::correction {

struct ReadBack {
    SeenBoth both;
    bool turned_vars = false;  // the meter's vars have the other sign than was said: it shows conj(S')
    bool by_totals = false;
    diagnosis::EnergyLaw law = diagnosis::EnergyLaw::exact;
    std::vector<CorrectedRow> series;
    double true_wh = 0.0;        // by the register's way of counting
    double registered_wh = 0.0;  // in the rows that could be corrected
    std::size_t undetermined_rows = 0;
    double undetermined_registered_wh = 0.0;
    std::vector<bool> element_known;
    std::vector<double> known_wh;
    std::optional<Refusal> refusal;
    bool used_volts = false;

    // Elements: `weighted[k][l]` is the sum of sign_k(t) S'_l(t), for the targets k in use.
    ElementLaw central;
    std::vector<std::size_t> targets;
    std::array<std::array<Energy, wiring::most_elements>, wiring::most_elements + 1> weighted{};
    bool by_shares = false;  // the targets' sum is divided by their shares

    // Totals: the sum of sign(t) S'(t), or, without vars, of sign(t) W(t) for each of some load angles.
    Energy weighted_total;
    struct Bin {
        double lag_rad = 0.0;
        double wh = 0.0;
    };
    std::vector<Bin> bins;
};

[[nodiscard]] ReadBack read_elements(Question const& question, Hypothesis const& hypothesis,
                                     IntervalData const& data);
[[nodiscard]] ReadBack read_totals(Question const& question, Hypothesis const& hypothesis,
                                   IntervalData const& data);

// The true total under one draw of everything that is not known exactly.
[[nodiscard]] double drawn_total(Question const& question, ReadBack const& read, Dice& dice);

// How a load of unknown or told shares looks under one draw; without dice its centre.
[[nodiscard]] LoadCurrents load_currents(Question const& question, plan::SourcePhasors const& u,
                                         double spread, Dice* dice);

// Shares of the energy are shares of the currents' S only where every element stands against the neutral at
// one angle.
[[nodiscard]] bool shares_tell_angles(plan::ServiceModel const& model);

// The spread of the load's phases that was allowed: what was said, or the widest where it hardly matters.
[[nodiscard]] double load_spread(Question const& question);

[[nodiscard]] std::vector<std::string> what_gives_lost_energy();

}  // namespace phasewright::correction
