#include "core/chain/load_shares.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "core/chain/energy_error.hpp"
#include "core/quantity/three_phase.hpp"

using namespace phasewright;
using namespace phasewright::chain;

namespace {
constexpr plan::Nominal wye{230.0, 398.37, 50.0};
LoadShares shares(plan::Service service, double power_factor, plan::Nominal const& nominal = wye) {
    return load_shares(plan::model_of(service), nominal, lag_of(power_factor));
}
}  // namespace

TEST_CASE("each of three elements carries a third at the load's own angle") {
    auto const all = shares(plan::Service::four_wire_wye, 0.8);
    REQUIRE(all.inputs == 3);
    for (std::size_t k = 0; k < 3; ++k) {
        CHECK(all.of_input(k).real() == doctest::Approx(1.0 / 3.0));
        CHECK(all.of_input(k).imag() == doctest::Approx(0.75 / 3.0));
        CHECK(std::abs(all.of_element(k) - all.of_input(k)) < 1e-12);
    }
}

// Blondel; P1 : P2 = cos(phi + 30) : cos(phi - 30).
TEST_CASE("two elements stand 30 degrees to either side of the load") {
    for (double const power_factor : {1.0, 0.8, 0.5}) {
        auto const all = shares(plan::Service::three_wire_two_element, power_factor);
        REQUIRE(all.inputs == 2);
        double const phi = std::acos(power_factor);
        double const thirty = std::acos(-1.0) / 6.0;
        double const sum = std::cos(phi + thirty) + std::cos(phi - thirty);
        CHECK(all.of_input(0).real() == doctest::Approx(std::cos(phi + thirty) / sum));
        CHECK(all.of_input(1).real() == doctest::Approx(std::cos(phi - thirty) / sum));
        CHECK(all.of_input(0).imag() == doctest::Approx(std::sin(phi + thirty) / sum));
        CHECK(all.of_input(0).imag() + all.of_input(1).imag() == doctest::Approx(std::tan(phi)));
    }
}

TEST_CASE("every service adds up to the whole power at the load's angle") {
    for (auto const service : plan::all_services) {
        CAPTURE(plan::code_of(service));
        bool const delta = service == plan::Service::high_leg_delta;
        auto const all = shares(service, 0.8, delta ? plan::Nominal{120.0, 240.0, 60.0} : wye);
        std::complex<double> sum = 0.0;
        for (std::size_t j = 0; j < all.inputs; ++j) sum += all.of_input(j);
        CHECK(sum.real() == doctest::Approx(1.0));
        CHECK(sum.imag() == doctest::Approx(0.75));
    }
}

TEST_CASE("a derived current hangs on both others") {
    auto const all = shares(plan::Service::four_wire_two_ct, 1.0);
    REQUIRE(all.inputs == 2);
    // Two thirds of the whole are read directly; the third element repeats both errors, half each.
    CHECK(all.of_input(0).real() == doctest::Approx(0.5));
    CHECK(std::abs(all.of_input(0).imag()) == doctest::Approx(quantity::sqrt_of_3 / 6.0));
}
