// Fuses and wires of voltage taps, by hand.
#include "core/design/choose_tap.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

namespace {
struct Bench {
    plan::Panel panel = panel_400("main");
    plan::MeteringPoint point = point_in("main", "tenant");
    plan::MeterHardware meter = five_ampere_meter();
    Catalogue catalogue = small_catalogue();
    bool ten_feet = false;
    std::optional<double> breaker_a = 63.0;
    Bench() {
        panel.fault_ka = 25.0;
        catalogue.fuses = {
            {.model = "small-low", .rated_a = 0.5, .volts = 250.0, .breaking_ka = 1.5},
            {.model = "weak", .rated_a = 1.0, .volts = 500.0, .breaking_ka = 10.0, .let_through_a2s = 6.0},
            {.model = "good", .rated_a = 1.0, .volts = 690.0, .breaking_ka = 50.0, .let_through_a2s = 6.0},
            {.model = "large",
             .rated_a = 16.0,
             .volts = 690.0,
             .breaking_ka = 100.0,
             .let_through_a2s = 40'000.0}};
    }
    [[nodiscard]] TapChoice choose(bool feeds = false) const {
        return choose_tap({.point = &point,
                           .panel = &panel,
                           .breaker_a = breaker_a,
                           .meter = &meter,
                           .feeds_meter = feeds,
                           .ten_feet = ten_feet},
                          catalogue, {});
    }
};
bool says(TapChoice const& choice, std::string const& words) {
    return std::ranges::any_of(choice.others, [&](NotChosen const& other) {
        return other.because.find(words) != std::string::npos;
    });
}
}  // namespace

TEST_CASE(
    "the smallest fuse that bears the volts and breaks the panel's fault current, and the thinnest wire that "
    "it protects") {
    Bench const bench;
    auto const choice = bench.choose();
    REQUIRE(choice.tap.has_value());
    CHECK(choice.tap->fuse_a == 1.0);
    CHECK(choice.tap->breaking_ka == 50.0);
    CHECK(plan::text_of(*choice.tap->size) == "1.5 mm2");
    CHECK(choice.tap->protection == plan::TapProtection::fuse);
    CHECK(says(choice, "it is rated 250 V"));
    CHECK(says(choice, "it breaks 10 kA, and the panel can give 25 kA"));
    CHECK(is_whole(*choice.tap));
}

TEST_CASE("40 000 A2s are more than 1.5 mm2 bear (29 756 by k = 115) and less than 2.5 mm2 do (82 656)") {
    // k2 S2 of both: IEC 60364-4-43, 434.5.2, from memory; the products derived.
    Bench bench;
    bench.catalogue.fuses = {bench.catalogue.fuses.back()};
    auto const choice = bench.choose();
    REQUIRE(choice.tap.has_value());
    CHECK(plan::text_of(*choice.tap->size) == "2.5 mm2");
    CHECK(says(choice, "bears 29756 A2s"));
}

TEST_CASE(
    "by the 10 ft rule the wire carries a tenth of what stands in front: 14 AWG up to 200 A, 12 AWG up to "
    "250 A") {
    // NEC 240.21(B)(1) with 20 A and 25 A of Table 310.16, 75 degrees C.
    Bench bench;
    bench.ten_feet = true;
    bench.catalogue.wires = {wire(2.1, {plan::WireUse::voltage}, 20.0),
                             wire(2.4, {plan::WireUse::voltage}, 25.0)};
    bench.breaker_a = 200.0;
    CHECK(bench.choose().tap->size->number == 2.1);
    bench.breaker_a = 250.0;
    CHECK(bench.choose().tap->size->number == 2.4);
    bench.breaker_a = 400.0;
    CHECK_FALSE(bench.choose().tap.has_value());
}

TEST_CASE(
    "a meter that lives on its inputs needs more: 115 VA at 230 V are 0.5 A, and with a quarter to spare "
    "0.63 A") {
    Bench bench;
    bench.panel.fault_ka = 1.0;
    bench.panel.nominal.v_ll = 240.0;
    bench.meter.supply = plan::MeterSupply{.kind = plan::SupplyKind::voltage_inputs, .power_va = 115.0};
    CHECK(bench.choose(false).tap->fuse_a == 0.5);
    CHECK(bench.choose(true).tap->fuse_a == 1.0);
}

TEST_CASE("what the plan has of a tap stays: its fuse, its size, its length") {
    Bench bench;
    bench.point.tap = plan::VoltageTap{
        .size = plan::ConductorSize{plan::SizeUnit::mm2, 2.5}, .length_m = 7.0, .fuse_a = 16.0};
    bench.catalogue.fuses.back().let_through_a2s = 900.0;
    auto const choice = bench.choose();
    REQUIRE(choice.tap.has_value());
    CHECK(choice.tap->fuse_a == 16.0);
    CHECK(choice.tap->length_m == 7.0);
    CHECK(choice.tap->size->number == 2.5);
}

TEST_CASE("a fault current that nobody has said is named as assumed") {
    Bench bench;
    bench.panel.fault_ka.reset();
    auto const choice = bench.choose();
    REQUIRE(choice.tap.has_value());
    CHECK(choice.tap->breaking_ka == 50.0);  // the one that breaks more of that rating
    CHECK(std::ranges::any_of(choice.assumed, [](auto const& words) {
        return words.find("fault current is not in the plan") != std::string::npos;
    }));
}
