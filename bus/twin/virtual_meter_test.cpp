// A virtual meter that counts and can be set, by itself and behind a pseudo-terminal.
#include "bus/twin/virtual_meter.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <thread>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/port/rtu_line.hpp"
#include "bus/profile/decode.hpp"
#include "bus/profile/meter_reading.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

using namespace phasewright;
using namespace phasewright::twin;
using profile::SettingName;

namespace {
profile::Profile shipped(std::string const& name) {
    return *profile::read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/" + name + ".toml");
}

plan::MeteringPoint office(std::string const& profile) {
    plan::MeteringPoint point{.id = "office", .name = "Office", .panel = "main"};
    point.service = plan::Service::four_wire_wye;
    point.ct.ratio = {200.0, 5.0};
    point.meter_profile = profile;
    point.address = {.unit = 3, .serial_line = "riser", .position = 1};
    return point;
}

WiredPoint wired_office() {
    auto wired = as_planned(office(""));
    for (auto const phase : {plan::Conductor::a, plan::Conductor::b, plan::Conductor::c})
        wired.loads.push_back(
            {.between = std::pair{phase, plan::Conductor::n}, .amps = 40.0, .lag_deg = 20.0});
    for (auto& ct : wired.cts) ct.programmed = {100.0, 5.0};  // half of what is fitted
    return wired;
}
Supply const supply{.v = {230.0, 230.0, 230.0}};

VirtualMeter meter_of(std::string const& name, MeterTruth truth = {}) {
    Face face{.profile = shipped(name), .programmed = {100.0, 5.0}, .highest_v = 230.0, .unit = 3};
    return {office(name), supply, wired_office(), face, 1, truth};
}

codec::Bytes write_pdu(profile::SettingRun const& run) {
    return *codec::question_pdu(codec::WriteRegisters{.address = run.address, .values = run.values});
}
bool refused(codec::Bytes const& answer) { return (codec::u8_at(answer, 0) & 0x80U) != 0; }

double import_wh(VirtualMeter& meter, profile::Profile const& profile, double time_s) {
    for (auto const& count : profile::energies_in(profile, meter.registers_at(time_s)))
        if (count.habit.kind == profile::EnergyKind::import && count.habit.phase == 0 && count.value &&
            count.habit.quantity == profile::EnergyQuantity::active)
            return *count.value;
    return -1.0;
}
}  // namespace

TEST_CASE("a meter counts what it shows: half of the energy where half of the ratio is programmed") {
    auto const profile = shipped("tarnfell-t3");
    auto meter = meter_of("tarnfell-t3");
    // 3 * 230 V * 40 A * cos 20 deg = 25 936 W, half of it shown; in a hundred hours 1 296.8 kWh.
    double const gained = import_wh(meter, profile, 360'000.0) - import_wh(meter, profile, 0.0);
    CHECK(gained == doctest::Approx(1'296'800.0).epsilon(0.01));
    double before = 0.0;
    for (double time_s = 0.0; time_s < 10'000.0; time_s += 777.0) {
        double const now = import_wh(meter, profile, time_s);
        CHECK(now >= before);
        before = now;
    }
}

TEST_CASE("a ratio that is written is shown from then on, and only with the password before it") {
    auto const profile = shipped("tarnfell-t3");
    auto meter = meter_of("tarnfell-t3");
    auto const* primary = profile::find_setting(profile, SettingName::ct_primary);
    REQUIRE(primary != nullptr);
    auto const runs = profile::runs_for(*primary, 200.0);
    REQUIRE(runs);
    REQUIRE_FALSE(primary->before.empty());
    CHECK(refused(meter.answer(write_pdu(runs->front()), 10.0)));
    for (auto const& key : primary->before)
        CHECK_FALSE(refused(meter.answer(write_pdu({key.address, {key.value}}), 10.0)));
    double const before_a = *profile::decode(profile, meter.registers_at(10.0)).i[0];
    CHECK_FALSE(refused(meter.answer(write_pdu(runs->front()), 10.0)));
    CHECK(profile::setting_in(*primary, meter.registers_at(11.0)) == 200.0);
    double const after_a = *profile::decode(profile, meter.registers_at(11.0)).i[0];
    CHECK(after_a / before_a == doctest::Approx(2.0).epsilon(0.02));
}

TEST_CASE("what the profile does not list, or not allow, is not taken") {
    auto meter = meter_of("hollowick-h1");
    CHECK(refused(meter.answer(write_pdu({9999, {1}}), 1.0)));
    auto const profile = shipped("hollowick-h1");
    auto const* address = profile::find_setting(profile, SettingName::address);
    REQUIRE(address != nullptr);
    auto run = profile::runs_for(*address, 9.0)->front();
    run.values[0] = 250;
    CHECK(refused(meter.answer(write_pdu(run), 1.0)));
    CHECK(meter.unit() == 3);
    auto locked = meter_of("hollowick-h1", {.writable = false});
    CHECK(refused(locked.answer(write_pdu(profile::runs_for(*address, 9.0)->front()), 1.0)));
}

TEST_CASE("a meter whose table is laid out otherwise answers under the other addresses and words") {
    auto const profile = shipped("tarnfell-t3");
    auto plain = meter_of("tarnfell-t3");
    auto moved = meter_of("tarnfell-t3", {.twist = {.words_swapped = true, .offset = 1}});
    auto const by_profile = profile::decode(profile, moved.registers_at(5.0));
    auto const rightly =
        profile::decode(twisted(profile, {.words_swapped = true, .offset = 1}), moved.registers_at(5.0));
    auto const meant = profile::decode(profile, plain.registers_at(5.0));
    CHECK(by_profile.v[0] != meant.v[0]);
    CHECK(rightly.v[0] == meant.v[0]);
    CHECK(rightly.p[2] == meant.p[2]);
}

TEST_CASE("a meter behind a pseudo-terminal is read as over an adapter, and rewired while it runs") {
    plan::Site site;
    site.panels.push_back({.id = "main", .name = "Main", .nominal = {230.0, 400.0, 50.0}});
    site.serial_lines.push_back(
        {.id = "riser", .name = "Riser", .device = {}, .format = {}, .length_m = 50.0});
    site.points.push_back(office("hollowick-h1"));
    WiredSite wired;
    wired.supplies["main"] = supply;
    wired.points["office"] = wired_office();
    auto const began = std::chrono::steady_clock::now();
    auto const clock = [began] {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
    };
    auto server = Server::open(site, wired, [](std::string const& name) { return shipped(name); }, clock);
    REQUIRE(server);
    std::jthread const running([&] { server->run(); });
    auto const profile = shipped("hollowick-h1");
    auto const line = port::rtu_line(port::serial_channel(server->devices().at("riser"), {}), {});
    auto const reading = profile::read_meter(*line, 3, profile, plan::Service::four_wire_wye);
    REQUIRE(reading);
    CHECK(*reading->snapshot.v[0] == doctest::Approx(230.0).epsilon(0.01));
    CHECK(*reading->snapshot.p[1] > 0.0);
    CHECK_FALSE(profile::read_meter(*line, 4, profile, plan::Service::four_wire_wye));

    auto turned = wired;
    turned.points["office"].cts[1].p1_faces_source = false;
    REQUIRE(server->rewire(turned));
    auto const after = profile::read_meter(*line, 3, profile, plan::Service::four_wire_wye);
    REQUIRE(after);
    CHECK(*after->snapshot.p[1] < 0.0);

    server->stop();
}
