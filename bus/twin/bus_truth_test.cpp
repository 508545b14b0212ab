#include "bus/twin/bus_truth.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using namespace phasewright::twin;

namespace {
plan::Site site_with_line() {
    plan::Site site;
    site.serial_lines.push_back(
        {.id = "riser", .name = "Riser", .device = {}, .format = {}, .length_m = 60.0});
    for (int k = 1; k <= 3; ++k) {
        plan::MeteringPoint point{.id = "p" + std::to_string(k)};
        point.address.serial_line = "riser";
        point.address.unit = k;
        point.address.position = 4 - k;
        site.points.push_back(point);
    }
    plan::MeteringPoint roof{.id = "roof"};
    roof.meter_profile = "sunspec";
    roof.address.host = "192.0.2.7";
    site.points.push_back(roof);
    return site;
}
std::string refusal(std::string_view text) {
    auto const truth = read_bus(text, "yard.bus.toml", site_with_line());
    REQUIRE_FALSE(truth);
    return quantity::to_sentence(truth.error());
}
bool contains(std::string const& text, std::string_view part) { return text.find(part) != std::string::npos; }
}  // namespace

TEST_CASE(
    "with nothing said, the pair is ended at both ends, biased at the head, and everybody is set as "
    "planned") {
    auto const truth = read_bus("", "yard.bus.toml", site_with_line());
    REQUIRE(truth);
    auto const& pair = truth->lines.at("riser");
    CHECK(pair.positions == 3);
    CHECK(pair.terminators.size() == 2);
    CHECK(pair.bias);
    CHECK(truth->meters.empty());
    auto const site = site_with_line();
    auto const points = along(site, "riser");
    CHECK(points.front()->id == "p3");
}

TEST_CASE("what is really on the bus is read, line by line and meter by meter") {
    auto const truth = read_bus(R"(
[line.riser]
terminators = [0, 2, 3]
bias = "none"
crossed_behind = 2
broken_behind = 2
broken = "one conductor"
common = "missing"
adapter = "hears itself"
[[meter]]
id = "p2"
unit = 3
parity = "none"
late_every = 4
late_ms = 1500
registers = { words = "swapped", offset = 1, energies = "Wh", not_measured = ["pf_total"], unavailable = 0xFFFF }
counters = { import_wh = 99_999_000, zero_at_read = 3 }
programmed = [100, 5]
settings = "locked"
)",
                                "yard.bus.toml", site_with_line());
    REQUIRE(truth);
    auto const& pair = truth->lines.at("riser");
    CHECK(pair.terminators.size() == 3);
    CHECK_FALSE(pair.bias);
    CHECK(pair.crossed_behind == 2);
    CHECK_FALSE(pair.common);
    CHECK(pair.adapter_echoes);
    CHECK(pair.broken_behind == 2);
    CHECK(pair.one_conductor_broken);
    auto const& meter = truth->meters.at("p2");
    CHECK(meter.unit == 3);
    CHECK(plan::words_of(*meter.format) == "19200 8N2");
    CHECK(meter.manners.late_s == doctest::Approx(1.5));
    CHECK(meter.twist == RegisterTwist{true, 1, true, {profile::Measure::pf_total}, std::uint16_t{0xFFFF}});
    CHECK(meter.counters == CounterTruth{99'999'000.0, 3});
    REQUIRE(meter.programmed);
    CHECK(meter.programmed->factor() == doctest::Approx(20.0));
    CHECK_FALSE(meter.writable);
}

TEST_CASE("a mistake in the bus file is told where it stands") {
    CHECK(contains(refusal("[line.rise]\n"), "the plan has no such serial line"));
    CHECK(contains(refusal("[[meter]]\nid = \"p9\"\n"), "the plan has no such point"));
    CHECK(contains(refusal("[line.riser]\ncrossed_behind = 4\n"), "2 line.riser.crossed_behind"));
    CHECK(contains(refusal("[[meter]]\nid = \"p1\"\nregisters = { word = \"swapped\" }\n"), "did you mean"));
    CHECK(contains(refusal("[line.riser]\nbroken = \"one conductor\"\n"), "broken_behind"));
    CHECK(contains(refusal("[[meter]]\nid = \"p1\"\n[[meter]]\nid = \"p1\"\n"), "told before"));
}

TEST_CASE("what a meter cannot be is refused, not passed over") {
    CHECK(contains(refusal("[[meter]]\nid = \"roof\"\nparity = \"odd\"\n"), "not on a serial line"));
    CHECK(contains(refusal("[[meter]]\nid = \"roof\"\nwrong_crc_every = 2\n"), "not on a serial line"));
    CHECK(contains(refusal("[[meter]]\nid = \"roof\"\nregisters = { offset = 1 }\n"), "SunSpec"));
    CHECK(contains(refusal("[[meter]]\nid = \"p1\"\nregisters = { not_measured = [\"wats\"] }\n"),
                   "no such measurement"));
    CHECK(read_bus("[[meter]]\nid = \"roof\"\nlate_every = 2\nlate_ms = 800\n", "yard.bus.toml",
                   site_with_line()));
}

TEST_CASE("a meter of which nothing is told has the format of its line") {
    auto site = site_with_line();
    site.serial_lines.front().format.bit_rate = 9600;
    auto const bus = as_planned_bus(site);
    CHECK(truth_of(bus, site, site.points.front()).format == plan::SerialFormat{.bit_rate = 9600});
    CHECK_FALSE(truth_of(bus, site, site.points.back()).format);
}
