// What a profile leaves open, one slip at a time.
#include "bus/profile/lint.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>

namespace phasewright::profile {

namespace {

std::string text_of_wexby() {
    return R"(name = "Test"
maker = "Nobody"
type = "int32"
[measurements.v]
registers = [0, 2, 4]
[measurements.i]
registers = [6, 8, 10]
[measurements.p]
registers = [12, 14, 16]
[measurements.q]
registers = [18, 20, 22]
[measurements.p_total]
register = 24
[measurements.hz]
register = 26
[measurements.v_ll]
registers = [28, 30, 32]
[energies.import]
kind = "import"
register = 40
type = "uint32"
wraps_at_full_width = true
[settings.ct_primary]
register = 50
type = "uint16"
write = 6
least = 1
most = 100
rescales_energy = "no"
[settings.ct_secondary]
fixed = 5
[settings.service]
register = 51
type = "uint16"
[serial_number]
register = 60
[[services]]
service = "3P4W"
elements = [1, 2, 3]
setting = 1
[terminals]
voltage = ["1", "2", "3"]
current = [{ s1 = "4", s2 = "6" }, { s1 = "7", s2 = "9" }, { s1 = "10", s2 = "12" }]
bus = [{ label = "B", role = "d1" }, { label = "A", role = "d0" }, { label = "C", role = "common" }]
[[current_inputs]]
output = "5A"
rated = 5
[voltage_inputs]
most_ln = 300
[[wires]]
for = "voltage"
[supply]
kind = "voltage-inputs"
[limits]
altitude_m = 2000
[[accuracy]]
standard = "IEC 62053-22"
class = "0.5S"
[bus]
kind = "serial"
)";
}

std::vector<std::string> said(std::string const& from = {}, std::string const& to = {}) {
    auto text = text_of_wexby();
    if (!from.empty()) {
        auto const at = text.find(from);
        REQUIRE(at != std::string::npos);
        text.replace(at, from.size(), to);
    }
    auto const profile = read_profile(text, "p.toml");
    if (!profile) FAIL(quantity::to_sentence(profile.error()));
    std::vector<std::string> lines;
    for (auto const& finding : lint(*profile))
        lines.push_back(std::string(name_of(finding.severity)) + " " + finding.what);
    return lines;
}
using Lines = std::vector<std::string>;

}  // namespace

TEST_CASE("a whole profile has nothing to mend or mind, and each slip has one finding") {
    CHECK(said() == Lines{});
    CHECK(said("registers = [18, 20, 22]", "registers = [16, 20, 22]") ==
          Lines{"mend p 3 and q 1 share register 16"});
    CHECK(said("register = 60", "register = 26") == Lines{"mend hz and serial_number share register 26"});
    CHECK(said("[measurements.p_total]\nregister = 24\n", "") ==
          Lines{"mind no total active power is listed"});
    CHECK(said("[measurements.q]\nregisters = [18, 20, 22]\n", "") ==
          Lines{"mend neither reactive power nor angles of each phase are listed"});
    CHECK(said("[measurements.hz]", "[measurements.pf_total]") ==
          Lines{"mind no frequency is listed", "mind how the power factor carries its sign is not known"});
    CHECK(said("[[services]]", "[signs]\nvar = \"unknown\"\n[[services]]") ==
          Lines{"mend how reactive power carries its sign is not known"});
    CHECK(said("wraps_at_full_width = true\n", "") ==
          Lines{"mend where energies.import begins anew is not stated"});
    CHECK(said("wraps_at_full_width = true\n", "wraps_after = 9e9\n") ==
          Lines{"mend energies.import would wrap above what its register can hold"});
    CHECK(said("type = \"uint32\"\nwraps_at_full_width = true", "type = \"float32\"\nnever_wraps = true") ==
          Lines{"mind energies.import is kept in 32 bits of floating point"});
    CHECK(said("least = 1\nmost = 100\n", "") == Lines{"mend settings.ct_primary has no allowed values"});
    CHECK(said("rescales_energy = \"no\"\n", "") ==
          Lines{"mind whether settings.ct_primary rescales what was counted is not known"});
    CHECK(said("[settings.ct_secondary]\nfixed = 5\n", "") ==
          Lines{"mind settings.ct_secondary is not listed"});
    CHECK(said("setting = 1\n", "") == Lines{"mend not every service says what its setting holds"});
    CHECK(said("[serial_number]\nregister = 60\n", "") == Lines{"mind the meter tells nothing of itself"});
    CHECK(said("[limits]\naltitude_m = 2000\n", "") ==
          Lines{"mind the meter as a thing with screws is not told whole: limits"});
    CHECK(said("label = \"B\"", "label = \"12\"") == Lines{"mend two terminals are called \"12\""});
    CHECK(said(", { label = \"C\", role = \"common\" }", "") == Lines{"mind the bus has no common terminal"});
    CHECK(said("type = \"int32\"\n", "type = \"int32\"\nlongest_read = 8\nbridge = 9\n") ==
          Lines{"mind bridge 9 is more than the 8 registers of one answer"});
    CHECK(said("type = \"int32\"\n", "type = \"int32\"\nlegal = true\n") ==
          Lines{"mind settings.ct_primary is writable in a sealed meter"});
}

TEST_CASE("the project's own profiles have nothing to mend") {
    for (auto const& entry : std::filesystem::directory_iterator(PHASEWRIGHT_SOURCE_DIR "/profiles")) {
        if (entry.path().extension() != ".toml") continue;
        auto const profile = read_profile_file(entry.path().string());
        REQUIRE(profile.has_value());
        for (auto const& finding : lint(*profile)) {
            CAPTURE(entry.path().string());
            CAPTURE(finding.what);
            CHECK(finding.severity == LintSeverity::mind);
        }
    }
}

}  // namespace phasewright::profile
