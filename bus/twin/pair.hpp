// An RS-485 pair as it lies in the building: one trunk from the head (the adapter, position 0) past the
// devices, whose positions count from 1. What a meter on the bench would measure on it is physics; how often
// its faults spoil bytes is a model, and says so.
//   across the unpowered pair   1/R = sum of 1/R_terminator + sum of 1/R_input
//   idle, biased                V = V_bias * R / (R + 2 * R_bias)
// A terminator with a capacitor in series blocks dc: it is in neither of the two sums.
// Sources: MODBUS over Serial Line V1.02, clause 3.4 (150 ohm, or 120 ohm with 1 nF; 450 to 650 ohm
// polarization from 5 V); TIA/EIA-485-A (threshold 200 mV, unit load 12 kilohm, 1.5 V into 54 ohm).
#pragma once
#include <optional>
#include <vector>

#include "core/plan/serial_line.hpp"

namespace phasewright::twin {

struct Terminator {
    int at = 0;  // position; 0 is the head
    double ohm = 120.0;
    bool capacitor = false;  // in series: it ends the line for edges, not for dc
};
struct Bias {
    int at = 0;
    double ohm = 560.0;  // each, to 5 V and to common
    double supply_v = 5.0;
};

struct Pair {
    double length_m = 0.0;  // of the whole trunk; devices stand at equal distances
    int positions = 1;      // devices on it
    std::vector<Terminator> terminators;
    std::optional<Bias> bias = Bias{};
    std::optional<int> crossed_behind;  // D1 and D0 exchange places behind this position; 0: at the head
    std::optional<int> broken_behind;
    bool one_conductor_broken = false;  // of a break: the other conductor runs on
    bool common = true;                 // the third wire is there
    bool adapter_echoes = false;        // the adapter at the head hears its own sending
    double unit_loads = 1.0;            // of one device
};
// As it should be: terminators at both ends, bias at the head.
[[nodiscard]] Pair healthy_pair(double length_m, int positions);

// Between D1 and D0 at the head, volts, powered and idle; the part behind a break does not count, a part
// behind a crossing does, its bias the other way round.
[[nodiscard]] double idle_v(Pair const& pair);
// Across the pair at the head, ohms, all devices unpowered and the adapter unplugged; infinite where nothing
// is.
[[nodiscard]] double dc_ohm(Pair const& pair);
// What a driver at one position puts across the pair at another, volts. Drivers are taken as 3 V behind 54
// ohm, which is the weakest that TIA/EIA-485-A allows; the copper as AWG 24, 0.084 ohm a metre each way.
[[nodiscard]] double signal_v(Pair const& pair, int from, int to);

// What becomes of levels between the head and a position. Behind a break of one conductor the other still
// carries its half of the level, against common, as long as nothing there ties the broken one to it: a
// terminator does.
enum class Passage { clean, inverted, nothing };
[[nodiscard]] Passage passage(Pair const& pair, int position);

// The model: how likely one bit is read wrong, and how likely a stray byte comes before an answer, while
// nobody drives.
//   level        0.5 * erfc((signal - 0.2 V) / 0.1 V)
//   reflections  without terminators at both ends an edge settles in three round trips (0.66 c);
//                what of that reaches beyond the middle of a bit is the share of bits in doubt
//   stray byte   where the idle level is below 0.2 V: a half
//   burst        without the common wire: one answer in five is lost to common-mode noise
[[nodiscard]] double bit_error(Pair const& pair, plan::SerialFormat const& format, int position);
[[nodiscard]] double stray_byte(Pair const& pair);
[[nodiscard]] double burst(Pair const& pair);

}  // namespace phasewright::twin
