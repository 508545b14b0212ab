// A world to be diagnosed, written apart from the diagnosis: its own phasors, its own list of meters, its own
// loads, its own instruments. Only the form in which readings are handed over (core/readings) is shared, so
// that a slip in the engine's model of a wiring cannot hide behind the same slip here.
//
// On the wall: a supply near nominal and nearly balanced; a site whose loads lag by an angle of its own,
// which wanders from reading to reading; a meter whose taps and transformers land where a Landing says;
// instruments with a small error each. docs/reference/benchmarks.md gives every number and where it comes
// from.
#pragma once
#include <array>
#include <compare>
#include <complex>
#include <optional>
#include <string_view>
#include <vector>

#include "benchmarks/dice.hpp"
#include "core/plan/service.hpp"
#include "core/plan/site.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::benchmarks {

using Phasor = std::complex<double>;

// Conductors by number: 0, 1, 2 carry load, then the neutral, then nothing at all.
inline constexpr int neutral = 3;
inline constexpr int nothing = 4;

inline constexpr int to_neutral = -1;
inline constexpr int to_star = -2;

struct Meter {
    plan::Service service{};
    std::string_view code;
    int conductors = 3;  // that carry load
    int taps = 3;        // tap t is meant for conductor t
    bool has_neutral = true;
    std::vector<std::array<int, 2>> elements;  // from this tap to that one, or to one of the two above
    std::vector<int> inputs;                   // the conductor that each transformer is meant for
    bool closed = false;                       // what flows in must flow out: currents sum to zero
    double v_ln = 230.0;
    double v_ll = 400.0;
};
[[nodiscard]] std::vector<Meter> const& meters();
[[nodiscard]] Meter const* meter_of(std::string_view code);

// Where every lead really lands.
struct Landing {
    std::vector<int> taps;
    int neutral_tap = neutral;  // `nothing` where it is open or where there is none
    std::vector<int> cts;       // the conductor, or `nothing` for a dead input
    std::vector<int> signs;
    std::vector<double> ratios;  // programmed over installed
    friend auto operator<=>(Landing const&, Landing const&) = default;
};
[[nodiscard]] Landing as_planned(Meter const& meter);

using Supply = std::array<Phasor, 4>;  // potentials of a, b, c, n
using Load = std::array<Phasor, 3>;    // currents in a, b, c
enum class Turn { abc, acb };
[[nodiscard]] Supply nominal_supply(Meter const& meter, Turn turn);

struct Shown {
    std::optional<Phasor> v;  // empty: the element's tap is open, its volts are whatever strays in
    Phasor i;
    bool dead = false;
};
[[nodiscard]] std::vector<Shown> shown_by(Meter const& meter, Landing const& landing, Supply const& supply,
                                          Load const& load);

// What the loads of a site are like, for as long as its wiring stays.
enum class Belief { unknown, resistive, motor, leading, exporting };
struct SiteHabit {
    Belief belief = Belief::unknown;
    double lag_deg = 0.0;
    double wander_deg = 8.0;
    std::array<double, 3> phase_lag_deg{};
    std::array<double, 3> phase_size{1.0, 1.0, 1.0};
    double lighting_lag_deg = 10.0;   // high leg: the 120 V legs
    double least_load = 0.06;         // of the breaker
    double most_load = 0.7;
    std::array<bool, 3> unloaded{};   // phases on which nothing is switched on
    double line_to_line_share = 0.0;  // two phases: of the load that stands between them
};
[[nodiscard]] SiteHabit drawn_habit(Dice& dice, Belief belief);
// The same, but for what the engine believes possible besides: any load down to a hundredth of the breaker, a phase
// or a whole site on which nothing is switched on. With this world its probabilities should be exact.
void as_believed(Dice& dice, Meter const& meter, SiteHabit& habit);
[[nodiscard]] Supply drawn_supply(Dice& dice, Meter const& meter, Turn turn);
[[nodiscard]] Supply a_moment_later(Dice& dice, Supply const& supply);
[[nodiscard]] Load drawn_load(Dice& dice, Meter const& meter, Supply const& supply, SiteHabit const& habit);

// How the meter is read: `rough` is the world that no prior expected.
struct Reader {
    bool rough = false;
    bool angles = true;
};
[[nodiscard]] readings::Snapshot read(Dice& dice, Meter const& meter, std::vector<Shown> const& shown,
                                      Reader const& reader);

inline constexpr double breaker_a = 100.0;

}  // namespace phasewright::benchmarks
