// Numbers that cross a door carry their unit and their side of the instrument transformer in their type.
// The primary side is the conductor's; the secondary side is the meter terminal's. Only a TransformerRatio moves a
// number from one to the other, so a 5 A secondary reading can never be added to a 200 A primary one.
#pragma once
#include <complex>

#include "core/quantity/angle.hpp"

namespace phasewright::quantity {

enum class Side { primary, secondary };

struct VoltUnit {};
struct AmpereUnit {};
struct WattUnit {};
struct VarUnit {};
struct VoltAmpereUnit {};

template <class Unit, Side S>
struct Quantity {
    double value = 0.0;  // SI
    friend constexpr auto operator<=>(Quantity, Quantity) = default;
    friend constexpr Quantity operator+(Quantity a, Quantity b) { return {a.value + b.value}; }
    friend constexpr Quantity operator-(Quantity a, Quantity b) { return {a.value - b.value}; }
    friend constexpr Quantity operator-(Quantity a) { return {-a.value}; }
    friend constexpr Quantity operator*(double factor, Quantity a) { return {factor * a.value}; }
    friend constexpr double operator/(Quantity a, Quantity b) { return a.value / b.value; }
};

template <Side S>
using Volts = Quantity<VoltUnit, S>;
template <Side S>
using Amps = Quantity<AmpereUnit, S>;
template <Side S>
using Watts = Quantity<WattUnit, S>;
template <Side S>
using Vars = Quantity<VarUnit, S>;
template <Side S>
using VoltAmperes = Quantity<VoltAmpereUnit, S>;

// An rms phasor: magnitude in the quantity's unit, angle against the common zero of its set.
template <class Q>
struct Phasor {
    std::complex<double> value;
    [[nodiscard]] Q magnitude() const { return {std::abs(value)}; }
    [[nodiscard]] Radians angle() const { return {std::arg(value)}; }
};

// A marked ratio such as 200/5: primary and secondary in the same unit (V or A).
struct TransformerRatio {
    double primary = 1.0;
    double secondary = 1.0;
    [[nodiscard]] constexpr double factor() const { return primary / secondary; }
    friend constexpr auto operator<=>(TransformerRatio, TransformerRatio) = default;
};

template <class Unit>
[[nodiscard]] constexpr Quantity<Unit, Side::primary> to_primary(Quantity<Unit, Side::secondary> seen,
                                                                 TransformerRatio ratio) {
    return {seen.value * ratio.factor()};
}
template <class Unit>
[[nodiscard]] constexpr Quantity<Unit, Side::secondary> to_secondary(Quantity<Unit, Side::primary> meant,
                                                                     TransformerRatio ratio) {
    return {meant.value / ratio.factor()};
}

}  // namespace phasewright::quantity
