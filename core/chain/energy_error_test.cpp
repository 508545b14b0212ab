#include "core/chain/energy_error.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>

#include "core/chain/class_tables.hpp"

using namespace phasewright;
using namespace phasewright::chain;

// Derived; the form is that of the textbook appendix on the error of power measurement, K = cos phi / cos(phi
// - d).
TEST_CASE("worked active and reactive errors of one current transformer") {
    struct Row {
        double ratio, minutes, power_factor, exact, linear, reactive;
    };
    for (auto const& row :
         {Row{-0.30, 12, 0.8, -0.0396, -0.0382, -0.7646}, Row{0.50, 30, 0.5, 2.0152, 2.0115, -0.0102},
          Row{-0.75, 45, 0.5, 1.4917, 1.5172, -1.5086}, Row{0.0, 60, 0.9, 0.8300, 0.8453, -3.6187}}) {
        CAPTURE(row.ratio);
        ChainErrors const errors{.ct_percent = row.ratio, .ct_phase_min = row.minutes};
        auto const lag = lag_of(row.power_factor);
        CHECK(std::abs(active_error_percent(errors, lag) - row.exact) < 1e-4);
        CHECK(std::abs(active_error_linear_percent(errors, lag) - row.linear) < 1e-4);
        CHECK(std::abs(reactive_error_percent(errors, lag) - row.reactive) < 1e-4);
        CHECK(correction_factor(errors, lag) ==
              doctest::Approx(1.0 / (1.0 + row.exact / 100.0)).epsilon(1e-6));
    }
}

// Derived from the limits of IEC 61869-2: |e| + 0.0291 |d| tan(phi), percent at power factor 1, 0.9, 0.8 and
// 0.5.
TEST_CASE("the worst that classes allow at each power factor: class 0.5 at 0.5 is 2.01 %") {
    struct Row {
        std::string_view word;
        double percent;
        std::array<double, 4> worst;
    };
    constexpr std::array factors{1.0, 0.9, 0.8, 0.5};
    for (auto const& row :
         {Row{"0.1", 100, {0.100, 0.170, 0.209, 0.352}}, Row{"0.2", 100, {0.200, 0.341, 0.418, 0.704}},
          Row{"0.2S", 20, {0.200, 0.341, 0.418, 0.704}}, Row{"0.2S", 5, {0.350, 0.561, 0.677, 1.106}},
          Row{"0.2S", 1, {0.750, 1.173, 1.404, 2.261}}, Row{"0.5", 100, {0.500, 0.923, 1.154, 2.011}},
          Row{"0.5S", 20, {0.500, 0.923, 1.154, 2.011}}, Row{"0.5", 20, {0.750, 1.384, 1.732, 3.017}},
          Row{"0.5S", 5, {0.750, 1.384, 1.732, 3.017}}, Row{"0.5", 5, {1.500, 2.768, 3.463, 6.034}},
          Row{"0.5S", 1, {1.500, 2.768, 3.463, 6.034}}, Row{"1", 100, {1.000, 1.845, 2.309, 4.023}},
          Row{"1", 20, {1.500, 2.768, 3.463, 6.034}}, Row{"1", 5, {3.000, 5.536, 6.927, 12.069}}}) {
        auto const limits =
            limits_at(*ct_class(built_in_tables(), row.word), {.share_of_rated = row.percent / 100.0});
        for (std::size_t n = 0; n < factors.size(); ++n) {
            CAPTURE(row.word);
            CAPTURE(factors[n]);
            double const found = active_error_linear_percent(
                {.ct_percent = *limits.ratio_percent, .ct_phase_min = *limits.phase_min}, lag_of(factors[n]));
            CHECK(std::abs(found - row.worst[n]) < 6e-4);
        }
    }
}

TEST_CASE("a leading current transformer and a lagging voltage transformer push the same way") {
    auto const lag = lag_of(0.7);
    double const ct = active_error_percent({.ct_phase_min = 20}, lag);
    double const vt = active_error_percent({.vt_phase_min = -20}, lag);
    CHECK(ct > 0.0);
    CHECK(ct == doctest::Approx(vt));
    CHECK(active_error_percent({.ct_phase_min = 20}, lag_of(0.7, true)) < 0.0);
    CHECK(active_error_percent({.ct_percent = 0.5, .vt_percent = 0.2, .meter_percent = -0.3}, lag) ==
          doctest::Approx(100.0 * (1.005 * 1.002 * 0.997 - 1.0)));
}

// IEEE C57.13, from memory: corners of the parallelogram of class 0.3, TCF = RCF - gamma / 2600 at 0.6
// lagging.
TEST_CASE("at power factor 0.6 the corners of the parallelogram are errors of the band") {
    for (auto const& [rcf, minutes, tcf] : {std::array{1.003, 15.6, 0.997}, std::array{1.0, 7.8, 0.997},
                                            std::array{1.0, -7.8, 1.003}, std::array{0.997, -15.6, 1.003}}) {
        ChainErrors const errors{.ct_percent = 100.0 * (1.0 / rcf - 1.0), .ct_phase_min = minutes};
        CHECK(rcf - minutes / 2600.0 == doctest::Approx(tcf));
        CHECK(std::abs(correction_factor(errors, lag_of(0.6)) - tcf) < 1e-4);
    }
}
