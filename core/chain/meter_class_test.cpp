#include "core/chain/meter_class.hpp"

#include <doctest/doctest.h>

#include <array>
#include <tuple>

#include "core/chain/class_tables.hpp"

using namespace phasewright;
using namespace phasewright::chain;

namespace {
MeterLimit limit(std::string_view standard, std::string_view word, MeterLoad const& load) {
    auto const* const of = meter_class(built_in_tables(), standard, word);
    REQUIRE(of != nullptr);
    return limit_at(*of, load);
}
MeterLoad at(double share, double power_factor = 1.0, bool leading = false) {
    return {.share_of_rated = share, .power_factor = power_factor, .leading = leading};
}
}  // namespace

// IEC 62053-22:2003, Tables 4 and 5, from memory.
TEST_CASE("classes 0.2S and 0.5S of IEC 62053-22") {
    struct Row {
        MeterLoad load;
        double fifth, half;
    };
    MeterLoad one_phase = at(0.05);
    one_phase.loading = Loading::one_phase;
    MeterLoad one_phase_half = at(0.1, 0.5);
    one_phase_half.loading = Loading::one_phase;
    for (auto const& row :
         {Row{at(0.01), 0.4, 1.0}, Row{at(0.049), 0.4, 1.0}, Row{at(0.05), 0.2, 0.5}, Row{at(1.2), 0.2, 0.5},
          Row{at(0.02, 0.5), 0.5, 1.0}, Row{at(0.1, 0.5), 0.3, 0.6}, Row{at(0.1, 0.8, true), 0.3, 0.6},
          Row{at(0.1, 0.25), 0.5, 1.0}, Row{at(1.0, 0.5, true), 0.5, 1.0}, Row{one_phase, 0.3, 0.6},
          Row{one_phase_half, 0.4, 1.0}}) {
        CAPTURE(row.load.share_of_rated);
        CAPTURE(row.load.power_factor);
        CHECK(limit("IEC 62053-22", "0.2S", row.load).percent == row.fifth);
        CHECK(limit("IEC 62053-22", "0.5S", row.load).percent == row.half);
    }
    CHECK(limit("IEC 62053-22", "0.5S", at(0.009)).why == NotStated::below_lowest);
    CHECK(limit("IEC 62053-22", "0.5S", at(0.05, 0.25)).why == NotStated::outside_its_factors);
}

// IEC 62053-21:2003, Tables 6 and 7, from memory; meters behind transformers.
TEST_CASE("classes 1 and 2 of IEC 62053-21") {
    for (auto const& [load, one, two] :
         {std::tuple{at(0.02), 1.5, 2.5}, std::tuple{at(0.05), 1.0, 2.0}, std::tuple{at(0.05, 0.5), 1.5, 2.5},
          std::tuple{at(0.1, 0.5), 1.0, 2.0}}) {
        CHECK(limit("IEC 62053-21", "1", load).percent == one);
        CHECK(limit("IEC 62053-21", "2", load).percent == two);
    }
    MeterLoad one_phase = at(0.5);
    one_phase.loading = Loading::one_phase;
    CHECK(limit("IEC 62053-21", "1", one_phase).percent == 2.0);
    CHECK(limit("IEC 62053-21", "2", one_phase).percent == 3.0);
}

TEST_CASE("between the power factors of the tables the wider row bounds, and says so") {
    auto const bound = limit("IEC 62053-22", "0.5S", at(1.0, 0.8));
    CHECK(bound.percent == 0.6);
    CHECK(bound.between_factors);
    CHECK_FALSE(limit("IEC 62053-22", "0.5S", at(1.0, 0.5)).between_factors);
    // Below 2 % of the rated current there is no row at 0.5: nothing bounds 0.8.
    CHECK(limit("IEC 62053-22", "0.5S", at(0.015, 0.8)).why == NotStated::outside_its_factors);
}

TEST_CASE("above the meter's highest current nothing is stated") {
    auto load = at(1.3);
    load.most_share = 1.2;
    CHECK(limit("IEC 62053-22", "0.5S", load).why == NotStated::above_highest);
}

// 2014/32/EU, Annex V, Table 2: read in a public copy; the row of one loaded phase from memory.
TEST_CASE("classes A, B and C of the Measuring Instruments Directive") {
    struct Row {
        double c;
        std::array<double, 3> low, main, one_phase;
    };
    for (auto const& row : {Row{20, {3.5, 2, 1}, {3.5, 2, 0.7}, {4, 2.5, 1}},
                            Row{35, {5, 2.5, 1.3}, {4.5, 2.5, 1}, {5, 3, 1.3}},
                            Row{-5, {5, 2.5, 1.3}, {4.5, 2.5, 1}, {5, 3, 1.3}},
                            Row{50, {7, 3.5, 1.7}, {7, 3.5, 1.3}, {7, 4, 1.7}},
                            Row{-20, {7, 3.5, 1.7}, {7, 3.5, 1.3}, {7, 4, 1.7}},
                            Row{65, {9, 4, 2}, {9, 4, 1.5}, {9, 4.5, 2}}}) {
        std::size_t n = 0;
        for (std::string_view const word : {"A", "B", "C"}) {
            CAPTURE(row.c);
            CAPTURE(word);
            MeterLoad load{.share_of_rated = 0.03, .power_factor = 0.7, .temperature_c = row.c};
            CHECK(limit("2014/32/EU", word, load).percent == row.low[n]);
            load.share_of_rated = 0.05;
            CHECK(limit("2014/32/EU", word, load).percent == row.main[n]);
            load.loading = Loading::one_phase;
            CHECK(limit("2014/32/EU", word, load).percent == row.one_phase[n]);
            ++n;
        }
    }
    CHECK(limit("2014/32/EU", "B", {.temperature_c = 71}).why == NotStated::outside_its_factors);
    CHECK(limit("2014/32/EU", "B", {.power_factor = 0.4}).why == NotStated::outside_its_factors);
}

// ANSI C12.20, current class 20, from memory: 0.15 A, 0.25 A and 20 A; at 0.5 lagging 0.5 A, 2.5 A and 20 A.
TEST_CASE("classes 0.2 and 0.5 of ANSI C12.20 at 5 A inputs") {
    for (auto const& [load, fifth, half] :
         {std::tuple{at(0.15 / 5), 0.4, 1.0}, std::tuple{at(0.25 / 5), 0.2, 0.5},
          std::tuple{at(4.0), 0.2, 0.5}, std::tuple{at(0.5 / 5, 0.5), 0.5, 1.0},
          std::tuple{at(2.5 / 5, 0.5), 0.3, 0.6}, std::tuple{at(4.0, 0.5), 0.3, 0.6}}) {
        CHECK(limit("ANSI C12.20", "0.2", load).percent == fifth);
        CHECK(limit("ANSI C12.20", "0.5", load).percent == half);
    }
    CHECK(meter_class(built_in_tables(), "ANSI C12.20", "0.1") == nullptr);  // its points were not found
}

// IEC 61557-12, from memory; the figures are derived from its formula.
TEST_CASE("a meter and its transformer together are of a class of their own") {
    for (auto const& [sensor, meter, exact, listed] :
         {std::tuple{0.2, 0.2, 0.325, 0.5}, std::tuple{0.5, 0.2, 0.619, 1.0},
          std::tuple{0.5, 0.5, 0.813, 1.0}, std::tuple{1.0, 0.5, 1.286, 1.5},
          std::tuple{1.0, 1.0, 1.626, 2.0}}) {
        CHECK(system_class_exact(sensor, meter) == doctest::Approx(exact).epsilon(0.001));
        CHECK(system_class(sensor, meter) == listed);
    }
    CHECK_FALSE(system_class(20.0, 20.0));
    CHECK(limit("IEC 61557-12", "0.5", at(1.0)).percent == 0.5);
}

TEST_CASE("of several classes in a profile the narrowest of active energy counts") {
    plan::MeterHardware meter;
    CHECK(meter_class(built_in_tables(), meter) == nullptr);
    meter.accuracy = {{"IEC 62053-21", "1"}, {"IEC 62053-24", "0.5S", true}, {"IEC 62053-22:2020", "0.2S"}};
    REQUIRE(meter_class(built_in_tables(), meter) != nullptr);
    CHECK(meter_class(built_in_tables(), meter)->word == "0.2S");
}
