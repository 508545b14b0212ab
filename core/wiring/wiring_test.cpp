#include "core/wiring/wiring.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

using namespace phasewright;
using namespace phasewright::wiring;
using enum plan::Service;

namespace {
double radians(double degrees) { return degrees * std::numbers::pi / 180.0; }

// A balanced load of one ampere that lags by phi.
Currents balanced(plan::SourcePhasors const& u, double phi_deg) {
    Currents j{};
    for (std::size_t c = 0; c < 3; ++c)
        if (std::abs(u[c]) > 0.0) j[c] = std::polar(1.0, std::arg(u[c]) - radians(phi_deg));
    return j;
}

double registered_share(plan::ServiceModel const& model, Wiring const& wiring, double phi_deg) {
    auto const u = plan::source_phasors(model, plan::nominal_from_ln(model.service, 1.0, 50.0), plan::Sequence::abc);
    auto const j = balanced(u, phi_deg);
    double registered = 0.0;
    for (auto const& element : elements_of(seen_by(wiring, model), u, j)) registered += element.s.real();
    return registered / true_power(u, j).real();
}
}  // namespace

TEST_CASE("every service registers the true power when it is wired as planned") {
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        auto const u = plan::source_phasors(model, plan::nominal_from_ln(service, 230.0, 50.0), plan::Sequence::acb);
        Currents j{std::polar(31.0, 0.4), std::polar(22.0, -1.9), std::polar(27.0, 1.8)};
        if (model.live.size() < 3) j[2] = 0.0;
        if (model.live.size() < 2) j[1] = 0.0;
        if (model.currents_sum_to_zero) j[2] = -j[0] - j[1];
        std::complex<double> sum = 0.0;
        for (auto const& element : elements_of(seen_by(as_planned(model), model), u, j)) sum += element.s;
        CAPTURE(plan::code_of(service));
        CHECK(std::abs(sum - true_power(u, j)) < 1e-9 * std::abs(sum));
    }
}

TEST_CASE("one reversed CT on a balanced four-wire load registers a third of the energy") {
    // Kerala High Court, O.P. 7047/2001, 18 Feb 2009: "only 1/3rd"; docs/physics/reversal.md.
    auto const model = plan::model_of(four_wire_wye);
    auto wiring = as_planned(model);
    wiring.current[1].sign = -1;
    for (double const phi : {0.0, 25.84, 60.0}) CHECK(registered_share(model, wiring, phi) == doctest::Approx(1.0 / 3.0).epsilon(1e-12));
}

TEST_CASE("two exchanged voltage leads register nothing of a balanced load at any power factor") {
    auto const model = plan::model_of(four_wire_wye);
    auto wiring = as_planned(model);
    std::swap(wiring.voltage[0], wiring.voltage[1]);
    for (double const phi : {-30.0, 0.0, 40.0}) CHECK(std::abs(registered_share(model, wiring, phi)) < 1e-12);
}

TEST_CASE("a lost common tap of two elements leaves half of the energy at any power factor") {
    auto const model = plan::model_of(three_wire_two_element);
    auto wiring = as_planned(model);
    wiring.voltage[1] = Touch::lost;
    for (double const phi : {0.0, 36.87, 60.0}) CHECK(registered_share(model, wiring, phi) == doctest::Approx(0.5).epsilon(1e-12));
}

TEST_CASE("a lost neutral leaves a balanced supply as it was") {
    auto const model = plan::model_of(four_wire_wye);
    auto wiring = as_planned(model);
    wiring.neutral = Touch::lost;
    CHECK(registered_share(model, wiring, 20.0) == doctest::Approx(1.0).epsilon(1e-12));
}

TEST_CASE("a derived third current is minus the sum of the other two") {
    auto const model = plan::model_of(three_wire_two_ct);
    auto const seen = seen_by(as_planned(model), model);
    CHECK(seen.current[1][0] == std::complex<double>{-1.0});
    CHECK(seen.current[1][2] == std::complex<double>{-1.0});
    // Reversed, it is sqrt(3) of what it was: 1.732 A for 1 A (derived).
    auto wiring = as_planned(model);
    wiring.current[0].sign = -1;
    auto const u = plan::source_phasors(model, plan::nominal_from_ln(model.service, 1.0, 50.0), plan::Sequence::abc);
    auto const rows = elements_of(seen_by(wiring, model), u, balanced(u, 20.0));
    CHECK(std::abs(rows[1].i) == doctest::Approx(std::sqrt(3.0)));
}

TEST_CASE("the high leg stands at 90 degrees to both lighting legs") {
    auto const model = plan::model_of(high_leg_delta);
    auto const u = plan::source_phasors(model, plan::nominal_from_ln(high_leg_delta, 120.0, 60.0), plan::Sequence::abc);
    CHECK(std::abs(u[1]) == doctest::Approx(207.846).epsilon(1e-5));
    CHECK(std::arg(u[1] / u[0]) == doctest::Approx(radians(-90.0)));
    CHECK(std::abs(u[0] - u[2]) == doctest::Approx(240.0));
    CHECK(std::abs(u[0] - u[1]) == doctest::Approx(240.0));
}
