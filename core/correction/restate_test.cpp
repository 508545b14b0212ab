#include "core/correction/restate.hpp"

#include <doctest/doctest.h>

#include <random>

#include "core/correction/metered_year.hpp"

using namespace phasewright;
using namespace phasewright::correction;
using plan::Service;
using wiring::Touch;

namespace {
Question question(Service service = Service::four_wire_wye) {
    Question q{.model = plan::model_of(service), .nominal = plan::nominal_from_ln(service, 230.0, 50.0)};
    q.hypotheses.push_back({wiring::as_planned(q.model), 1.0, "as planned"});
    return q;
}
wiring::Wiring& wired(Question& q) { return q.hypotheses.front().wiring; }
auto near(double value, double within) { return doctest::Approx(value).epsilon(within); }

// The same hookup for the test's own phasor sums and as a wiring.
void land(Question& q, Hookup const& hookup) {
    for (std::size_t k = 0; k < 3; ++k) {
        wired(q).voltage[k] = static_cast<Touch>(hookup.tap[k]);
        wired(q).current[k].dead = hookup.ct[k] < 0;
        if (hookup.ct[k] >= 0) wired(q).current[k].conductor = static_cast<plan::Conductor>(hookup.ct[k]);
        wired(q).current[k].sign = hookup.sign[k] < 0.0 ? -1 : 1;
    }
}
}  // namespace

TEST_CASE(
    "a year of an unbalanced wandering load comes back to the kWh from the elements, however they were "
    "crossed") {
    auto const year = year_of_loads();
    for (auto const& hookup :
         {Hookup{{0, 1, 2}, {0, 1, 2}, {1.0, -1.0, 1.0}}, Hookup{{0, 1, 2}, {1, 0, 2}, {1.0, 1.0, 1.0}},
          Hookup{{0, 1, 2}, {1, 2, 0}, {-1.0, -1.0, -1.0}}, Hookup{{1, 0, 2}, {0, 2, 1}, {1.0, -1.0, 1.0}},
          Hookup{{0, 0, 2}, {0, 1, 2}, {1.0, 1.0, 1.0}}}) {
        auto q = question();
        land(q, hookup);
        auto const result = restate(q, stored(year, hookup));
        REQUIRE_FALSE(result.refusal);
        CHECK(*result.corrected_wh == near(true_wh(year), 1e-9));
        CHECK(result.true_wh->p05 < true_wh(year));
        CHECK(result.true_wh->p95 > true_wh(year));
        for (std::size_t t = 0; t < year.size(); t += 977) {
            CHECK(*result.series[t].wh == near(0.25 * true_of(year[t]).real(), 1e-9));
            CHECK(*result.series[t].varh == near(0.25 * true_of(year[t]).imag(), 1e-9));
        }
    }
}

TEST_CASE("with recorded volts the supply's own inequality is taken out too") {
    ThreePhasors const u{at_deg(236.0, 0.0), at_deg(229.0, -120.0), at_deg(224.0, 120.0)};
    auto const year = year_of_loads(3000, u);
    Hookup const crossed{{0, 1, 2}, {1, 0, 2}, {1.0, 1.0, 1.0}};
    auto data = stored(year, crossed);
    auto q = question();
    land(q, crossed);
    double const without = *restate(q, data).corrected_wh;
    for (std::size_t t = 0; t < year.size(); ++t)
        for (std::size_t k = 0; k < 3; ++k) data.volts.push_back(std::abs(u[k]));
    double const with = *restate(q, data).corrected_wh;
    CHECK(with == near(true_wh(year), 1e-9));
    CHECK(std::abs(without - true_wh(year)) > 1e-3 * true_wh(year));
}

TEST_CASE("an interval whose volts collapsed stands in no total and is counted") {
    auto const year = year_of_loads(100);
    Hookup const crossed{{0, 1, 2}, {1, 0, 2}, {1.0, 1.0, 1.0}};
    auto data = stored(year, crossed);
    data.volts.assign(300, 230.0);
    data.volts[30] = 3.0;
    auto q = question();
    land(q, crossed);
    auto const result = restate(q, data);
    CHECK(result.undetermined_rows == 1);
    CHECK_FALSE(result.series[10].wh);
    CHECK(*result.corrected_wh == near(true_wh(year) - 0.25 * true_of(year[10]).real(), 1e-9));
}

TEST_CASE(
    "totals of a balanced load: the sum of K(phi) W is the truth, K of the mean angle times the sum is not") {
    // All rotated: K(phi) = cos phi / cos(phi + 120 degrees), docs/physics/pairing.md.
    auto year = year_of_loads(5000);
    for (auto& now : year)
        for (std::size_t k = 1; k < 3; ++k) now.j[k] = now.j[0] * now.u[k] / now.u[0];
    Hookup const rotated{{2, 0, 1}, {0, 1, 2}, {1.0, 1.0, 1.0}};
    auto data = stored(year, rotated, true);
    auto q = question();
    land(q, rotated);
    q.balanced_within = 0.02;
    CHECK(*restate(q, data).corrected_wh == near(true_wh(year), 1e-9));

    // Without vars, with the load's angle from elsewhere: the same.
    double mean_lag = 0.0;
    double registered = 0.0;
    for (std::size_t t = 0; t < year.size(); ++t) {
        data.load_lag_rad.push_back(std::arg(true_of(year[t])));
        mean_lag += data.load_lag_rad.back() / static_cast<double>(year.size());
        registered += data.energy[t].real();
        data.energy[t] = data.energy[t].real();
    }
    data.vars_recorded = false;
    auto const by_angle = restate(q, data);
    CHECK(*by_angle.corrected_wh == near(true_wh(year), 1e-9));
    data.load_lag_rad.clear();
    q.lag = AssumedLag{mean_lag, 0.01};
    auto const by_mean = restate(q, data);
    CHECK(*by_mean.corrected_wh ==
          near(std::cos(mean_lag) / std::cos(mean_lag + 2.0 * std::numbers::pi / 3.0) * registered, 1e-9));
    CHECK(std::abs(*by_mean.corrected_wh / true_wh(year) - 1.0) > 0.02);
}

TEST_CASE("totals are refused where they cannot tell, with the plain number beside it and what would help") {
    auto const year = year_of_loads(200);
    auto q = question();
    Hookup const reversed{{0, 1, 2}, {0, 1, 2}, {1.0, -1.0, 1.0}};
    land(q, reversed);
    auto const unsaid = restate(q, stored(year, reversed, true));
    REQUIRE(unsaid.refusal);
    CHECK(unsaid.refusal->what_would_help.size() == 3);
    CHECK(*unsaid.plain == near(3.0, 1e-12));
    CHECK_FALSE(unsaid.factor);

    q.balanced_within = 0.05;
    CHECK_FALSE(restate(q, stored(year, reversed, true)).refusal);
    q.balanced_within = 0.4;  // then a third of the energy is anything
    CHECK(restate(q, stored(year, reversed, true)).refusal);

    Hookup const exchanged{{1, 0, 2}, {0, 1, 2}, {1.0, 1.0, 1.0}};
    land(q, exchanged);
    q.balanced_within = 0.05;
    auto const nothing = restate(q, stored(year, exchanged, true));
    REQUIRE(nothing.refusal);
    CHECK(nothing.law == diagnosis::EnergyLaw::lost);
    CHECK_FALSE(nothing.plain);
    CHECK_FALSE(restate(q, stored(year, exchanged)).refusal);  // its elements know it all
}

TEST_CASE("kWh without kvarh need a power factor unless the law is a plain number") {
    auto year = year_of_loads(200);
    auto q = question(Service::three_wire_two_element);
    wired(q).current[0].sign = -1;
    q.balanced_within = 0.05;
    IntervalData data{.totals = true,
                      .vars_recorded = false,
                      .start_s = {0.0, 900.0},
                      .duration_s = {900.0, 900.0},
                      .energy = {100.0, 100.0}};
    CHECK(restate(q, data).refusal);
    q.lag = AssumedLag{std::numbers::pi / 3.0, 0.005};
    auto const at_60 = restate(q, data);  // textbook: registers 1.0000 at 60 degrees
    REQUIRE_FALSE(at_60.refusal);
    CHECK(*at_60.corrected_wh == near(200.0, 1e-9));
    wired(q).current[0].sign = 1;
    wired(q).voltage[1] = Touch::lost;  // half for every angle
    q.lag.reset();
    CHECK(*restate(q, data).corrected_wh == near(400.0, 1e-9));
}

TEST_CASE(
    "a dead CT is refused, its neighbours are reported, and shares after the repair give a band that covers "
    "both orders") {
    // Kerala Electricity Ombudsman P/004/2023: measured -31.52 %; flat 33.33 % elsewhere.
    auto const year = year_of_loads(500);
    Hookup const dead{{0, 1, 2}, {-1, 1, 2}, {1.0, 1.0, 1.0}};
    auto q = question();
    land(q, dead);
    auto const data = stored(year, dead);
    auto const refused = restate(q, data);
    REQUIRE(refused.refusal);
    CHECK(*refused.plain == near(1.5, 1e-12));
    CHECK_FALSE(refused.element_known[0]);
    double known = 0.0;
    for (auto const& now : year) known += 0.25 * true_of(now, 1).real();
    CHECK(refused.known_wh[1] == near(known, 1e-9));
    CHECK_FALSE(refused.series[7].wh);
    CHECK(refused.series[7].of_element[1]);

    q.shares = Shares{{1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0}, 0.02};
    for (bool const totals : {false, true}) {
        auto const shared = restate(q, stored(year, dead, totals));
        REQUIRE_FALSE(shared.refusal);
        CHECK(shared.law == diagnosis::EnergyLaw::band);
        CHECK(*shared.corrected_wh / shared.registered_wh == near(1.5, 1e-9));
        CHECK(*shared.factor_p05 < 1.0 / 0.6848);
        CHECK(*shared.factor_p95 > 1.5);
        CHECK(*shared.factor_p95 < 1.65);
    }
}

TEST_CASE("the same reversed CT makes every kind of register wrong by its own amount") {
    auto year = year_of_loads(300);
    for (auto& now : year)
        for (std::size_t k = 1; k < 3; ++k) now.j[k] = now.j[0] * now.u[k] / now.u[0];
    Hookup const reversed{{0, 1, 2}, {0, 1, 2}, {1.0, -1.0, 1.0}};
    auto q = question();
    land(q, reversed);
    auto const data = stored(year, reversed);
    auto const factor_of = [&](RegisterKind kind) {
        q.kind = kind;
        auto const result = restate(q, data);
        REQUIRE_FALSE(result.refusal);
        CHECK(*result.corrected_wh == near(true_wh(year), 1e-9));
        return *result.corrected_wh / result.registered_wh;
    };
    CHECK(factor_of(RegisterKind::net) == near(3.0, 1e-9));
    CHECK(factor_of(RegisterKind::import_only) == near(3.0, 1e-9));
    CHECK(factor_of(RegisterKind::absolute) == near(1.0, 1e-9));
    CHECK(factor_of(RegisterKind::per_phase) == near(1.5, 1e-9));
    q.kind = RegisterKind::export_only;
    auto const none = restate(q, data);
    CHECK(*none.corrected_wh == 0.0);
    CHECK_FALSE(none.factor);  // it counted nothing, and rightly so
}

TEST_CASE("an import register with all CTs reversed stood still while there was load") {
    auto q = question();
    land(q, {{0, 1, 2}, {0, 1, 2}, {-1.0, -1.0, -1.0}});
    q.kind = RegisterKind::import_only;
    IntervalData data{.totals = true,
                      .vars_recorded = false,
                      .one_way = true,
                      .start_s = {0.0, 900.0},
                      .duration_s = {900.0, 900.0},
                      .energy = {0.0, 3.0}};
    auto const result = restate(q, data);
    REQUIRE(result.refusal);
    CHECK(result.refusal->why.find("stood still") != std::string::npos);
}

TEST_CASE("a limit splits the period, and nothing is left out of either side") {
    auto const year = year_of_loads(96 * 10);
    Hookup const reversed{{0, 1, 2}, {0, 1, 2}, {1.0, -1.0, 1.0}};
    auto q = question();
    land(q, reversed);
    auto const data = stored(year, reversed);
    q.limit = Limit{3.0, data.start_s.back() + 900.0};
    auto const result = restate(q, data);
    CHECK(result.inside->rows == 96 * 3);
    CHECK(result.outside->rows == 96 * 7);
    CHECK(result.inside->corrected_wh + result.outside->corrected_wh == near(*result.corrected_wh, 1e-12));
}

TEST_CASE("a posterior over several wirings widens the band, and too much of it lost refuses the total") {
    auto const year = year_of_loads(300);
    Hookup const reversed{{0, 1, 2}, {0, 1, 2}, {1.0, -1.0, 1.0}};
    auto q = question();
    land(q, reversed);
    q.hypotheses[0].probability = 0.9;
    q.hypotheses.push_back({wiring::as_planned(q.model), 0.1, "as planned"});
    auto const data = stored(year, reversed);
    auto const mixed = restate(q, data);
    REQUIRE(mixed.true_wh);
    // The mean of the mixture: each wiring's total by its weight.
    CHECK(mixed.true_wh->mean == near(0.9 * *mixed.corrected_wh + 0.1 * mixed.registered_wh, 2e-3));
    CHECK(mixed.true_wh->p05 < 0.5 * *mixed.corrected_wh);
    q.hypotheses[1].wiring.current[0].dead = true;
    auto const lost = restate(q, data);
    REQUIRE(lost.refusal);
    CHECK(lost.lost_probability == near(0.1, 1e-12));
    CHECK(lost.corrected_wh);
}

TEST_CASE(
    "two loops that became one tell no energy, and neither do two CTs on one conductor of the other's") {
    auto q = question(Service::four_wire_wye);
    for (std::size_t k = 0; k < 2; ++k) {
        wired(q).current[k].conductor = plan::Conductor::a;
        wired(q).current[k].with = plan::Conductor::b;
    }
    IntervalData data{.columns = 3, .start_s = {0.0}, .duration_s = {900.0}, .energy = {1.0, 2.0, 3.0}};
    auto const joined = restate(q, data);
    CHECK(joined.refusal);
    CHECK_FALSE(joined.element_known[0]);
    CHECK_FALSE(joined.element_known[1]);
    CHECK(joined.element_known[2]);
    q = question(Service::four_wire_wye);
    wired(q).current[0].conductor = plan::Conductor::b;  // both elements on b: nothing of a is left
    auto const doubled = restate(q, data);
    CHECK(doubled.refusal);
    CHECK_FALSE(doubled.element_known[0]);
    CHECK(doubled.element_known[1]);
}

TEST_CASE("a raw coil shows watts as vars, and vars of the wrong sign are turned back") {
    auto const year = year_of_loads(100);
    Hookup const right;
    auto data = stored(year, right);
    // The signal leads the current by 90 degrees: i = j J, so V conj(i) = -j S.
    for (auto& e : data.energy) e *= std::complex<double>{0.0, -1.0};
    auto q = question();
    for (auto& feed : wired(q).current) feed.quarter_turn = true;
    CHECK(*restate(q, data).corrected_wh == near(true_wh(year), 1e-9));
    Hookup const crossed{{0, 1, 2}, {1, 0, 2}, {1.0, 1.0, 1.0}};
    data = stored(year, crossed);
    for (auto& e : data.energy) e = std::conj(e);
    q = question();
    land(q, crossed);
    wired(q).vars_turned = true;
    CHECK(*restate(q, data).corrected_wh == near(true_wh(year), 1e-9));
}
