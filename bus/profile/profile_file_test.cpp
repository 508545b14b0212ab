// The sentences that a person reads when a profile is wrong, and the three profiles of the project.
#include <doctest/doctest.h>

#include <filesystem>

#include "bus/profile/profile.hpp"

namespace phasewright::profile {

namespace {

constexpr std::string_view good = R"(name = "Test"
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

// The good profile with one passage exchanged.
std::string changed(std::string_view from, std::string_view to) {
    std::string text(good);
    auto const at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

std::string refusal(std::string const& text) {
    auto const profile = read_profile(text, "p.toml");
    REQUIRE_FALSE(profile.has_value());
    return quantity::to_sentence(profile.error());
}

}  // namespace

TEST_CASE("the least profile has a name, volts, amperes, a service and terminals") {
    auto const profile = read_profile(good, "p.toml");
    REQUIRE(profile.has_value());
    CHECK(profile->measurements.at(Measure::i)[2].address == 5);
    CHECK(profile->measurements.at(Measure::i)[2].function == codec::Function::read_holding_registers);
    CHECK(profile->terminals.neutral == "N");
    CHECK(profile->terminals.current[0].s2 == "6");
    CHECK(profile->longest_read == 125);
    CHECK(profile->services[0].elements == std::vector<int>{0, 1, 2});
}

TEST_CASE("every mistake in a profile says file, line, field, what was found and what is allowed") {
    CHECK(refusal("name = ").starts_with("p.toml:1: the text is not TOML"));
    CHECK(
        refusal(changed("maker", "makr")) ==
        "p.toml:2 makr: the field is not known; found \"makr\"; allowed: function, type, word_order, "
        "byte_order, "
        "not_available, name, maker, about, base, longest_read, bridge, legal, measurements, energies, services, "
        "settings, serial_number, identity, terminals, signs, current_inputs, voltage_inputs, wires, supply, limits, "
        "accuracy, bus; try: did you mean \"maker\"?");
    CHECK(refusal(changed("measurements.i", "measurements.I_total"))
              .starts_with("p.toml:5 measurements.I_total: the field is not known; found \"I_total\""));
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 70000]")) ==
          "p.toml:6 measurements.i.registers: a number of the list is out of range; found 70000; "
          "allowed: a list of whole numbers, each 0 to 65535");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 5]\ntype = \"float32\"")) ==
          "p.toml:6 measurements.i.registers: numbers 1 and 2 share a register; found a list of 3; "
          "allowed: addresses at least 2 apart, the size of the type");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4]")) ==
          "p.toml:5 measurements.i: i has 2 phases, v has 3; found a table; allowed: the same number of "
          "phases everywhere");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 5]\nunit = \"W\"")) ==
          "p.toml:7 measurements.i.unit: the word is not known; found \"W\"; allowed: A, kA, mA; "
          "try: did you mean \"A\"?");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 5]\nscale = 0")) ==
          "p.toml:7 measurements.i.scale: a scale of 0 leaves nothing of the number; found 0; allowed: any "
          "other number");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 5]\nsign = \"import-positive\""))
              .starts_with("p.toml:7 measurements.i.sign: the field is not known"));
    CHECK(
        refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 5]\nscale_usual = -1")) ==
        "p.toml:7 measurements.i.scale_usual: there is no scale register that this could describe; found -1; "
        "allowed: scale_register");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 4, 5]\nnot_available = [0x10000]"))
              .starts_with("p.toml:7 measurements.i.not_available: a number of the list is out of range; "
                           "found 0x10000"));
}

TEST_CASE("a base that moves a register out of the table is refused where the register stands") {
    CHECK(refusal(changed("maker = \"Nobody\"", "maker = \"Nobody\"\nbase = -1")) ==
          "p.toml:5 measurements.v.registers: with the base -1 it would take the registers -1 to -1; found a "
          "list of 3; "
          "allowed: 0 to 65535");
    CHECK(refusal(changed("registers = [3, 4, 5]", "registers = [3, 5, 65535]\ntype = \"int32\""))
              .find("it would take the registers 65535 to 65536") != std::string::npos);
}

TEST_CASE("services and terminals must fit the meter's phases") {
    CHECK(refusal(changed("elements = [1, 2, 3]", "elements = [1, 2]")) ==
          "p.toml:9 services.elements: 2 elements; found a list of 2; allowed: 3 for 3P4W");
    CHECK(refusal(changed("elements = [1, 2, 3]", "elements = [1, 2, 2]")) ==
          "p.toml:9 services.elements: number 2 stands twice; found a list of 3; allowed: each number once");
    CHECK(refusal(changed("elements = [1, 2, 3]", "elements = [1, 2, 3]\nlines = [1, 2, 3]")) ==
          "p.toml:10 services.lines: number 1 of v_ll does not exist; found a list of 3; allowed: 1 to 0");
    CHECK(refusal(changed("\"3P4W\"", "\"3P4\"")).find("did you mean \"3P4W\"?") != std::string::npos);
    CHECK(refusal(changed("voltage = [\"1\", \"2\", \"3\"]", "voltage = [\"1\", \"2\"]")) ==
          "p.toml:11 terminals.voltage: 2 of the meter's 3 have names; found a list of 2; allowed: a name "
          "for each phase");
    CHECK(refusal(changed("s1 = \"4\", ", ""))
              .starts_with("p.toml:12 terminals.current.s1: the field is missing"));
    CHECK(refusal(changed("[[services]]\nservice = \"3P4W\"\nelements = [1, 2, 3]\n", ""))
              .find("services: a profile without services") != std::string::npos);
}

TEST_CASE("a scale register that two measurements describe differently is refused") {
    auto const text =
        changed("registers = [0, 1, 2]", "registers = [0, 1, 2]\nscale_register = 9\nscale_usual = -1");
    std::string both = text;
    both.replace(both.find("registers = [3, 4, 5]"), 21,
                 "registers = [3, 4, 5]\nscale_register = 9\nscale_usual = -2");
    CHECK(read_profile(text, "p.toml").has_value());
    CHECK(refusal(both).find("the scale register of i is described in two ways") != std::string::npos);
}

TEST_CASE("a profile that cannot be opened is a fault, not a crash") {
    auto const profile = read_profile_file("/no/such/profile.toml");
    REQUIRE_FALSE(profile.has_value());
    CHECK(profile.error().where == "/no/such/profile.toml");
}

TEST_CASE("every profile of the project is read, and the first service is four-wire wye") {
    int count = 0;
    for (auto const& entry : std::filesystem::directory_iterator(PHASEWRIGHT_SOURCE_DIR "/profiles")) {
        if (entry.path().extension() != ".toml") continue;
        CAPTURE(entry.path().string());
        auto const profile = read_profile_file(entry.path().string());
        if (!profile) FAIL(quantity::to_sentence(profile.error()));
        CHECK(profile->services.front().service == plan::Service::four_wire_wye);
        CHECK(profile->terminals.current.size() == 3);
        for (auto const* const name : {"p", "q", "v_ll", "hz"}) {
            CAPTURE(name);
            bool offered = false;
            for (auto const& [measure, fields] : profile->measurements)
                offered = offered || name_of(measure) == name;
            CHECK(offered);
        }
        ++count;
    }
    CHECK(count >= 3);
}

}  // namespace phasewright::profile
