// Where a layout begins: the voltages, which are the only numbers whose size is known beforehand, and then a set of
// currents with a set of powers that they allow.
#pragma once
#include "bus/decoder/layout.hpp"

namespace phasewright::decoder {

// Voltages near the nominal in a regular stride, likeliest first.
[[nodiscard]] std::vector<Placed> voltage_seeds(Deck const& deck, Expected const& expected);

// Currents and powers with |P| <= V I in every phase, on a draft that holds voltages; likeliest first. The gain of the
// second holds with the first in place.
struct CurrentAndPower {
    Placed current;
    Placed power;
    [[nodiscard]] double gain() const { return current.gain + power.gain; }
};
[[nodiscard]] std::vector<CurrentAndPower> currents_with_powers(Deck const& deck, Draft const& draft);

}  // namespace phasewright::decoder
