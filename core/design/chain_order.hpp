// In which order a serial line goes from its head through the places of its meters, with the least cable. The
// line is one chain, beginning at its head and ending anywhere; a star, or a meter on a branch of its own, is
// no serial line: at every branch the signal is thrown back (MODBUS over Serial Line V1.02, clause 3.4: a
// trunk with short drops).
//   exact    up to 12 stops: the shortest chain over every subset and every last stop of it (Bellman 1962;
//   Held and Karp
//            1962), 2^n n^2 steps
//   above    the nearest next stop from several beginnings, then 2-opt (Croes 1958) and Or-opt (Or 1976)
//   until neither
//            shortens it: a good chain, not proven to be the shortest
#pragma once
#include <cstddef>
#include <vector>

namespace phasewright::design {

using Matrix = std::vector<std::vector<double>>;  // metres, square; row and column 0 are the head

inline constexpr std::size_t most_stops_exact = 12;

struct Chain {
    std::vector<std::size_t> stops;  // 1 .. n in the order of the line; the head is not in it
    double length_m = 0.0;
    bool exact = true;
};
[[nodiscard]] Chain shortest_chain(Matrix const& metres);
[[nodiscard]] Chain exact_chain(Matrix const& metres);     // for at most 20 stops, memory grows as 2^n
[[nodiscard]] Chain improved_chain(Matrix const& metres);  // any number
[[nodiscard]] double length_of(Matrix const& metres, std::vector<std::size_t> const& stops);
// Of a star from the head, for comparison: never proposed.
[[nodiscard]] double star_length(Matrix const& metres);

// A chain cut into lines that all begin at the head: the cuts with the least cable, such that no line carries
// more than `most_load` or more devices than the least of its stops allows, or is longer than `most_m`. Exact
// for the given order. `loads` belongs to stops 1 .. n (index 0 unused).
struct Cuts {
    std::vector<std::vector<std::size_t>> lines;
    double length_m = 0.0;
    bool possible = true;  // false: a stop alone breaks a limit; it stands on a line of its own all the same
};
struct LineLimits {
    double most_load = 32.0;
    double most_m = 1000.0;
};
struct StopLoad {
    double loads = 0.0;  // unit loads
    int devices = 1;
    int most_devices = 247;  // on a line, as the devices there are documented
};
[[nodiscard]] Cuts cut_into_lines(Matrix const& metres, std::vector<std::size_t> const& stops,
                                  std::vector<StopLoad> const& loads, LineLimits const& limits);

}  // namespace phasewright::design
