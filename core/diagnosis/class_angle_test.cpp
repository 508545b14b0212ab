#include "core/diagnosis/class_angle.hpp"

#include <doctest/doctest.h>

using namespace phasewright::diagnosis;

// IEC 61869-2:2012, Table 201, from memory: 0.5 has 90, 45, 30 minutes at 5, 20 and 100 %.
TEST_CASE("a class limits the angle the less, the smaller the current") {
    CHECK(class_angle_deg("0.5", 1.0) == doctest::Approx(0.5));
    CHECK(class_angle_deg("0.5", 0.2) == doctest::Approx(0.75));
    CHECK(class_angle_deg("0.5", 0.05) == doctest::Approx(1.5));
    CHECK(class_angle_deg("0.5", 0.02) == doctest::Approx(4.0));
    CHECK(class_angle_deg("0.5S", 0.02) == doctest::Approx(1.5));
    CHECK(class_angle_deg("0.2S", 0.05) == doctest::Approx(0.25));
    CHECK(class_angle_deg("1", 1.2) == doctest::Approx(1.0));
}

TEST_CASE("a class that says nothing of angles, or that nobody knows") {
    CHECK(class_angle_deg("3", 1.0) == doctest::Approx(4.0));
    CHECK(class_angle_deg("", 1.0) == doctest::Approx(0.5));
    CHECK(class_angle_deg("C400", 1.0) == doctest::Approx(0.5));
}
