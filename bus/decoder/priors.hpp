// What is believed of a meter's register map before any register is seen: how numbers are usually kept and scaled, and
// that what belongs together stands together. Common practice, no source; docs/reference/decoder.md lists the numbers.
#pragma once
#include <span>

#include "bus/decoder/deck.hpp"

namespace phasewright::decoder {

struct ScalePrior {
    int exponent = 0;  // to SI
    double log_probability = 0.0;
};
// The exponents that are tried for this quantity in this kind of number.
[[nodiscard]] std::span<ScalePrior const> scales_for(Quantity quantity, bool floating);
[[nodiscard]] bool mostly_signed(Quantity quantity);
[[nodiscard]] double log_prior_of_type(Quantity quantity, profile::ValueType type);
[[nodiscard]] double log_prior_of_orders(Format const& format);
[[nodiscard]] double log_prior_of_gap(unsigned registers);  // between a field and the nearest one with a meaning
// A meter that keeps its voltages as `first` keeps other numbers as `other`.
[[nodiscard]] double log_prior_beside(profile::ValueType first, profile::ValueType other);

}  // namespace phasewright::decoder
