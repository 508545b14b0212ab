// Virtual meters behind a pseudo-terminal: time, format, pieces, and a pair that is mended while they run.
#include "bus/twin/serial_door.hpp"

#include <doctest/doctest.h>

#include <unistd.h>

#include "bus/twin/bus_in_tests.hpp"
#include "bus/twin/pty.hpp"

using namespace phasewright;
using namespace phasewright::twin;

namespace {

// Registers that every meter of this profile has: those of its first voltage.
struct First {
    codec::Function function;
    std::uint16_t address;
};
First first_voltage() {
    auto const profile = shipped("hollowick-h1");
    auto const& field = profile.measurements.at(profile::Measure::v).front();
    return {field.function, field.address};
}
auto ask(port::Line& line, int unit, std::uint16_t count = 2) {
    static First const first = first_voltage();
    return port::read_registers(line, static_cast<std::uint8_t>(unit), first.function, first.address, count);
}
bool answers(port::Line& line, int unit) { return ask(line, unit).has_value(); }
}  // namespace

TEST_CASE("an answer takes at least the time of its characters, and comes in more pieces than one") {
    plan::SerialFormat const slow{.bit_rate = 2400};
    auto const site = riser_site(slow);
    Served const served(site, as_planned_bus(site));
    std::vector<port::Exchange> exchanges;
    auto const line = served.serial(slow, 4000, [&](port::Exchange const& one) { exchanges.push_back(one); });
    double const began_s = line->now_s();
    REQUIRE(ask(*line, 2, 6));
    double const took_s = line->now_s() - began_s;
    // Question 8 characters, t3.5, the meter's own 20 ms, answer 5 + 2 * 6: MODBUS over Serial Line V1.02,
    // clause 2.5.1.
    CHECK(took_s >= (8 + 17) * plan::character_s(slow) + plan::silence_between_s(slow) + 0.02);
    CHECK(took_s < 4.0);
    REQUIRE(exchanges.size() == 1);
    CHECK(exchanges.front().arrivals.size() > 1);
    CHECK(exchanges.front().heard.size() == 17);
}

TEST_CASE(
    "a client of another bit rate or with two stop bits is understood by nobody, one of the same by all") {
    auto const site = riser_site();
    Served const served(site, as_planned_bus(site));
    CHECK_FALSE(answers(*served.serial({.bit_rate = 9600}, 300), 2));
    CHECK_FALSE(
        answers(*served.serial({.bit_rate = 19200, .parity = plan::Parity::none, .stop_bits = 2}, 300), 2));
    CHECK_FALSE(
        answers(*served.serial({.bit_rate = 19200, .parity = plan::Parity::odd, .stop_bits = 1}, 300), 2));
    CHECK(answers(*served.serial(), 2));
}

TEST_CASE("a line that is planned without parity and with one stop bit is served as it is planned") {
    plan::SerialFormat const bare{.bit_rate = 38400, .parity = plan::Parity::none, .stop_bits = 1};
    auto const site = riser_site(bare);
    Served const served(site, as_planned_bus(site));
    CHECK(answers(*served.serial(bare), 3));
}

TEST_CASE("a meter that is set to another speed answers at that speed only") {
    auto const site = riser_site();
    auto bus = as_planned_bus(site);
    bus.meters["p3"].format = plan::SerialFormat{.bit_rate = 38400};
    Served const served(site, bus);
    CHECK_FALSE(answers(*served.serial({}, 300), 3));
    CHECK(answers(*served.serial({.bit_rate = 38400}), 3));
    CHECK_FALSE(answers(*served.serial({.bit_rate = 38400}, 300), 2));
}

TEST_CASE("a pair is mended while the meters run: what was silent behind the crossing answers") {
    auto const site = riser_site();
    auto crossed = as_planned_bus(site);
    crossed.lines.at("riser").crossed_behind = 2;
    Served const served(site, crossed);
    {
        auto const line = served.serial({}, 400);
        CHECK(answers(*line, 2));
        CHECK_FALSE(answers(*line, 3));
    }
    REQUIRE(served.server().rewire(riser_wired(site), as_planned_bus(site)));
    auto const line = served.serial();
    CHECK(answers(*line, 3));
    CHECK(answers(*line, 4));
    // Two are given one address at their keys; then each its own again.
    auto twice = as_planned_bus(site);
    twice.meters["p4"].unit = 3;
    REQUIRE(served.server().rewire(riser_wired(site), twice));
    auto const both = ask(*line, 3);
    REQUIRE_FALSE(both);
    CHECK(both.error().kind == codec::FaultKind::garbled);
    REQUIRE(served.server().rewire(riser_wired(site), as_planned_bus(site)));
    CHECK(answers(*line, 3));
    CHECK(answers(*line, 4));
}

TEST_CASE("what was written over the bus outlasts a rewiring that says nothing of it") {
    auto const site = riser_site();
    Served const served(site, as_planned_bus(site));
    auto const profile = shipped("hollowick-h1");
    auto const* address = profile::find_setting(profile, profile::SettingName::address);
    REQUIRE(address != nullptr);
    auto const line = served.serial();
    for (auto const& key : address->before) REQUIRE(port::write_register(*line, 2, key.address, key.value));
    auto const runs = profile::runs_for(*address, 9.0);
    REQUIRE(runs);
    for (auto const& run : *runs) {
        if (address->write == codec::Function::write_single_register)
            REQUIRE(port::write_register(*line, 2, run.address, run.values.front()));
        else
            REQUIRE(port::write_registers(*line, 2, run.address, run.values));
    }
    REQUIRE(served.server().rewire(riser_wired(site), as_planned_bus(site)));
    CHECK(answers(*line, 9));
}

TEST_CASE("a meter on Ethernet has its manners too: late, busy, half a frame") {
    auto const site = riser_site();
    auto bus = as_planned_bus(site);
    bus.meters["roof"].manners.late_every = 2;
    bus.meters["roof"].manners.late_s = 0.4;
    bus.meters["roof"].manners.busy_every = 3;
    Served const served(site, bus);
    auto const line = served.roof();
    CHECK(ask(*line, 1));
    double const began_s = line->now_s();
    CHECK(ask(*line, 1));
    CHECK(line->now_s() - began_s >= 0.4);
    auto const busy = ask(*line, 1);
    REQUIRE_FALSE(busy);
    CHECK(busy.error().exception == 6);  // MODBUS Application Protocol V1.1b3, clause 7: server device busy
}

TEST_CASE("of what a client asks for a pseudo-terminal keeps the bit rate, the stop bits and the odd flag") {
    auto pty = open_pty();
    REQUIRE(pty);
    auto const channel =
        port::serial_channel(pty->near_end.device, {.bit_rate = 57600, .parity = plan::Parity::odd});
    REQUIRE(channel->open());
    CHECK(format_on(pty->master, {}) == plan::SerialFormat{57600, plan::Parity::odd, 1});
    REQUIRE(channel->set_format({.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 2}));
    CHECK(format_on(pty->master, {}) == plan::SerialFormat{9600, plan::Parity::none, 2});
    REQUIRE(channel->set_format({.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 1}));
    CHECK(format_on(pty->master, {}) == plan::SerialFormat{9600, plan::Parity::even, 1});
    CHECK(format_on(pty->master, {9600, plan::Parity::none, 1}) ==
          plan::SerialFormat{9600, plan::Parity::none, 1});
    channel->close();
    close(pty->master);
}
