// Poles and phases of a panel. The numbers 21 -> B, 24 -> C, 37 -> A, 42 -> C are those of apprentice-training pages.
#include "core/plan/panel.hpp"

#include <doctest/doctest.h>

using namespace phasewright::plan;

TEST_CASE("poles are counted onto the phases, odd left and even right") {
    auto const at = [](int pole) { return letter_of(conductor_of_pole(pole, PoleNumbering::odd_left, 3)); };
    CHECK(at(1) == 'a');
    CHECK(at(2) == 'a');
    CHECK(at(21) == 'b');
    CHECK(at(24) == 'c');
    CHECK(at(37) == 'a');
    CHECK(at(42) == 'c');
    auto const leg = [](int pole) { return letter_of(conductor_of_pole(pole, PoleNumbering::odd_left, 2)); };
    CHECK(leg(2) == 'a');
    CHECK(leg(3) == 'b');
    CHECK(leg(5) == 'a');
    CHECK(letter_of(conductor_of_pole(5, PoleNumbering::in_turn, 3)) == 'b');
}

TEST_CASE("what the pole map says goes before what is counted, and nothing is counted unasked") {
    Panel panel{.id = "p", .name = "p", .nominal = {120.0, 208.0, 60.0}};
    panel.ways = {{.id = "3", .conductors = {Conductor::c}}};
    CHECK(conductor_of_way(panel, "3") == Conductor::c);
    CHECK_FALSE(conductor_of_way(panel, "5").has_value());
    panel.numbering = PoleNumbering::odd_left;
    panel.service = Service::four_wire_wye;
    CHECK(conductor_of_way(panel, "5") == Conductor::c);
    CHECK(conductor_of_way(panel, "9") == Conductor::b);
    CHECK_FALSE(conductor_of_way(panel, "Q5").has_value());
    CHECK_FALSE(conductor_of_way(panel, "0").has_value());
}
