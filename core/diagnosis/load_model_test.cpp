#include "core/diagnosis/load_model.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/site_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;

TEST_CASE("a high leg's first leg carries the three-phase part and its lighting, as phasors add") {
    auto const model = plan::model_of(plan::Service::high_leg_delta);
    auto const u = plan::source_phasors(model, {120.0, 240.0, 60.0}, plan::Sequence::abc);
    // 1 at 30 degrees and 1.1 at 0 degrees: 2.0286 at 14.27 degrees (by hand: 1.9660 + j 0.5).
    double const size = std::hypot(std::cos(std::numbers::pi / 6.0) + 1.1, 0.5);
    bool found = false;
    for (auto const& shape : load_shapes(model, u))
        found = found || (std::abs(std::exp(shape.log_size_shift[0]) - size) < 1e-9 && std::abs(shape.angle_shift_deg[0] + 14.27) < 0.01);
    CHECK(found);
}

TEST_CASE("at every site angle the shapes of a service weigh one in all") {
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        auto const nominal = plan::nominal_from_ln(service, 120.0, 60.0);
        auto const shapes = load_shapes(model, plan::source_phasors(model, nominal, plan::Sequence::abc));
        CAPTURE(plan::code_of(service));
        for (double const angle : {0.0, 45.0, 150.0, -120.0, 190.0}) {
            double sum = 0.0;
            for (auto const& shape : shapes)
                if (goes_with(shape, angle)) sum += shape.weight;
            CHECK(sum == doctest::Approx(1.0));
        }
    }
}

TEST_CASE("a shop whose three-phase part exports while its lighting draws is no mistake") {
    auto const site = shop();
    auto const model = plan::model_of(site.service);
    auto const u = plan::source_phasors(model, plan::nominal_from_ln(site.service, 120.0, 60.0), plan::Sequence::abc);
    auto const centre = (u[0] + u[1] + u[2]) / 3.0;
    for (double const lighting : {12.0, 45.0, 110.0}) {
        wiring::Currents j{};
        for (std::size_t c = 0; c < 3; ++c) j[c] = std::polar(30.0, std::arg(u[c] - centre) - 188.0 * std::numbers::pi / 180.0);
        for (std::size_t const leg : {std::size_t{0}, std::size_t{2}})
            j[leg] += std::polar(lighting, std::arg(u[leg]) - 9.0 * std::numbers::pi / 180.0);
        auto set = read(site);
        set.snapshots = {snapshot_of(wiring::elements_of(wiring::seen_by(wiring::as_planned(model), model), u, j))};
        set.flow = plan::Flow::both;
        auto const verdict = diagnose(set);
        CAPTURE(lighting);
        CAPTURE(verdict.classes.front().in_words);
        CHECK(verdict.state != State::mistake);
        double planned = 0.0;
        for (auto const& found : verdict.classes)
            if (found.as_planned) planned += found.probability;
        CHECK(planned > 0.2);  // one angle for both parts calls the second and the third a mistake
    }
}

TEST_CASE("motors with heaters on the legs are understood when their kinds are told apart") {
    auto const site = shop();
    auto const model = plan::model_of(site.service);
    auto const u = plan::source_phasors(model, plan::nominal_from_ln(site.service, 120.0, 60.0), plan::Sequence::abc);
    auto const centre = (u[0] + u[1] + u[2]) / 3.0;
    wiring::Currents j{};
    for (std::size_t c = 0; c < 3; ++c) j[c] = std::polar(30.0, std::arg(u[c] - centre) - 40.0 * std::numbers::pi / 180.0);
    for (std::size_t const leg : {std::size_t{0}, std::size_t{2}}) j[leg] += std::polar(60.0, std::arg(u[leg]));
    auto set = read(site);
    auto const planned_when = [&](readings::LoadKinds const& kinds, wiring::Wiring const& wired) {
        set.snapshots = {snapshot_of(wiring::elements_of(wiring::seen_by(wired, model), u, j))};
        set.load_kind = kinds;
        double planned = 0.0;
        for (auto const& found : diagnose(set).classes)
            if (found.as_planned) planned += found.probability;
        return planned;
    };
    auto const right = wiring::as_planned(model);
    readings::LoadKinds const apart{.three_phase = plan::LoadKind::motor, .legs = plan::LoadKind::resistive};
    CHECK(planned_when(apart, right) > 0.9);
    CHECK(planned_when(apart, right) > planned_when({.whole = plan::LoadKind::motor}, right));
    auto turned = right;
    turned.current[1].sign = -1;
    CHECK(planned_when(apart, turned) < 0.01);
}
