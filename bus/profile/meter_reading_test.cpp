// Whole conversations over a line without a socket: which questions are asked, and what becomes of the
// answers.
#include "bus/profile/meter_reading.hpp"

#include <doctest/doctest.h>

#include "bus/profile/encode.hpp"
#include "bus/profile/image_in_tests.hpp"
#include "bus/profile/sunspec.hpp"

namespace phasewright::profile {

namespace {

readings::Snapshot some_reading() {
    readings::Snapshot shown;
    shown.v = {231.0, 229.0, 232.0};
    shown.i = {41.2, 38.7, 44.0};
    shown.p = {8760.0, 8150.0, 9390.0};
    shown.q = {3730.0, 3470.0, 4000.0};
    shown.v_ll = {398.4, 399.2, 401.0};
    shown.hz = 50.0;
    return shown;
}

Profile project_profile(std::string const& name) {
    auto profile = read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/" + name + ".toml");
    if (!profile) FAIL(quantity::to_sentence(profile.error()));
    return *profile;
}

ImageLine meter_line(Profile const& profile) {
    return ImageLine(encode(profile, some_reading(),
                            {.ct_programmed = quantity::TransformerRatio{200.0, 5.0},
                             .vendor = "Wexby",
                             .model = "W2",
                             .serial = "1234"}));
}

}  // namespace

TEST_CASE("settings are asked for first, measurements then in few questions, and their skew is noted") {
    auto const profile = project_profile("wexby-w2");
    auto line = meter_line(profile);
    auto const reading = read_meter(line, 1, profile);
    REQUIRE(reading.has_value());
    CHECK(line.reads == std::vector<std::string>{"3:600+15", "3:640+2", "3:644+1", "3:1810+10", "3:1840+12",
                                                 "3:1870+8", "3:1880+8", "3:1890+6"});
    CHECK(reading->skew_s == doctest::Approx(5 * 0.125));
    CHECK(reading->identity == "Wexby W2, serial 1234");
    CHECK(reading->ct_programmed == quantity::TransformerRatio{200.0, 5.0});
    CHECK(reading->meter_service == plan::Service::four_wire_wye);
    CHECK(reading->pf_sign == readings::SignHabit::unsigned_);
    CHECK(reading->resolution.v == doctest::Approx(0.01));
    CHECK(reading->resolution.i == doctest::Approx(0.001));
    CHECK(reading->snapshot.v[0] == 231.0);
    CHECK(reading->notes.empty());
}

TEST_CASE("a meter that fits one question has no skew") {
    auto const profile = project_profile("tarnfell-t3");
    auto line = meter_line(profile);
    auto const reading = read_meter(line, 1, profile);
    REQUIRE(reading.has_value());
    CHECK(line.reads == std::vector<std::string>{"3:2888+8", "4:2880+72"});
    CHECK(reading->skew_s == 0.0);
    CHECK(reading->identity == "serial 1234");
    CHECK_FALSE(reading->resolution.v.has_value());
}

TEST_CASE("a refused setting is a gap that is noted; a refused measurement is a fault that says where") {
    auto const profile = project_profile("wexby-w2");
    auto image = encode(profile, some_reading(), {});
    image.holding.erase(641);
    ImageLine no_ratio(image);
    auto const reading = read_meter(no_ratio, 1, profile);
    REQUIRE(reading.has_value());
    CHECK_FALSE(reading->ct_programmed.has_value());
    REQUIRE(reading->notes.size() == 1);
    CHECK(reading->notes[0] == "the meter refuses its settings in registers 640 to 641 (function 3)");
    image.holding.erase(1845);
    ImageLine no_volts(image);
    auto const failed = read_meter(no_volts, 1, profile);
    REQUIRE_FALSE(failed.has_value());
    CHECK(failed.error().kind == codec::FaultKind::refused);
    CHECK(codec::to_finding(failed.error())
              .starts_with("test unit 1: the meter understood the question and refused it (exception 0x02, "
                           "illegal data address); "
                           "registers 1840 to 1851 (function 3). Next: "));
}

TEST_CASE("a meter that falls silent half-way is a fault, not half a reading") {
    auto const profile = project_profile("wexby-w2");
    auto line = meter_line(profile);
    line.silent_from = 4;
    auto const reading = read_meter(line, 7, profile);
    REQUIRE_FALSE(reading.has_value());
    CHECK(reading.error().kind == codec::FaultKind::no_answer);
    CHECK(reading.error().where == "test unit 7");
}

TEST_CASE("a meter that can say who it is, is asked") {
    auto const profile = project_profile("hollowick-h1");
    auto line = meter_line(profile);
    line.objects = {{0, "Hollowick"}, {1, "H1"}, {2, "1.4"}};
    CHECK(read_meter(line, 1, profile).value().identity == "Hollowick H1 1.4");
    auto mute = meter_line(profile);
    auto const reading = read_meter(mute, 1, profile);
    REQUIRE(reading.has_value());
    CHECK(reading->identity.empty());
    CHECK(reading->notes.size() == 1);
}

TEST_CASE("a service that the profile does not list is read as its first, and that is said") {
    auto const profile = project_profile("hollowick-h1");
    auto line = meter_line(profile);
    auto const reading = read_meter(line, 1, profile, plan::Service::corner_earthed_delta);
    REQUIRE(reading.has_value());
    CHECK(reading->snapshot.v.size() == 3);
    CHECK(reading->notes.front() == "the profile does not list 3P3W-CE; the meter is read as 3P4W");
}

TEST_CASE("a SunSpec meter is found at each of the three places") {
    for (auto const base : sunspec_bases) {
        CAPTURE(base);
        ImageLine line(sunspec_image(203, some_reading(),
                                     {.maker = "Tarnfell", .model = "T3", .serial = "TY-7"}, {}, base));
        auto const reading = find_sunspec(line, 1);
        REQUIRE(reading.has_value());
        CHECK(reading->sunspec_model == 203);
        CHECK(reading->identity == "Tarnfell T3, serial TY-7");
        CHECK(reading->snapshot.v == readings::Column{231.0, 229.0, 232.0});
        CHECK(reading->skew_s == 0.0);
    }
}

TEST_CASE("the search walks from model to model and asks for no more than it needs") {
    // Marker, model 1, an unknown model 64001 of three registers, the meter, the end.
    auto image = sunspec_image(213, some_reading(), {.maker = "Tarnfell"});
    RegisterImage longer;
    for (auto const& [address, value] : image.holding) {
        longer.holding[static_cast<std::uint16_t>(address < 40070 ? address : address + 5)] = value;
    }
    put_holding(longer, 40070, "FA01 0003 0000 0000 0000");
    ImageLine line(longer);
    auto const reading = find_sunspec(line, 1);
    REQUIRE(reading.has_value());
    CHECK(reading->sunspec_model == 213);
    CHECK(line.reads == std::vector<std::string>{"3:40000+2", "3:40002+2", "3:40004+66", "3:40070+2",
                                                 "3:40075+2", "3:40077+124"});
}

TEST_CASE("a device without a SunSpec meter is told apart from one that is silent") {
    auto const fault_of = [](RegisterImage image) {
        ImageLine line(std::move(image));
        auto const reading = find_sunspec(line, 1);
        REQUIRE_FALSE(reading.has_value());
        CHECK(reading.error().kind == codec::FaultKind::not_offered);
        return reading.error().detail;
    };
    CHECK(fault_of({}) == "no SunSpec marker at 40000, 0 or 50000");
    RegisterImage image;
    put_holding(image, 40000, "5375 6E53 FFFF 0000");
    CHECK(fault_of(image) == "the chain of models is empty");
    put_holding(image, 40002, "FA01 0000 FFFF 0000");
    CHECK(fault_of(image) == "no meter model 201 to 204 or 211 to 214; it has 64001");
    put_holding(image, 40002, "FA01 FFF0");
    CHECK(fault_of(image) == "the chain of models runs past the last register");
    for (std::uint32_t address = 40002; address < 41000; ++address)
        image.holding[static_cast<std::uint16_t>(address)] = 0;
    CHECK(fault_of(image) == "more than 200 models, and no end mark");

    ImageLine silent{RegisterImage{}};
    silent.silent_from = 0;
    auto const reading = find_sunspec(silent, 1);
    CHECK(reading.error().kind == codec::FaultKind::no_answer);
    CHECK(silent.reads.size() == 1);  // one wait, not three
}

}  // namespace phasewright::profile
