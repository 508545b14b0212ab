#include "core/chain/low_power.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace phasewright;
using namespace phasewright::chain;

namespace {
plan::Lead thin(double length_m) {
    return {.length_m = length_m, .size = plan::ConductorSize{plan::SizeUnit::mm2, 0.5}};
}
}  // namespace

TEST_CASE("an input loads a voltage output as a divider does") {
    CHECK(loading_percent(10000.0, 0.0, 0.0) == 0.0);
    CHECK(loading_percent(9900.0, 100.0, 0.0) == doctest::Approx(-1.0));
    plan::CurrentTransformer const ct{.ratio = {200, 0.333}, .output = plan::CtOutput::millivolts};
    plan::CurrentInput const input{
        .output = plan::CtOutput::millivolts, .rated = 0.333, .resistance = 10000.0};
    auto const circuit = voltage_circuit(ct, thin(30.0), &input, std::nullopt, {.current_a = 200.0});
    CHECK(*circuit.leads_ohm == doctest::Approx(60.0 * 0.036));  // IEC 60228: 36.0 ohm/km
    CHECK(*circuit.loading_percent == doctest::Approx(-100.0 * 2.16 / 10002.16));
    CHECK(circuit.source_left_out);
    CHECK(*voltage_circuit(ct, thin(30.0), &input, 50.0, {}).loading_percent ==
          doctest::Approx(-100 * 52.16 / 10052.16));
    CHECK_FALSE(voltage_circuit(ct, thin(30.0), nullptr, 50.0, {}).loading_percent);
}

// Faraday: 200 A at 50 Hz, wires 20 and 23 mm from its axis for one metre: 2 pi 50 * 200 * 2e-7 * ln 1.15
// = 1.756 mV.
TEST_CASE(
    "an untwisted lead beside a conductor picks up half a percent a metre, a twisted one next to nothing") {
    PickUp beside{.current_a = 200.0, .hz = 50.0, .parallel_m = 1.0, .distance_mm = 20.0, .spacing_mm = 3.0};
    CHECK(pick_up_volts(beside) == doctest::Approx(1.756e-3).epsilon(0.001));
    // The flux between both wires by summing B = mu0 I / (2 pi r) over thin strips.
    double flux = 0.0;
    for (int n = 0; n < 3000; ++n) flux += 2e-7 * 200.0 / (0.020 + (n + 0.5) * 1e-6) * 1e-6;
    CHECK(pick_up_volts(beside) == doctest::Approx(2.0 * std::acos(-1.0) * 50.0 * flux).epsilon(1e-6));
    beside.lay_mm = 25.0;
    CHECK(pick_up_volts(beside) == doctest::Approx(1.756e-3 * 0.0125).epsilon(0.001));
}

TEST_CASE("a 100 mA transformer drives its current through long leads within its compliance voltage") {
    plan::CurrentTransformer const ct{
        .ratio = {200, 0.1}, .output = plan::CtOutput::milliamperes, .burden_va = 0.1};
    plan::CurrentInput const input{.output = plan::CtOutput::milliamperes, .rated = 0.1, .resistance = 5.0};
    auto const circuit = milliampere_circuit(ct, thin(50.0), &input, std::nullopt);
    CHECK(*circuit.compliance_v == doctest::Approx(1.0));
    CHECK(*circuit.needed_v == doctest::Approx(0.1 * (100.0 * 0.036 + 5.0)));
    CHECK(*circuit.within);
    CHECK(*circuit.longest_lead_m == doctest::Approx((10.0 - 5.0) / 0.072));
    CHECK_FALSE(*milliampere_circuit(ct, thin(100.0), &input, std::nullopt).within);
    CHECK_FALSE(milliampere_circuit(ct, thin(50.0), nullptr, 1.0).within);
}

TEST_CASE(
    "a coil gives 1.2 times as much at 60 Hz as at 50, and five times its fundamental at the fifth "
    "harmonic") {
    CHECK(coil_volts(0.1, 1000.0, 50.0, 1000.0, 60.0) == doctest::Approx(0.12));
    CHECK(coil_volts(0.1, 1000.0, 50.0, 500.0, 50.0) == doctest::Approx(0.05));
    CHECK(coil_volts(0.1, 1000.0, 50.0, 200.0, 250.0) == doctest::Approx(0.1));
    plan::CurrentTransformer const ct{.ratio = {1000, 0.1}, .output = plan::CtOutput::coil};
    CHECK(coil_circuit(ct, std::nullopt, nullptr, 60.0, 50.0).gain == doctest::Approx(1.2));
    CHECK(coil_circuit(ct, thin(5.0), nullptr, 50.0, std::nullopt).recalibrate);
    CHECK_FALSE(coil_circuit(ct, std::nullopt, nullptr, 50.0, std::nullopt).recalibrate);
}
