#include "core/chain/transformer_class.hpp"

#include <doctest/doctest.h>

#include <array>
#include <numbers>
#include <tuple>
#include <utility>

#include "core/chain/class_tables.hpp"

using namespace phasewright;
using namespace phasewright::chain;

namespace {
TransformerLimits at(std::string_view word, double percent, std::optional<double> most = std::nullopt) {
    auto const* const of = ct_class(built_in_tables(), word);
    REQUIRE(of != nullptr);
    return limits_at(*of, {.share_of_rated = percent / 100.0, .most_percent = most});
}
constexpr double nothing = -1.0;
double number(std::optional<double> value) { return value.value_or(nothing); }
}  // namespace

// IEC 61869-2:2012, Tables 201 and 202 (the same limits as IEC 60044-1): minutes at 1, 5, 20, 100 and 120 %.
TEST_CASE("current transformer classes of IEC 61869-2 at their listed currents") {
    constexpr std::array percents{1.0, 5.0, 20.0, 100.0, 120.0};
    struct Row {
        std::string_view word;
        std::array<double, 5> ratio, phase;
    };
    for (auto const& row : {Row{"0.1", {nothing, 0.4, 0.2, 0.1, 0.1}, {nothing, 15, 8, 5, 5}},
                            Row{"0.2S", {0.75, 0.35, 0.2, 0.2, 0.2}, {30, 15, 10, 10, 10}},
                            Row{"0.2", {nothing, 0.75, 0.35, 0.2, 0.2}, {nothing, 30, 15, 10, 10}},
                            Row{"0.5S", {1.5, 0.75, 0.5, 0.5, 0.5}, {90, 45, 30, 30, 30}},
                            Row{"0.5", {nothing, 1.5, 0.75, 0.5, 0.5}, {nothing, 90, 45, 30, 30}},
                            Row{"1", {nothing, 3.0, 1.5, 1.0, 1.0}, {nothing, 180, 90, 60, 60}}}) {
        for (std::size_t n = 0; n < percents.size(); ++n) {
            CAPTURE(row.word);
            CAPTURE(percents[n]);
            auto const limits = at(row.word, percents[n]);
            CHECK(number(limits.ratio_percent) == row.ratio[n]);
            CHECK(number(limits.phase_min) == row.phase[n]);
            CHECK_FALSE(limits.between_points);
            if (row.ratio[n] == nothing) CHECK(limits.why == NotStated::below_lowest);
        }
        CHECK(at(row.word, 121.0).why == NotStated::above_highest);
        CHECK(number(at(row.word, 150.0, 150.0).ratio_percent) == row.ratio[4]);
    }
}

// The same table in hundredths of a radian: one minute is pi / 10800 rad.
TEST_CASE("minutes are the centiradians of the table") {
    CHECK(crad_per_minute == doctest::Approx(100.0 * std::numbers::pi / 10800.0));
    for (auto const& [minutes, crad] : {std::pair{5.0, 0.15}, std::pair{8.0, 0.24}, std::pair{10.0, 0.3},
                                        std::pair{15.0, 0.45}, std::pair{30.0, 0.9}, std::pair{45.0, 1.35},
                                        std::pair{60.0, 1.8}, std::pair{90.0, 2.7}, std::pair{180.0, 5.4}})
        CHECK(minutes * crad_per_minute == doctest::Approx(crad).epsilon(0.035));
}

TEST_CASE("classes 3 and 5 have a ratio limit from half to 120 % and none of phase") {
    for (auto const& [word, limit] : {std::pair{"3", 3.0}, std::pair{"5", 5.0}}) {
        CHECK(at(word, 49.0).why == NotStated::below_lowest);
        auto const limits = at(word, 100.0);
        CHECK(*limits.ratio_percent == limit);
        CHECK_FALSE(limits.phase_min);
        CHECK(limits.why == NotStated::no_phase_limit);
    }
}

TEST_CASE("between two listed currents the limit is a choice, and says so") {
    auto const* const half = ct_class(built_in_tables(), "0.5");
    AtLoad const tenth{.share_of_rated = 0.1};
    auto const straight = limits_at(*half, tenth);
    CHECK(*straight.ratio_percent == doctest::Approx(1.25));  // a third of the way from 1.5 to 0.75
    CHECK(*straight.phase_min == doctest::Approx(75.0));
    CHECK(straight.between_points);
    CHECK(*limits_at(*half, tenth, Interpolation::logarithm).ratio_percent == doctest::Approx(1.125));
    CHECK(*limits_at(*half, tenth, Interpolation::lower_point).ratio_percent == 1.5);
    // From 100 to 120 % nothing changes, so nothing was chosen.
    CHECK_FALSE(limits_at(*half, {.share_of_rated = 1.1}).between_points);
}

TEST_CASE("outside of its burden range a class states nothing") {
    auto const* const half = ct_class(built_in_tables(), "0.5");
    auto const with = [&](double va) { return limits_at(*half, {.burden_va = va, .rated_va = 10.0}); };
    CHECK(with(2.4).why == NotStated::under_burden);
    CHECK_FALSE(with(2.4).ratio_percent);
    CHECK(with(2.5).burden_held);
    CHECK(with(10.0).why == NotStated::stated);
    CHECK(with(10.1).why == NotStated::over_burden);
    CHECK_FALSE(limits_at(*half, {}).burden_held);
    // The range never reaches below 1 VA.
    CHECK(burden_range(*half, 2.5).least_va == 1.0);
    CHECK(burden_range(*ct_class(built_in_tables(), "3"), 10.0).least_va == 5.0);
}

// IEEE C57.13: TCF bands at 100 % and at 10 % (0.15: 5 %) of the rated current, from memory.
TEST_CASE("metering classes of C57.13 double their band at the low current") {
    struct Row {
        std::string_view word;
        double low_percent, low, main;
    };
    for (auto const& row :
         {Row{"1.2", 10, 2.4, 1.2}, Row{"0.6", 10, 1.2, 0.6}, Row{"0.3 B-0.1", 10, 0.6, 0.3},
          Row{"0.15", 5, 0.30, 0.15}, Row{"0.15S E-0.04", 5, 0.15, 0.15}}) {
        CAPTURE(row.word);
        CHECK(*at(row.word, row.low_percent).ratio_percent == row.low);
        CHECK(*at(row.word, 100).ratio_percent == row.main);
        CHECK(at(row.word, 100).shape == LimitShape::parallelogram);
        CHECK(at(row.word, 100).why == NotStated::stated);
        CHECK(at(row.word, row.low_percent * 0.9).why == NotStated::below_lowest);
        CHECK(*at(row.word, 400, 400).ratio_percent == row.main);  // rating factor 4
    }
}

// IEC 61869-3 and IEEE C57.13, both from memory.
TEST_CASE("voltage transformers hold from 80 to 120 %, or from 90 to 110 %") {
    auto const limits = [](std::string_view word, double percent) {
        return limits_at(*vt_class(built_in_tables(), word), {.share_of_rated = percent / 100.0});
    };
    for (auto const& [word, ratio, phase] : {std::tuple{"0.1", 0.1, 5.0}, std::tuple{"0.2", 0.2, 10.0},
                                             std::tuple{"0.5", 0.5, 20.0}, std::tuple{"1.0", 1.0, 40.0}}) {
        CHECK(*limits(word, 100).ratio_percent == ratio);
        CHECK(*limits(word, 80).phase_min == phase);
        CHECK(limits(word, 79).why == NotStated::below_lowest);
    }
    CHECK(limits("3.0", 100).why == NotStated::no_phase_limit);
    CHECK(*limits("0.6", 110).ratio_percent == 0.6);
    CHECK(limits("0.3", 89).why == NotStated::below_lowest);
}

TEST_CASE("plates write one class in many ways") {
    for (std::string_view const text : {"0.5S", "0,5s", "cl. 0.5S", "Class 0.5 S", "class 0.5S"}) {
        CAPTURE(text);
        CHECK(written_class(text).word == "0.5S");
    }
    CHECK(written_class("0.3 B-0.1").burden == "B-0.1");
    CHECK(written_class("").word.empty());
    CHECK(ct_class(built_in_tables(), "0.7") == nullptr);
    CHECK(ct_class(built_in_tables(), "") == nullptr);
}

TEST_CASE("a limit from memory judges nothing until it is confirmed") {
    CHECK_FALSE(may_judge(at("0.5S", 100).source));
    CHECK(may_judge(at("0.5", 100).source));
    auto const tables = confirmed(built_in_tables(), "IEC 61869-2", "2012");
    auto const limits = limits_at(*ct_class(tables, "0.5S"), {});
    CHECK(may_judge(limits.source));
    CHECK(words_of(limits.source) == "IEC 61869-2:2012, 5.6.201, Tables 201 and 202");
    CHECK_FALSE(may_judge(limits_at(*ct_class(tables, "0.3"), {}).source));
}
