// Settings: what registers hold for them, and what may be written.
#include <doctest/doctest.h>

#include "bus/profile/clock.hpp"
#include "bus/profile/image_in_tests.hpp"
#include "bus/profile/profile.hpp"

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
setting = 4
[[services]]
service = "1P2W"
elements = [1]
setting = 1
[terminals]
voltage = ["1", "2", "3"]
current = [{ s1 = "4", s2 = "6" }, { s1 = "7", s2 = "9" }, { s1 = "10", s2 = "12" }]
)";
Setting only(SettingName name, std::string const& text) {
    auto const profile = read_profile(std::string(head) + text, "p.toml");
    if (!profile) FAIL(quantity::to_sentence(profile.error()));
    auto const* const setting = find_setting(*profile, name);
    REQUIRE(setting != nullptr);
    return *setting;
}
std::string refusal(std::string const& text) {
    auto const profile = read_profile(std::string(head) + text, "p.toml");
    REQUIRE_FALSE(profile.has_value());
    return quantity::to_sentence(profile.error());
}
Setting const primary() {
    return only(SettingName::ct_primary,
                "[settings.ct_primary]\nregister = 40\nwrite = 6\nleast = 5\nmost = 5000\nstep = 5\n");
}

}  // namespace

TEST_CASE("a value that the profile allows becomes the registers that hold it") {
    auto const runs = runs_for(primary(), 200.0);
    REQUIRE(runs.has_value());
    REQUIRE(runs->size() == 1);
    CHECK(runs->front().address == 40);
    CHECK(runs->front().values == codec::Registers{200});
    auto const parity = only(SettingName::parity,
                             "[settings.parity]\nregister = 41\nwrite = 16\nvalues = [{ word = "
                             "\"even\", raw = 7 }, { word = \"none\", raw = 9 }]\n");
    CHECK(runs_for(parity, static_cast<double>(plan::Parity::none))->front().values == codec::Registers{9});
    auto const service = only(SettingName::service, "[settings.service]\nregister = 42\nwrite = 6\n");
    CHECK(runs_for(service, static_cast<double>(plan::Service::one_phase_two_wire))->front().values ==
          codec::Registers{1});
    RegisterImage image;
    put_holding(image, 42, "0004");
    CHECK(setting_in(service, image) == static_cast<double>(plan::Service::four_wire_wye));
    put_holding(image, 42, "0003");  // no service that the profile names
    CHECK_FALSE(setting_in(service, image).has_value());
}

TEST_CASE("a value outside what the profile allows is refused in words") {
    auto const sentence = [](Setting const& setting, double value) {
        auto const runs = runs_for(setting, value);
        REQUIRE_FALSE(runs.has_value());
        return quantity::to_sentence(runs.error());
    };
    CHECK(sentence(primary(), 6000.0) ==
          "settings.ct_primary: the meter does not take this value; found 6000 A; allowed: 5 A to 5000 A in "
          "steps of "
          "5; try: change the plan, or the meter");
    CHECK(sentence(primary(), 201.0).find("does not take this value") != std::string::npos);
    CHECK(sentence(primary(), std::numeric_limits<double>::quiet_NaN()).find("is no number") !=
          std::string::npos);
    auto const read_only = only(SettingName::ct_primary, "[settings.ct_primary]\nregister = 40\n");
    CHECK(sentence(read_only, 200.0).find("does not list this setting as one that may be written") !=
          std::string::npos);
    auto const open = only(SettingName::ct_primary, "[settings.ct_primary]\nregister = 40\nwrite = 6\n");
    CHECK(sentence(open, 200.0).find("names no allowed values") != std::string::npos);
    auto const fixed = only(SettingName::ct_secondary, "[settings.ct_secondary]\nfixed = 5\n");
    CHECK(sentence(fixed, 1.0).find("does not list") != std::string::npos);
    auto const wide =
        only(SettingName::address, "[settings.address]\nregister = 40\nwrite = 6\nleast = 0\nmost = 255\n");
    CHECK(sentence(wide, 0.0).find("does not take") != std::string::npos);    // 0 is everybody
    CHECK(sentence(wide, 248.0).find("does not take") != std::string::npos);  // reserved
    auto const tens =
        only(SettingName::ct_primary,
             "[settings.ct_primary]\nregister = 40\nscale = 10\nwrite = 6\nleast = 5\nmost = 5000\n");
    CHECK(sentence(tens, 205.0).find("cannot hold this value") != std::string::npos);
    CHECK(runs_for(tens, 210.0)->front().values == codec::Registers{21});
}

TEST_CASE("a clock of six registers, and one of seconds") {
    auto const parts = only(SettingName::clock, R"([settings.clock]
second = 50
minute = 51
hour = 52
day = 53
month = 54
year = 55
year_zero = 2000
keeps = "local"
write = 16
)");
    // 2026-05-20 08:00:00 is 1 779 264 000 s after 1970 began: checked with date -u -d @1779264000.
    auto const runs = runs_for(parts, 1779264000.0);
    REQUIRE(runs.has_value());
    REQUIRE(runs->size() == 1);
    CHECK(runs->front().address == 50);
    CHECK(runs->front().values == codec::Registers{0, 0, 8, 20, 5, 26});
    CHECK_FALSE(parts.clock->utc);
    RegisterImage image;
    put_holding(image, 50, "0000 0000 0008 0014 0005 001A");
    CHECK(setting_in(parts, image) == 1779264000.0);
    put_holding(image, 53, "001F 0002");  // 31 February
    CHECK_FALSE(setting_in(parts, image).has_value());
    CHECK(setting_registers(parts) == std::vector<plan::RegisterRun>{{3, 50, 6}});
    auto const seconds =
        only(SettingName::clock, "[settings.clock]\nregister = 50\ntype = \"uint32\"\nwrite = 16\n");
    CHECK(runs_for(seconds, 1779264000.7)->front().values == codec::Registers{0x6A0D, 0x6A00});
    CHECK(words_of(SettingName::clock, 1779264000.0) == "2026-05-20 08:00:00");
    CHECK(words_of(SettingName::time_zone, -90.0) == "UTC-01:30");
}

TEST_CASE("a mistake in a setting is refused where it stands") {
    CHECK(refusal("[settings.colour]\nregister = 1\n").find("settings.colour: the field is not known") !=
          std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nwrite = 6\n").find("register: the field is missing") !=
          std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nregister = 1\nwrite = 5\n")
              .find("no such function writes registers") != std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nregister = 1\ntype = \"uint32\"\nwrite = 6\n")
              .find("function 6 writes one register") != std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nregister = 1\nfunction = 4\nwrite = 6\n")
              .find("input registers cannot be written") != std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nregister = 1\nscale_register = 2\nwrite = 6\n")
              .find("scaled by another register") != std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nregister = 1\nleast = 5\nmost = 9\n")
              .find("the setting is only read") != std::string::npos);
    CHECK(
        refusal("[settings.ct_primary]\nregister = 1\nwrite = 6\nleast = 5\n").find("a range has two ends") !=
        std::string::npos);
    CHECK(refusal("[settings.ct_primary]\nregister = 1\nwrite = 6\nvalues = [{ value = 5, raw = 1 }, { value "
                  "= 1 }]\n")
              .find("some of the values have a raw number") != std::string::npos);
    CHECK(refusal("[settings.parity]\nregister = 1\nwrite = 6\nvalues = [{ word = \"even\" }]\n")
              .find("a word has no raw number") != std::string::npos);
    CHECK(refusal("[settings.service]\nregister = 1\nwrite = 6\nvalues = [{ value = 5 }]\n")
              .find("the services say it themselves") != std::string::npos);
    CHECK(refusal("[settings.address]\nregister = 1\nwrite = 6\nrescales_energy = \"no\"\n")
              .find("only a ratio can do that") != std::string::npos);
    CHECK(refusal("[settings.clock]\nyear = 1\n").find("a clock is one number or six") != std::string::npos);
    CHECK(refusal("[settings.clock]\nyear = 1\nmonth = 2\nday = 3\nhour = 4\nminute = 5\nsecond = 9\n")
              .find("not one run of registers") != std::string::npos);
}

TEST_CASE("the meter as a thing with screws comes from its profile") {
    auto const profile = read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/wexby-w2.toml");
    REQUIRE(profile.has_value());
    auto const& meter = profile->hardware;
    REQUIRE(plan::input_for(meter, plan::CtOutput::one_ampere) != nullptr);
    CHECK(plan::input_for(meter, plan::CtOutput::one_ampere)->burden_va == 0.01);
    CHECK(plan::input_for(meter, plan::CtOutput::millivolts) == nullptr);
    CHECK(plan::wires_for(meter, plan::WireUse::bus)->thickest_awg == "16");
    CHECK(meter.supply->kind == plan::SupplyKind::voltage_inputs);
    CHECK(meter.bus_terminals[1].role == plan::BusRole::d1);
    CHECK(meter.bus->delivered_address == 247);
    CHECK(refusal("[[wires]]\nfor = \"bus\"\nmm2 = [2, 1]\n").find("the first end lies above the second") !=
          std::string::npos);
    CHECK(refusal("[[wires]]\nfor = \"bus\"\nawg = [\"24\", \"5/0\"]\n").find("no range of wire gauges") !=
          std::string::npos);
    CHECK(refusal("[supply]\nkind = \"ac\"\n").find("do not fit") != std::string::npos);
    CHECK(refusal("[[current_inputs]]\noutput = \"mV\"\nrated = 0.333\nburden_va = 1\n")
              .find("only a current loop") != std::string::npos);
    CHECK(refusal("[[current_inputs]]\noutput = \"5B\"\nrated = 5\n").find("did you mean") !=
          std::string::npos);
}

}  // namespace phasewright::profile
