// How the energy that a wrong wiring registered is turned back into the energy that flowed.
// On the wall: an element that sees the voltage of b with the current of a counts watts and vars of a load
// that does not exist. But what it counts still holds the current, and the supply's voltages are known, so
// the current can be taken out again and put together with its own voltage:
//     conj(i_k) = S'_k / v_k,   M conj(J) = conj(i),   S_true = sum U_j conj(J_j) = sum K_k S'_k
//                                                          (docs/physics/correction.md, equations 1 to 3)
// K depends on the wiring and the supply, never on the load: no power factor is assumed. Where a current
// reached no element there is no K, and nothing is guessed. Of totals alone only c is left, for a load whose
// shares are known:
//     S' = c S                                             (equation 4)
// Assumes nominal voltage angles; unbalance turns them and is part of the band (band.hpp).
#pragma once
#include <array>
#include <complex>
#include <optional>

#include "core/correction/interval_data.hpp"
#include "core/plan/service.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::correction {

using Complex = std::complex<double>;
using PerElement = std::array<Complex, wiring::most_elements>;
inline constexpr std::size_t of_total = wiring::most_elements;  // the row of K that gives the total

// A wiring beside the plan, and which elements' numbers mean nothing (a register that stood still).
struct SeenBoth {
    plan::ServiceModel model;
    wiring::Seen seen;  // under the hypothesis
    wiring::Seen planned;
    std::array<bool, wiring::most_elements> blind{};
};
[[nodiscard]] SeenBoth seen_both(wiring::Wiring const& wiring, plan::ServiceModel const& model);

// The volts of each element: as it is wired, and as it should be.
struct ElementVolts {
    PerElement wired{}, planned{};
};
[[nodiscard]] ElementVolts volts_of(SeenBoth const& both, plan::SourcePhasors const& u);

// E_k = sum over l of share[k][l] S'_l: what element k of a right wiring would have counted; the last row is
// the sum.
struct ElementLaw {
    std::array<PerElement, wiring::most_elements + 1> share{};
    std::array<bool, wiring::most_elements + 1> known{};
    bool by_sum = false;  // it was needed that the currents of the load sum to zero
};
[[nodiscard]] ElementLaw element_law(SeenBoth const& both, ElementVolts const& volts);
// One row of it alone: `target` is an element, or of_total. Nothing when it is not determined.
[[nodiscard]] std::optional<PerElement> law_row(SeenBoth const& both, ElementVolts const& volts,
                                                std::size_t target);

// Currents of a load, as conj(J) over the conductors a, b, c, in any one scale.
using LoadCurrents = std::array<Complex, 3>;
[[nodiscard]] LoadCurrents balanced_load(plan::ServiceModel const& model, plan::SourcePhasors const& u);
// A load whose phases take these shares of its energy, all at the same load angle.
[[nodiscard]] LoadCurrents shared_load(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                                       std::array<Complex, 3> const& shares);

// The part of the true S that each element counts; their sum is c.
[[nodiscard]] PerElement parts_of_true(SeenBoth const& both, ElementVolts const& volts,
                                       LoadCurrents const& load);
[[nodiscard]] Complex sum_of(PerElement const& parts);

// What a register counts for each Wh of the load, given the elements' parts and the tangent of the load
// angle. `tan_lag` is empty when it is not known: then nothing comes back unless the parts are real and it
// does not matter. For a load that imports; the direction of the true energy turns the sign of net, not the
// size.
[[nodiscard]] std::optional<double> registered_share(PerElement const& parts, RegisterKind kind,
                                                     std::optional<double> tan_lag);

// The trade's plain number: true over registered for a balanced load, where that is the same at every load
// angle.
[[nodiscard]] std::optional<double> plain_rule(SeenBoth const& both, plan::SourcePhasors const& u,
                                               RegisterKind kind);

}  // namespace phasewright::correction
