#include <doctest/doctest.h>

#include "bus/decoder/fit.hpp"
#include "bus/decoder/proposal.hpp"
#include "bus/profile/decode.hpp"
#include "bus/profile/encode.hpp"

namespace phasewright::decoder {

namespace {
// P = V I cos phi, Q = V I sin phi by hand, cos phi 0.92, 0.88 and 0.95.
readings::Snapshot load() {
    return {.v = {231.3, 228.9, 232.6},
            .i = {41.24, 12.71, 29.93},
            .p = {8776.0, 2560.2, 6613.7},
            .q = {3738.5, 1381.8, 2173.8},
            .s = {9539.0, 2909.3, 6961.8},
            .pf = {0.92, 0.88, 0.95},
            .v_ll = {398.5, 399.7, 401.8},
            .hz = 50.02,
            .p_total = 17949.9,
            .q_total = 7294.1};
}
}  // namespace

TEST_CASE("the proposed profile loads, reads the same numbers and fits the dump") {
    for (auto const* const name : {"hollowick-h1", "tarnfell-t3", "wexby-w2"}) {
        CAPTURE(name);
        auto const hidden =
            profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles/" + name + ".toml").value();
        std::vector<Dump> const dumps{{profile::encode(hidden, load(), {}), std::nullopt}};
        Expected const expected{.nominal = {230.0, 400.0, 50.0}, .current_a = std::pair{10.0, 60.0}};
        auto const text = proposed_profile(decode_dumps(dumps, expected), expected, dumps);
        REQUIRE(text.has_value());
        CAPTURE(*text);
        auto const proposed = profile::read_profile(*text, "proposed");
        if (!proposed) FAIL(to_sentence(proposed.error()));
        auto const shown = profile::decode(*proposed, dumps.front().image, std::nullopt);
        for (std::size_t k = 0; k < 3; ++k) {
            CHECK(shown.v.at(k).value() == doctest::Approx(*load().v[k]).epsilon(0.001));
            CHECK(shown.i.at(k).value() == doctest::Approx(*load().i[k]).epsilon(0.002));
            CHECK(shown.p.at(k).value() == doctest::Approx(*load().p[k]).epsilon(0.003));
        }
        CHECK(shown.hz.value() == doctest::Approx(50.02).epsilon(0.0005));
        CHECK(fit_of(*proposed, dumps, expected).fits);
    }
}

TEST_CASE("without currents there is no profile to propose, and the fault says what to dump") {
    std::vector<Dump> dumps(1);
    for (std::uint16_t address = 10; address < 13; ++address) dumps.front().image.holding[address] = 2300;
    Expected const expected{.nominal = {230.0, 400.0, 50.0}};
    auto const text = proposed_profile(decode_dumps(dumps, expected), expected, dumps);
    REQUIRE_FALSE(text.has_value());
    CHECK(text.error().found == "no currents among these registers");
}

}  // namespace phasewright::decoder
