// A wiring is where every lead really lands: which conductor each voltage terminal touches, and which conductor, in
// which sense, feeds each current input. It turns the source's phasors U and the true line currents J into what each
// element of the meter sees:
//     v = N U      i = M J      S_k = g_k v_k conj(i_k)           (docs/physics/elements.md, equations 1 to 3)
// g is the programmed ratio over the installed ratio. For leads that are landed and isolated, N and M are signed
// selections; a lead that is missing or crossed with another circuit needs the secondary network, which hands over
// the same two matrices (`Seen`), so nothing behind this door changes.
#pragma once
#include <array>
#include <complex>
#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/plan/service.hpp"

namespace phasewright::wiring {

inline constexpr std::size_t most_elements = 3;

// What a voltage terminal touches.
enum class Touch : std::uint8_t { a, b, c, n, lost };
[[nodiscard]] Touch touch_of(plan::Conductor conductor);
[[nodiscard]] std::string word_of(Touch touch);  // "a", "lost"

// What feeds a current input: one conductor in one sense, or nothing that the meter can see.
struct Feed {
    plan::Conductor conductor = plan::Conductor::a;
    std::int8_t sign = +1;  // -1: the current arrives turned by 180 degrees
    bool dead = false;      // open, shorted, or not on the conductor
    // Mis-paired secondary leads: two loops became one, and the input gets about half the sum with this conductor, in
    // this sense (network.hpp says where that ends).
    std::optional<plan::Conductor> with;
    std::int8_t with_sign = +1;
    bool quarter_turn = false;  // a raw coil on a voltage input: the signal leads the current by 90 degrees
    friend constexpr auto operator<=>(Feed const&, Feed const&) = default;
};
[[nodiscard]] std::string word_of(Feed const& feed);  // "+a", "-b", "dead", "+0.5a+0.5b", "j+a"

struct Wiring {
    std::vector<Touch> voltage;    // one a voltage terminal, in the meter's order
    std::optional<Touch> neutral;  // empty where the meter has no neutral terminal
    std::vector<Feed> current;     // one a current input
    std::vector<double> ratio;     // programmed / installed, one a current input
    // Voltage transformers: -1 for a secondary that lands back to front, one a voltage terminal; empty: all right.
    std::vector<std::int8_t> vt_sign;
    double vt_ratio = 1.0;         // programmed / installed, of all
    bool two_elements = false;     // the meter is set to the two-element service on a panel with three elements
    // Outside the meter's own wiring: the neutral of the supply is broken in front of the loads, so that their star point
    // and the meter's neutral with it float. The meter reads that truly.
    bool supply_neutral_broken = false;
    bool vars_turned = false;      // the meter's sign of reactive power is the other way round than it was said to be
    friend auto operator<=>(Wiring const&, Wiring const&) = default;
};
[[nodiscard]] Wiring as_planned(plan::ServiceModel const& model);

using Row4 = std::array<std::complex<double>, 4>;  // over the conductors a, b, c, n
using Row3 = std::array<std::complex<double>, 3>;  // over the live conductors a, b, c

// What the elements see: one row an element. `ratio` is already inside `current` as g.
struct Seen {
    std::size_t elements = 0;
    std::array<Row4, most_elements> voltage{};
    std::array<Row3, most_elements> current{};
    std::array<bool, most_elements> voltage_lost{};  // an element whose own tap is lost: its volts are stray
    std::array<bool, most_elements> current_dead{};
};
[[nodiscard]] Seen seen_by(Wiring const& wiring, plan::ServiceModel const& model);

using Currents = std::array<std::complex<double>, 3>;  // rms phasors of J_a, J_b, J_c in A

struct ElementSeen {
    std::complex<double> v;  // V
    std::complex<double> i;  // A as displayed
    std::complex<double> s;  // VA: P + jQ, import and lagging positive
};
[[nodiscard]] std::vector<ElementSeen> elements_of(Seen const& seen, plan::SourcePhasors const& u, Currents const& j);

// True complex power of the load, from the source's phasors: sum of U_j conj(J_j).
[[nodiscard]] std::complex<double> true_power(plan::SourcePhasors const& u, Currents const& j);

}  // namespace phasewright::wiring
