// From readings to registers: single registers by hand, and every profile of the project there and back.
#include "bus/profile/encode.hpp"

#include <doctest/doctest.h>

#include <filesystem>

#include "bus/profile/decode.hpp"
#include "bus/profile/image_in_tests.hpp"

namespace phasewright::profile {

namespace {

// The true case of the demo building: 231/229/232 V, 41.2/38.7/44.0 A.
readings::Snapshot true_case() {
    readings::Snapshot shown;
    shown.v = {231.0, 229.0, 232.0};
    shown.i = {41.2, 38.7, 44.0};
    shown.p = {8760.0, -8150.0, 9390.0};
    shown.q = {3730.0, 3470.0, -4000.0};
    shown.s = {9520.0, 8860.0, 10210.0};
    shown.pf = {0.92, 0.92, 0.92};
    shown.v_ll = {398.4, 399.2, 401.0};
    shown.v_angle = {0.0, -120.0, 120.0};
    shown.i_angle = {-23.0, -143.0, 97.0};
    shown.hz = 50.0;
    shown.p_total = 10000.0;
    shown.q_total = 3200.0;
    return shown;
}

Profile project_profile(std::string const& name) {
    auto profile = read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/" + name + ".toml");
    if (!profile) FAIL(quantity::to_sentence(profile.error()));
    return *profile;
}

void check_near(readings::Column const& back, readings::Column const& sent, double tolerance) {
    if (back.empty()) return;  // the profile does not offer it
    REQUIRE(back.size() == sent.size());
    for (std::size_t at = 0; at < sent.size(); ++at) {
        REQUIRE(back[at].has_value());
        CHECK(std::abs(*back[at] - *sent[at]) <= tolerance);
    }
}

}  // namespace

TEST_CASE("a reading becomes the registers that the profile names, byte for byte") {
    auto const image = encode(
        project_profile("wexby-w2"), true_case(),
        {.ct_programmed = quantity::TransformerRatio{200.0, 5.0}, .vendor = "Wexby", .serial = "TY-7"});
    auto const at = [&image](std::uint16_t address) { return image.holding.at(address); };
    CHECK(at(1840) == 0x5A3C);  // 231.00 V is 23100 = 0x00005A3C, low word first
    CHECK(at(1841) == 0x0000);
    CHECK(at(1872) == 0xC1A4);  // -8150.0 W is -81500 = 0xFFFEC1A4
    CHECK(at(1873) == 0xFFFE);
    CHECK(at(1880) == 0x6E4C);  // 3730.0 var lagging is -37300 = 0xFFFF6E4C for a meter that counts leading
    CHECK(at(1881) == 0xFFFF);
    CHECK(at(1816) == 0xFFFF);  // no neutral current: 0x7FFFFFFF, low word first
    CHECK(at(1817) == 0x7FFF);
    CHECK(at(640) == 200);
    CHECK(at(641) == 50);
    CHECK(at(644) == 0x34);
    CHECK(at(600) == 0x5765);  // "We"
    CHECK(at(602) == 0x7900);  // "y" and a zero
    CHECK(at(610) == 0x5459);  // "TY"
}

TEST_CASE("every profile of the project gives back what it was given, within one step of its display") {
    for (auto const& entry : std::filesystem::directory_iterator(PHASEWRIGHT_SOURCE_DIR "/profiles")) {
        if (entry.path().extension() != ".toml") continue;
        CAPTURE(entry.path().string());
        auto const profile = project_profile(entry.path().stem().string());
        auto const sent = true_case();
        auto const image = encode(
            profile, sent, {.ct_programmed = quantity::TransformerRatio{200.0, 5.0}, .serial = "1234"});
        auto const back = decode(profile, image);
        check_near(back.v, sent.v, 0.05);
        check_near(back.v_ll, sent.v_ll, 0.05);
        check_near(back.i, sent.i, 0.005);
        check_near(back.p, sent.p, 5.0);
        check_near(back.q, sent.q, 5.0);
        check_near(back.v_angle, sent.v_angle, 1e-4);
        check_near(back.i_angle, sent.i_angle, 1e-4);
        CHECK(back.hz.value() == doctest::Approx(50.0));
        CHECK(back.p_total.value() == doctest::Approx(10000.0));
        CHECK(ct_ratio_in(profile, image) == quantity::TransformerRatio{200.0, 5.0});
        CHECK(service_in(profile, image) == plan::Service::four_wire_wye);
        // Whatever the plan of reading asks for is there.
        auto const reads = read_plan(profile);
        for (auto const* const runs : {&reads.settings, &reads.measurements}) {
            for (auto const& run : *runs) {
                CHECK(serve(image, {.function = run.function, .address = run.address, .count = run.count})
                          .has_value());
            }
        }
    }
}

TEST_CASE("a meter set to two elements shows them in its first and last column") {
    readings::Snapshot sent;
    sent.v = {400.0, 399.0};
    sent.i = {10.0, 11.0};
    sent.p = {3000.0, 4000.0};
    sent.v_ll = {400.0, 399.0, 401.0};
    for (auto const* const name : {"tarnfell-t3", "wexby-w2", "hollowick-h1"}) {
        CAPTURE(name);
        auto const profile = project_profile(name);
        auto const image = encode(profile, sent, {.service = plan::Service::three_wire_two_element});
        CHECK(service_in(profile, image) == plan::Service::three_wire_two_element);
        auto const back = decode(profile, image);
        check_near(back.v, sent.v, 0.05);
        check_near(back.i, sent.i, 0.005);
        check_near(back.p, sent.p, 5.0);
        CHECK(back.q.size() == 2);
        CHECK_FALSE(back.q[0].has_value());
    }
}

TEST_CASE("a number at the end of its register does not read as not available") {
    readings::Snapshot sent = true_case();
    sent.v[0] = 1e6;
    sent.p[0] = -1e9;
    auto const profile = project_profile("hollowick-h1");
    auto const back = decode(profile, encode(profile, sent, {}));
    CHECK(back.v[0].value() == doctest::Approx(6553.4));     // 0xFFFE, since 0xFFFF says nothing
    CHECK(back.p[0].value() == doctest::Approx(-327670.0));  // 0x8001, since 0x8000 says nothing
}

}  // namespace phasewright::profile
