// The whole design of small sites.
#include "core/design/design.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

namespace {
plan::Site two_tenants() {
    plan::Site site;
    site.panels = {panel_400("main")};
    site.panels[0].fault_ka = 20.0;
    site.points = {point_in("main", "one"), point_in("main", "two")};
    return site;
}
Catalogue catalogue() {
    auto all = small_catalogue();
    all.cts = {ring("half-s", 100, "0.5S", 26), ring("one", 100, "1", 26)};
    return all;
}
std::vector<MeterOffer> two_meters() {
    auto better = five_ampere_meter();
    better.accuracy = {{.standard = "IEC 62053-22", .word = "0.2S"}};
    return {offer_of("plain", five_ampere_meter()), offer_of("better", better)};
}
Proposal const* of(Design const& result, Part part, std::string const& where) {
    auto const found = std::ranges::find_if(
        result.proposals, [&](Proposal const& one) { return one.part == part && one.where == where; });
    return found == result.proposals.end() ? nullptr : &*found;
}
}  // namespace

TEST_CASE(
    "a point of which nothing is chosen gets a meter, CTs, leads, a tap, a supply, a place and an address") {
    auto const result = design::design(two_tenants(), catalogue(), two_meters());
    auto const& point = result.site.points[0];
    CHECK_FALSE(point.to_choose.any());
    CHECK(point.meter_profile == "better");
    CHECK(point.ct.model == "half-s");
    REQUIRE(point.lead.has_value());
    CHECK(plan::text_of(*point.lead->size) == "2.5 mm2");
    CHECK(point.tap->fuse_a == 1.0);
    CHECK(point.supply->supply == "main-control");
    CHECK(point.address.position == 1);
    CHECK(counted(result.proposals).open == 0);
    auto const* const meter = of(result, Part::meter, "one");
    REQUIRE(meter != nullptr);
    REQUIRE(meter->others.size() == 1);
    CHECK(meter->others[0].choice == "plain");
}

TEST_CASE("designed once more, nothing changes and nothing is proposed") {
    auto const once = design::design(two_tenants(), catalogue(), two_meters());
    auto const twice = design::design(once.site, catalogue(), two_meters());
    CHECK(twice.site == once.site);
    CHECK(twice.proposals.empty());
}

TEST_CASE("what is decided is never changed: a meter and a CT that could be better stay") {
    auto site = two_tenants();
    site.points[0].to_choose = {.ct = false, .meter = false, .address = true};
    site.points[0].meter_profile = "plain";
    site.points[0].ct = catalogue().cts[1].ct;
    auto const result = design::design(site, catalogue(), two_meters());
    CHECK(result.site.points[0].meter_profile == "plain");
    CHECK(result.site.points[0].ct == site.points[0].ct);
    CHECK(of(result, Part::ct, "one") == nullptr);
}

TEST_CASE("an overruled choice is kept with its reason and not proposed again") {
    auto site = two_tenants();
    site.points[0].overruled = {
        {.what = "ct", .reason = "three of another kind lie in the store", .by = "A. Person"}};
    auto const result = design::design(site, catalogue(), two_meters());
    CHECK(result.site.points[0].to_choose.ct);
    auto const* const kept = of(result, Part::ct, "one");
    REQUIRE(kept != nullptr);
    CHECK(kept->standing == Standing::kept);
    CHECK(kept->reasons[0] == "overruled by A. Person: three of another kind lie in the store");
    CHECK(result.site.points[0].overruled == site.points[0].overruled);
}

TEST_CASE("a load of which nothing is known is asked for, and so is a meter that nobody has described") {
    auto site = two_tenants();
    site.points[0].breaker_a.reset();
    site.points[0].usual_a.reset();
    site.points[0].most_a.reset();
    site.points[1].to_choose.meter = false;
    site.points[1].meter_profile = "sunspec";
    auto const result = design::design(site, catalogue(), two_meters());
    CHECK(of(result, Part::ct, "one")->standing == Standing::open);
    CHECK(of(result, Part::ct, "two")->ask.find("nothing is known of \"sunspec\"") != std::string::npos);
}

TEST_CASE(
    "690 V are above a meter's 520 V: voltage transformers with the lowest primary that does are proposed") {
    auto site = two_tenants();
    site.panels[0].nominal = {.v_ln = 398.0, .v_ll = 690.0, .hz = 50.0};
    auto all = catalogue();
    all.vts = {{.vt = {.model = "low"}, .maker = {}, .ratio = {600.0, 120.0}},
               {.vt = {.model = "high"}, .maker = {}, .ratio = {1000.0, 100.0}},
               {.vt = {.model = "right"}, .maker = {}, .ratio = {690.0, 100.0}}};
    auto const result = design::design(site, all, two_meters());
    REQUIRE(result.site.points[0].vt.has_value());
    CHECK(result.site.points[0].vt->primary == 690.0);
    CHECK(result.site.points[0].vt_made->model == "right");
}

TEST_CASE("an accuracy that no choice proves at the usual load is said and not hidden") {
    auto site = two_tenants();
    site.points[0].accuracy_percent = 0.3;
    auto const result = design::design(site, catalogue(), two_meters());
    auto const* const meter = of(result, Part::meter, "one");
    REQUIRE(meter != nullptr);
    CHECK(meter->ask.find("no choice proves them") != std::string::npos);
}

TEST_CASE("a service that needs more inputs than a meter has is Blondel's, and refuses it") {
    auto site = two_tenants();
    auto offers = two_meters();
    for (auto& offer : offers) offer.current_inputs = 1;
    auto const result = design::design(site, catalogue(), offers);
    auto const* const meter = of(result, Part::meter, "one");
    REQUIRE(meter != nullptr);
    CHECK(meter->standing == Standing::open);
    CHECK(meter->others[0].because == "the service 3P4W needs 3 current inputs, and it has 1");
}

TEST_CASE("a tap that is protected by the breaker alone is offered a fuse, not given one") {
    auto site = two_tenants();
    site.points[0].tap = plan::VoltageTap{.protection = plan::TapProtection::breaker};
    auto const result = design::design(site, catalogue(), two_meters());
    CHECK(of(result, Part::tap, "one")->standing == Standing::offered);
    CHECK(result.site.points[0].tap == site.points[0].tap);
}
