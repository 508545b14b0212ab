// A service is how the supply reaches the panel: which conductors there are, at which nominal phasors, and which
// element of a meter is meant to see which voltage with which current (Blondel 1893: N wires need N-1 elements).
// docs/reference/directions.md states the conventions; the element angles follow docs/reference/services.md.
#pragma once
#include <array>
#include <complex>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::plan {

enum class Service {
    one_phase_two_wire,       // 1P2W: one element a phase to neutral, or one a branch
    split_phase_three_wire,   // 1P3W: two legs 180 degrees apart and their neutral
    two_phases_of_wye,        // 2P3W: two phases of a wye and the neutral
    four_wire_wye,            // 3P4W: three elements to neutral
    three_wire_three_ct,      // 3P3W: three elements to the mean of the live taps
    three_wire_two_element,   // 3P3W-2E: V12 with the first CT, V32 with the last
    three_wire_two_ct,        // 3P3W-2CT: as 3P3W, the middle current derived from the other two
    four_wire_two_ct,         // 3P4W-2CT: as 3P4W, the third current derived from the other two
    high_leg_delta,           // 3P4W-HL: mid-tapped delta, one phase at 208 V to the neutral
    corner_earthed_delta,     // 3P3W-CE: as 3P3W-2E, one phase earthed
};
inline constexpr std::array all_services{
    Service::one_phase_two_wire,    Service::split_phase_three_wire, Service::two_phases_of_wye,
    Service::four_wire_wye,         Service::three_wire_three_ct,    Service::three_wire_two_element,
    Service::three_wire_two_ct,     Service::four_wire_two_ct,       Service::high_leg_delta,
    Service::corner_earthed_delta};

[[nodiscard]] std::string_view code_of(Service service);              // "3P4W"
[[nodiscard]] std::string_view words_of(Service service);             // "three-phase four-wire wye"
[[nodiscard]] std::optional<Service> service_of(std::string_view code);

// The conductors of a panel. Letters are the project's; the region's names (L1, A, R, ...) are for people.
enum class Conductor : std::uint8_t { a, b, c, n };
[[nodiscard]] char letter_of(Conductor conductor);
[[nodiscard]] std::optional<Conductor> conductor_of(std::string_view letter);

enum class Sequence { abc, acb };  // the order in which the phases at the source pass their crests

// Rated voltages, rms, and frequency.
struct Nominal {
    double v_ln = 0.0;
    double v_ll = 0.0;
    double hz = 0.0;
    friend bool operator==(Nominal const&, Nominal const&) = default;
};

// Where the minus side of an element's voltage goes.
inline constexpr int to_neutral_terminal = -1;
inline constexpr int to_star_point = -2;  // the mean of the live taps, made inside the meter

inline constexpr int derived_current = -1;  // minus the sum of the other two currents, made inside the meter

struct ElementPlan {
    int plus = 0;    // index of a voltage terminal
    int minus = to_neutral_terminal;  // index of a voltage terminal, or one of the two above
    int current_input = 0;  // index of a current input of the meter, or derived_current
};

// Everything that the diagnosis must know of a service, as data.
struct ServiceModel {
    Service service = Service::four_wire_wye;
    std::vector<Conductor> live;             // the conductors that carry load current, in order
    std::vector<Conductor> terminals;        // what each voltage terminal is meant to touch
    bool has_neutral = true;                 // the meter has a neutral terminal
    std::vector<ElementPlan> elements;
    std::vector<Conductor> current_inputs;   // the conductor that the CT of each current input is meant to embrace
    bool currents_sum_to_zero = false;       // three wires: what flows in must flow out
    Conductor high_leg = Conductor::b;       // of a high-leg delta
    std::vector<std::array<int, 2>> line_pairs;  // the terminals between which v_ll is read, in order
};

struct Branch {  // one of several one-phase loads on one meter
    std::string id;
    Conductor phase = Conductor::a;
    std::string way;         // of the panel, that feeds it; empty when not said
    bool to_choose = false;  // nobody has chosen the phase yet: `phase` means nothing
    friend bool operator==(Branch const&, Branch const&) = default;
};
struct ModelOptions {
    Conductor high_leg = Conductor::b;
    std::vector<Branch> branches;  // 1P2W only, at most three
    friend bool operator==(ModelOptions const&, ModelOptions const&) = default;
};
[[nodiscard]] ServiceModel model_of(Service service, ModelOptions const& options = {});

// Nominal rms phasors of the conductors a, b, c, n in volts: against the neutral where there is one, against the
// centre of the triangle of line voltages where there is none. Conductor a stands at 0 degrees.
using SourcePhasors = std::array<std::complex<double>, 4>;
[[nodiscard]] SourcePhasors source_phasors(ServiceModel const& model, Nominal const& nominal, Sequence sequence);

// The nominal pair that belongs to one given voltage: phase-to-neutral 230 V of a wye gives {230, 398.4}.
[[nodiscard]] Nominal nominal_from_ln(Service service, double v_ln, double hz);

}  // namespace phasewright::plan
