// One-phase circuits on the inputs of meters.
#include "core/design/inputs.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <random>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;
using plan::Conductor;

TEST_CASE("circuits on b, c and a go to the second, third and first input") {
    auto const on = circuits_on_inputs({Conductor::b, Conductor::c, Conductor::a}, 3);
    CHECK(on.input_of == std::vector<std::size_t>{1, 2, 0});
    CHECK(on.out_of_order == 0);
}

TEST_CASE("two circuits of one phase on one meter: one lead must leave the order") {
    auto const on = circuits_on_inputs({Conductor::a, Conductor::a, Conductor::c}, 3);
    CHECK(on.out_of_order == 1);
    CHECK(on.input_of == std::vector<std::size_t>{0, 1, 2});
}

TEST_CASE("as few leads leave the order as in any way of laying the circuits, for every triple of phases") {
    for (int code = 0; code < 27; ++code) {
        std::vector<Conductor> const phases{static_cast<Conductor>(code % 3),
                                            static_cast<Conductor>(code / 3 % 3),
                                            static_cast<Conductor>(code / 9)};
        std::vector<std::size_t> way{0, 1, 2};
        int least = 3;
        do {
            int out = 0;
            for (std::size_t k = 0; k < 3; ++k) out += way[k] == static_cast<std::size_t>(phases[k]) ? 0 : 1;
            least = std::min(least, out);
        } while (std::ranges::next_permutation(way).found);
        CHECK(circuits_on_inputs(phases, 3).out_of_order == least);
    }
}

TEST_CASE("as many meters as the fullest phase has circuits, and each circuit on an input of its own phase") {
    std::mt19937 dice(31);
    for (int k = 0; k < 60; ++k) {
        std::vector<Conductor> phases(1 + dice() % 20);
        std::map<Conductor, std::size_t> count;
        for (auto& phase : phases) ++count[phase = static_cast<Conductor>(dice() % 3)];
        std::size_t fullest = 0;
        for (auto const& [phase, number] : count) fullest = std::max(fullest, number);
        auto const meters = circuits_on_meters(phases);
        CHECK(meters.size() == fullest);
        std::vector<int> seen(phases.size(), 0);
        for (auto const& meter : meters) {
            std::map<Conductor, int> here;
            for (auto const circuit : meter) {
                ++seen[circuit];
                CHECK(++here[phases[circuit]] == 1);
            }
        }
        CHECK(std::ranges::all_of(seen, [](int times) { return times == 1; }));
    }
}

namespace {
plan::Site panel_with_poles() {
    plan::Site site;
    auto panel = panel_400("riser");
    panel.service = plan::Service::four_wire_wye;
    panel.numbering = plan::PoleNumbering::odd_left;
    panel.ways = {{.id = "Q9", .conductors = {Conductor::c}, .breaker_a = {}, .name = {}}};
    site.panels = {panel};
    return site;
}
plan::MeteringPoint one_phase(std::string const& id, std::string const& way) {
    auto point = point_in("riser", id);
    point.service = plan::Service::one_phase_two_wire;
    point.way = way;
    return point;
}
std::vector<MeterOffer> meters() { return {offer_of("any", five_ampere_meter())}; }
}  // namespace

TEST_CASE(
    "phases of branches come from the pole map, by what it says and else by counting, and inputs are put in "
    "order") {
    auto site = panel_with_poles();
    auto point = one_phase("kiosks", "");
    // poles 3 and 4 are b, 5 and 6 c, 7 and 8 a again (odd left, even right; common practice)
    point.model_options.branches = {{.id = "k1", .way = "Q9", .to_choose = true},
                                    {.id = "k2", .way = "7", .to_choose = true},
                                    {.id = "k3", .way = "4", .to_choose = true}};
    site.points = {point};
    auto const proposals = choose_phases(site);
    REQUIRE(proposals.size() == 1);
    CHECK(proposals[0].standing == Standing::taken);
    auto const& branches = site.points[0].model_options.branches;
    CHECK(branches[0].id == "k2");
    CHECK(branches[0].phase == Conductor::a);
    CHECK(branches[1].id == "k3");
    CHECK(branches[2].id == "k1");
    CHECK_FALSE(branches[0].to_choose);
}

TEST_CASE("a phase that is decided against the map is told and not changed") {
    auto site = panel_with_poles();
    auto point = one_phase("kiosk", "");
    point.model_options.branches = {{.id = "k1", .phase = Conductor::a, .way = "3"}};
    site.points = {point};
    auto const proposals = choose_phases(site);
    REQUIRE(proposals.size() == 1);
    CHECK(proposals[0].standing == Standing::offered);
    CHECK(site.points[0].model_options.branches[0].phase == Conductor::a);
}

TEST_CASE("a way that is on no map is asked for") {
    auto site = panel_with_poles();
    auto point = one_phase("kiosk", "");
    point.model_options.branches = {{.id = "k1", .way = "F7", .to_choose = true}};
    site.points = {point};
    CHECK(choose_phases(site)[0].standing == Standing::open);
    CHECK(site.points[0].model_options.branches[0].to_choose);
}

TEST_CASE(
    "three circuits of one rating on three phases could share a meter: offered, and done when asked for") {
    auto site = panel_with_poles();
    site.points = {one_phase("one", "1"), one_phase("two", "3"), one_phase("three", "5"),
                   one_phase("other", "9")};
    site.points[3].breaker_a = 16.0;
    auto const offered = choose_sharing(site, meters(), {});
    REQUIRE(offered.size() == 1);
    CHECK(offered[0].standing == Standing::offered);
    CHECK(site.points.size() == 4);
    auto const taken = choose_sharing(site, meters(), {.share_meters = true});
    CHECK(taken[0].standing == Standing::taken);
    REQUIRE(site.points.size() == 2);
    auto const& branches = site.points[0].model_options.branches;
    REQUIRE(branches.size() == 3);
    CHECK(branches[1].id == "two");
    CHECK(branches[1].phase == Conductor::b);
}

TEST_CASE("points that a sum speaks of are not merged behind its back") {
    auto site = panel_with_poles();
    site.points = {one_phase("one", "1"), one_phase("two", "3")};
    site.sums = {{.id = "s", .name = {}, .plus = {"one", "two"}, .minus = {}}};
    auto const proposals = choose_sharing(site, meters(), {.share_meters = true});
    CHECK(proposals[0].standing == Standing::offered);
    CHECK(site.points.size() == 2);
}
