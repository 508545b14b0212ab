// Counters: what their registers mean, where they begin anew, and the SunSpec accumulators.
#include "bus/profile/energy.hpp"

#include <doctest/doctest.h>

#include "bus/profile/image_in_tests.hpp"
#include "bus/profile/meter_reading.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"

namespace phasewright::profile {

namespace {

constexpr std::string_view head = R"(name = "Test"
maker = "Nobody"
[measurements.v]
registers = [0, 1, 2]
[measurements.i]
registers = [3, 4, 5]
[[services]]
service = "3P4W"
elements = [1, 2, 3]
[terminals]
voltage = ["1", "2", "3"]
current = [{ s1 = "4", s2 = "6" }, { s1 = "7", s2 = "9" }, { s1 = "10", s2 = "12" }]
)";

Profile with(std::string const& energies) {
    auto const profile = read_profile(std::string(head) + energies, "p.toml");
    if (!profile) FAIL(quantity::to_sentence(profile.error()));
    return *profile;
}
std::string refusal(std::string const& energies) {
    auto const profile = read_profile(std::string(head) + energies, "p.toml");
    REQUIRE_FALSE(profile.has_value());
    return quantity::to_sentence(profile.error());
}
std::string const five_digits = R"([energies.import]
kind = "import"
register = 100
type = "uint32"
unit = "kWh"
scale = 0.1
wraps_after = 99999.9
)";

}  // namespace

TEST_CASE("a counter of five digits and a tenth wraps a tenth above 99 999.9 kWh") {
    auto const profile = with(five_digits);
    RegisterImage image;
    put_holding(image, 100, "000F 423F");  // 999999: 99 999.9 kWh, the last count
    auto const counts = energies_in(profile, image);
    REQUIRE(counts.size() == 1);
    CHECK(counts[0].value == doctest::Approx(99'999'900.0));
    CHECK(counts[0].habit.wraps_at == doctest::Approx(100'000'000.0));
    CHECK(counts[0].habit.step == doctest::Approx(100.0));
    CHECK(counts[0].habit.kind == EnergyKind::import);
    // One step later it stands at zero, and 250 Wh later it shows 200 of them.
    put_energy(image, profile.energies[0], 0, 100'000'000.0);
    CHECK(energies_in(profile, image)[0].value == 0.0);
    put_energy(image, profile.energies[0], 0, 100'000'250.0);
    CHECK(energies_in(profile, image)[0].value == doctest::Approx(200.0));
}

TEST_CASE("a counter that uses all bits wraps at 2^32 steps, whatever scale its register holds") {
    auto const profile = with(R"([energies.all]
kind = "absolute"
register = 100
type = "uint32"
scale_register = 110
scale_usual = 1
wraps_at_full_width = true
)");
    RegisterImage image;
    put_holding(image, 100, "FFFF FFFF");
    put_holding(image, 110, "0001");  // 10^1
    auto const counts = energies_in(profile, image);
    CHECK(counts[0].value == doctest::Approx(42949672950.0));
    CHECK(counts[0].habit.wraps_at == doctest::Approx(42949672960.0));
    CHECK(counts[0].habit.wrap_known);
}

TEST_CASE("counters of phases, of net energy that counts export, and of a quadrant") {
    auto const profile = with(R"([energies.a_phases]
kind = "import"
registers = [100, 102, 104]
type = "uint32"
[energies.b_net]
kind = "net"
register = 106
type = "int32"
sign = "export-positive"
[energies.c_q4]
quantity = "reactive"
kind = "export"
quadrant = 4
register = 108
type = "uint32"
unit = "kvarh"
)");
    RegisterImage image;
    put_holding(image, 100, "0000 0001 0000 0002 0000 0003");
    put_holding(image, 106, "FFFF FFFB 0000 0007");
    auto const counts = energies_in(profile, image);
    REQUIRE(counts.size() == 5);
    CHECK(counts[2].habit.name == "a_phases 3");
    CHECK(counts[2].habit.phase == 3);
    CHECK(counts[2].value == 3.0);
    CHECK(counts[3].value == 5.0);
    CHECK(counts[4].value == 7000.0);
    CHECK(counts[4].habit.quadrant == 4);
    CHECK_FALSE(counts[4].habit.wrap_known);
    CHECK_FALSE(counts[4].habit.wraps_at.has_value());
}

TEST_CASE("counters are read over a line in one question") {
    auto const profile = with(five_digits + R"([energies.other]
kind = "export"
register = 102
type = "uint32"
)");
    RegisterImage image;
    put_holding(image, 100, "0000 000A 0000 0014");
    ImageLine line(image);
    auto const energies = read_energies(line, 1, profile);
    REQUIRE(energies.has_value());
    CHECK(line.reads == std::vector<std::string>{"3:100+4"});
    CHECK(energies->counts[0].value == 1000.0);
    CHECK(energies->counts[1].value == 20.0);
}

TEST_CASE("a mistake in a counter is refused where it stands") {
    CHECK(refusal("[energies.x]\nregister = 9\n").find("energies.x.kind: the field is missing") !=
          std::string::npos);
    CHECK(refusal("[energies.X]\nkind = \"net\"\nregister = 9\n").find("a counter's name is plain") !=
          std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"net\"\n").find("a counter stands once, or once a phase") !=
          std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregister = 9\nunit = \"kvarh\"\n")
              .find("the word is not known") != std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregister = 9\nquadrant = 1\n")
              .find("only reactive energy is counted by quadrant") != std::string::npos);
    CHECK(refusal("[energies.x]\nquantity = \"reactive\"\nkind = \"import\"\nregister = 9\nquadrant = 3\n")
              .find("this quadrant is not of this kind") != std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregister = 9\nsign = \"export-positive\"\n")
              .find("only net energy has a sign") != std::string::npos);
    CHECK(refusal(
              "[energies.x]\nkind = \"import\"\nregister = 9\ntype = \"int32\"\nwraps_at_full_width = true\n")
              .find("this type has a sign") != std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregister = 9\ntype = \"float32\"\nwraps_after = 9\n")
              .find("has no step of its own") != std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregister = 9\nnever_wraps = true\nwraps_after = 9\n")
              .find("said twice where the counter begins anew") != std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregisters = [9, 10]\n")
              .find("2 counters for a meter of 3") != std::string::npos);
    CHECK(refusal("[energies.x]\nkind = \"import\"\nregister = 65535\ntype = \"uint32\"\n")
              .find("65535 to 65536") != std::string::npos);
}

// Offsets and the scale's place: facts of the model files, see sunspec_layout.hpp.
TEST_CASE("SunSpec accumulators of 32 bits are scaled by TotWh_SF, and wrap at 2^32 steps") {
    codec::Registers body(107, 0);
    body[0] = 203;
    body[1] = 105;
    body[46] = 0x0001;  // TotWhImp, high word first
    body[47] = 0x86A0;  // 100 000
    body[48] = 0x0000;
    body[49] = 0x0005;  // TotWhImpPhA
    body[54] = 1;       // TotWh_SF: 10^1
    body[72] = 0x0000;
    body[73] = 0x0002;   // TotVArhImpQ1
    body[104] = 0x8000;  // TotVArh_SF is not offered: 10^0
    auto const counts = sunspec_energies(203, body);
    REQUIRE(counts.size() == 4);
    CHECK(counts[0].habit.name == "TotWhExp");  // demanded by the model: zero is a count
    CHECK(counts[0].value == 0.0);
    CHECK(counts[1].habit.name == "TotWhImp");
    CHECK(counts[1].value == 1'000'000.0);
    CHECK(counts[1].habit.wraps_at == 42949672960.0);
    CHECK(counts[2].habit.phase == 1);
    CHECK(counts[2].value == 50.0);
    CHECK(counts[3].habit.quadrant == 1);
    CHECK(counts[3].value == 2.0);
    body[54] = 11;  // no power of ten that the standard allows
    CHECK(sunspec_energies(203, body).size() == 1);
    CHECK(sunspec_energies(203, std::span(body).first(40)).size() == 0);
}

TEST_CASE(
    "a SunSpec meter that is found tells who it is and what it has counted, in whole numbers and in floating "
    "point") {
    for (int const model : {203, 213}) {
        CAPTURE(model);
        readings::Snapshot shown;
        shown.v = {230.0, 230.0, 230.0};
        shown.i = {5.0, 5.0, 5.0};
        auto image =
            sunspec_image(model, shown, {.maker = "Invented", .model = "M1", .serial = "42"}, {.energy = 1});
        SunspecEnergy const energies[] = {{"TotWhImp", 123450.0}, {"TotWhExp", 70.0}, {"nonsense", 1.0}};
        put_sunspec_energies(image, model, energies);
        ImageLine line(image);
        auto const reading = find_sunspec(line, 1);
        REQUIRE(reading.has_value());
        REQUIRE(reading->sunspec_identity.has_value());
        CHECK(reading->sunspec_identity->serial == "42");
        std::map<std::string, double> counted;
        for (auto const& count : reading->energies) counted[count.habit.name] = *count.value;
        CHECK(counted["TotWhImp"] == 123450.0);
        CHECK(counted["TotWhExp"] == 70.0);
    }
}

}  // namespace phasewright::profile
