// How a device that is in a certain state answers, as odds over what may come back. The true rates of a faulty line are
// not known (a poor joint may spoil one answer in fifty or every second one), so they are integrated out: with
// pseudo-counts a_c over the kinds c, and n_c of them seen,
//   P(tries | state) = G(A) / G(A + n) * product over c of G(a_c + n_c) / G(a_c),   A = sum of a_c, n = sum of n_c
// (the Dirichlet-multinomial distribution; G is the gamma function). The sum A says how alike the devices in that state
// are: a silent one is silent nearly always, a half broken pair may do anything.
// The pseudo-counts are common practice, no source; a test draws faults with rates of its own and checks that the
// probabilities still come true.
#pragma once
#include <array>

#include "bus/linefault/evidence.hpp"

namespace phasewright::linefault {

enum class Behaviour {
    ok,
    mildly_disturbed,
    strongly_disturbed,
    drowned,  // hardly an answer comes through whole
    left_idle,  // whole answers, many of them behind a stray byte: nobody holds the pair before the answer's driver does
    silent,
    behind_crossing,   // silent, but the idle line reads as a long zero
    behind_half_break,
    mismatched,        // other speed or parity
    slow,
    two_at_once,
    short_of_gaps,
    under_two_masters,
    anything,          // no pattern is expected
};
inline constexpr std::size_t kinds_of_behaviour = 14;

using Counts = std::array<int, kinds_of_came>;
[[nodiscard]] std::array<double, kinds_of_came> const& pseudo_counts(Behaviour behaviour);
[[nodiscard]] double log_likelihood(Behaviour behaviour, Counts const& counts);

}  // namespace phasewright::linefault
