// What volts and ohms say about a line's dress. Two facts carry it:
//   idle volts, one polarization:  V = 5 V * R / (R + 2 Rb),  R = all that lies across the pair, Rb = 450 to 650 ohm
//   ohms at the head, no supply:   two plain terminators in parallel, the far one behind the loop of the cable:
//                                  60 ohm for 120 ohm, 75 for 150; one missing 120, three 40
// A terminator in series with a capacitor is open at direct current: with those, ohms prove nothing.
// Sources: resistors, 150 ohm and 120 ohm + 1 nF terminators, one polarization: MODBUS over Serial Line V1.02, 3.4.5 and
// 3.4.6. 120 ohm at both ends and receivers' 12 kilohm: TIA/EIA-485-A (common knowledge of it, from memory). 0.2 V:
// the receiver's threshold of TIA/EIA-485-A. Copper: 84.2 ohm/km for 24 AWG at 20 C (ASTM B258, derived). How often
// which kind is fitted, and what meters and hands do to a reading: common practice, no source.
#pragma once
#include "bus/linefault/evidence.hpp"
#include "bus/linefault/line_fault.hpp"

namespace phasewright::linefault {

// What of the trunk a measurement can see.
struct TrunkState {
    LineFault kind = LineFault::something_else;  // one of the trunk's, or something_else for none
    int after = -1, until = -1;
    [[nodiscard]] bool cut_between(int a, int b) const;      // an open conductor lies between two positions
    [[nodiscard]] bool crossed_between(int a, int b) const;  // they see each other's pair exchanged
};

// log P(what was measured | trunk, electrical fault); something_else stands for no electrical fault.
[[nodiscard]] double log_likelihood(ByHand const& measured, TrunkState const& trunk, LineFault electrical,
                                    std::size_t devices, double length_m);

// The same for one reading, as a density over volts, over the logarithm of ohms, and over volts between commons.
[[nodiscard]] double idle_density(IdleVolts const& reading, TrunkState const& trunk, LineFault electrical,
                                  std::size_t devices);
[[nodiscard]] double ohms_density(double ohms, TrunkState const& trunk, LineFault electrical, std::size_t devices,
                                  double length_m);
[[nodiscard]] double common_density(double volts, LineFault electrical);

}  // namespace phasewright::linefault
