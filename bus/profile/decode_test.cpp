// Registers written by hand against docs/reference/profile.md: what a reading must make of them.
#include "bus/profile/decode.hpp"

#include <doctest/doctest.h>

#include "bus/profile/image_in_tests.hpp"

namespace phasewright::profile {

namespace {

Profile profile_of(std::string_view text) {
    auto profile = read_profile(text, "p.toml");
    if (!profile) FAIL(quantity::to_sentence(profile.error()));
    return *profile;
}

constexpr std::string_view terminals = R"(
[terminals]
voltage = ["1", "2", "3"]
current = [{ s1 = "4", s2 = "6" }, { s1 = "7", s2 = "9" }, { s1 = "10", s2 = "12" }]
[[services]]
service = "3P4W"
elements = [1, 2, 3]
lines = [1, 2, 3]
setting = 4
[[services]]
service = "3P3W-2E"
elements = [1, 3]
lines = [1, 2, 3]
v_from_lines = [1, 2]
setting = 6
[[services]]
service = "2P3W"
elements = [2, 3]
)";

Profile mixed_profile() {
    return profile_of(R"(name = "Mixed"
maker = "Nobody"
function = 4
base = 100
type = "int32"
word_order = "low-first"
not_available = [-2147483648]
[measurements.v]
registers = [0, 2, 4]
scale = 0.01
[measurements.v_ll]
registers = [6, 8, 10]
scale = 0.01
[measurements.i]
registers = [12, 14, 16]
unit = "mA"
[measurements.p]
registers = [20, 21, 22]
type = "int16"
unit = "kW"
scale_register = 26
sign = "export-positive"
not_available = [-32768]
[measurements.q]
registers = [23, 24, 25]
type = "int16"
unit = "kvar"
scale_register = 26
sign = "leading-positive"
[measurements.v_angle]
registers = [30, 32, 34]
type = "float32"
word_order = "high-first"
[measurements.hz]
register = 40
type = "uint16"
scale = 0.01
[settings.ct_primary]
function = 3
register = 0
type = "uint16"
[settings.ct_secondary]
fixed = 5
[settings.service]
function = 3
register = 1
type = "uint16"
)" + std::string(terminals));
}

RegisterImage mixed_image() {
    RegisterImage image;
    put_input(image, 100, "5A 3C 00 00");  // 23100 = 0x5A3C, low word first: 231.00 V
    put_input(image, 102, "59 74 00 00");  // 22900: 229.00 V
    put_input(image, 104, "00 00 80 00");  // the most negative: not available
    put_input(image, 106, "9C 40 00 00");  // 40000: 400.00 V
    put_input(image, 108, "9B DC 00 00");  // 39900: 399.00 V
    put_input(image, 110, "9C A4 00 00");  // 40100: 401.00 V
    put_input(image, 112, "A0 F0 00 00");  // 41200 mA
    put_input(image, 114, "97 2C 00 00");  // 38700 mA
    put_input(image, 116, "AB E0 00 00");  // 44000 mA
    put_input(image, 120, "FC 94");        // -876: with 10^-2, in kW, counting export: 8760 W of import
    put_input(image, 121, "03 2F");        // +815: 8150 W of export
    put_input(image, 122, "80 00");        // not available
    put_input(image, 123, "FE 8C");        // -372: with 10^-2, in kvar, counting leading: 3720 var lagging
    put_input(image, 124, "00 00");
    put_input(image, 125, "00 01");          // 10 var leading
    put_input(image, 126, "FF FE");          // the scale: 10^-2
    put_input(image, 130, "00 00 00 00");    // 0 degrees
    put_input(image, 132, "C2 F0 00 00");    // -120 = -1.875 * 2^6: exponent 133 = 0x85, fraction 0x700000
    put_input(image, 134, "42 F0 00 00");    // +120
    put_input(image, 140, "13 88");          // 5000: 50.00 Hz
    put_holding(image, 100, "00 C8 00 04");  // a ratio of 200; set to 3P4W
    return image;
}

}  // namespace

TEST_CASE("each kind of register becomes the number it stands for, and what is not there stays empty") {
    auto const shown = decode(mixed_profile(), mixed_image());
    REQUIRE(shown.v.size() == 3);
    CHECK(shown.v[0] == 231.0);
    CHECK(shown.v[1] == 229.0);
    CHECK_FALSE(shown.v[2].has_value());
    CHECK(shown.i[0].value() == doctest::Approx(41.2).epsilon(1e-12));
    CHECK(shown.p[0].value() == doctest::Approx(8760.0).epsilon(1e-12));
    CHECK(shown.p[1].value() == doctest::Approx(-8150.0).epsilon(1e-12));
    CHECK_FALSE(shown.p[2].has_value());
    CHECK(shown.q[0].value() == doctest::Approx(3720.0).epsilon(1e-12));
    CHECK(shown.q[1] == 0.0);
    CHECK_FALSE(std::signbit(*shown.q[1]));
    CHECK(shown.q[2].value() == doctest::Approx(-10.0).epsilon(1e-12));
    CHECK(shown.v_ll == readings::Column{400.0, 399.0, 401.0});
    CHECK(shown.v_angle == readings::Column{0.0, -120.0, 120.0});
    CHECK(shown.hz.value() == doctest::Approx(50.0));
    CHECK(shown.s.empty());
    CHECK_FALSE(shown.p_total.has_value());
}

TEST_CASE(
    "a two-element service takes its volts from the line voltages and its amperes from first and last") {
    auto const shown = decode(mixed_profile(), mixed_image(), plan::Service::three_wire_two_element);
    CHECK(shown.v == readings::Column{400.0, 399.0});
    REQUIRE(shown.i.size() == 2);
    CHECK(shown.i[1].value() == doctest::Approx(44.0));
    CHECK(shown.v_angle.empty());  // they belong to the phase voltages
}

TEST_CASE("angles are counted from the first element, whichever phase that is") {
    auto const shown = decode(mixed_profile(), mixed_image(), plan::Service::two_phases_of_wye);
    CHECK(shown.v_angle == readings::Column{0.0, -120.0});  // -120 and +120 against phase 1
    CHECK(shown.v_ll.empty());
}

TEST_CASE("the ratio and the service are what the meter is set to, or unknown") {
    auto const profile = mixed_profile();
    auto image = mixed_image();
    CHECK(ct_ratio_in(profile, image) == quantity::TransformerRatio{200.0, 5.0});
    CHECK(service_in(profile, image) == plan::Service::four_wire_wye);
    put_holding(image, 100, "00 00 00 06");
    CHECK_FALSE(ct_ratio_in(profile, image).has_value());
    CHECK(service_in(profile, image) == plan::Service::three_wire_two_element);
    CHECK(decode(profile, image).i.size() == 2);  // without a plan the meter's own setting decides
    put_holding(image, 100, "00 C8 00 09");
    CHECK_FALSE(service_in(profile, image).has_value());
}

TEST_CASE("a measurement whose scale register says nothing has no value") {
    auto image = mixed_image();
    put_input(image, 126, "80 00");
    auto const shown = decode(mixed_profile(), image);
    CHECK_FALSE(shown.p[0].has_value());
    CHECK(shown.v[0] == 231.0);
}

TEST_CASE("the step of a display is one count of its register, and none for floating point") {
    auto const profile = mixed_profile();
    auto const image = mixed_image();
    CHECK(step_of(profile.measurements.at(Measure::v)[0], image) == doctest::Approx(0.01));
    CHECK(step_of(profile.measurements.at(Measure::p)[0], image) == doctest::Approx(10.0));
    CHECK_FALSE(step_of(profile.measurements.at(Measure::v_angle)[0], image).has_value());
}

TEST_CASE("registers that touch are asked for at once, bridges and long reads as the profile allows") {
    auto profile = mixed_profile();
    auto const reads = read_plan(profile);
    constexpr auto input = codec::Function::read_input_registers;
    CHECK(reads.measurements ==
          std::vector<Run>{{input, 100, 18}, {input, 120, 7}, {input, 130, 6}, {input, 140, 1}});
    CHECK(reads.settings == std::vector<Run>{{codec::Function::read_holding_registers, 100, 2}});
    profile.bridge = 3;
    CHECK(read_plan(profile).measurements == std::vector<Run>{{input, 100, 36}, {input, 140, 1}});
    profile.longest_read = 7;  // a number of two registers is never torn
    CHECK(read_plan(profile).measurements == std::vector<Run>{{input, 100, 6},
                                                              {input, 106, 6},
                                                              {input, 112, 6},
                                                              {input, 120, 7},
                                                              {input, 130, 6},
                                                              {input, 140, 1}});
}

TEST_CASE("identity is text or a number, cut at the first zero") {
    auto const profile = profile_of(R"(name = "Who"
maker = "Nobody"
[measurements.v]
registers = [0, 1, 2]
[measurements.i]
registers = [3, 4, 5]
[identity]
vendor = { register = 50, length = 4 }
model = { register = 54, length = 2 }
[serial_number]
register = 60
type = "uint32"
)" + std::string(R"([terminals]
voltage = ["1", "2", "3"]
current = [{ s1 = "4", s2 = "6" }, { s1 = "7", s2 = "9" }, { s1 = "10", s2 = "12" }]
[[services]]
service = "3P4W"
elements = [1, 2, 3]
)"));
    RegisterImage image;
    put_holding(image, 50, "57 65 78 62 79 20 00 41");  // "Wexby ", then a zero and a stray letter
    put_holding(image, 54, "57 32 20 20");              // "W2  "
    put_holding(image, 60, "00 01 E2 40");              // 123456
    CHECK(identity_in(profile, image) == "Wexby W2, serial 123456");
    CHECK(identity_in(profile, RegisterImage{}).empty());
    CHECK(read_plan(profile).settings == std::vector<Run>{{codec::Function::read_holding_registers, 50, 6},
                                                          {codec::Function::read_holding_registers, 60, 2}});
}

}  // namespace phasewright::profile
