// What a virtual meter counts, and what becomes of it: it wraps, it shows zero once, it is set anew.
#include "bus/twin/counters.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "bus/profile/decode.hpp"
#include "bus/twin/bus_in_tests.hpp"
#include "bus/twin/virtual_meter.hpp"

using namespace phasewright;
using namespace phasewright::twin;
using profile::SettingName;

namespace {
Supply const supply{.v = {230.0, 230.0, 230.0}};

VirtualMeter meter_of(std::string const& name, MeterTruth const& truth = {}) {
    auto const point = riser_point("office", 3, name);
    Face face{.programmed = {200.0, 5.0}, .highest_v = 230.0, .unit = 3};
    if (name != "sunspec") face.profile = shipped(name);
    return {point, supply, forty_amps(point), face, 1, truth};
}

// Of all phases together, with the counter's habit.
profile::EnergyCount import_count(profile::Profile const& profile, profile::RegisterImage const& image) {
    for (auto const& count : profile::energies_in(profile, image))
        if (count.habit.kind == profile::EnergyKind::import && count.habit.phase == 0 && count.value &&
            count.habit.quantity == profile::EnergyQuantity::active)
            return count;
    FAIL("no counter of import");
    return {};
}

// One read of the registers behind the counter of import, as a question.
codec::Bytes counter_question(profile::Profile const& profile) {
    for (auto const& energy : profile.energies)
        if (energy.habit.kind == profile::EnergyKind::import && !energy.per_phase) {
            auto const& field = energy.fields.front();
            auto const count = static_cast<std::uint16_t>(profile::registers_of(field.type));
            return *codec::question_pdu(
                codec::ReadRegisters{.function = field.function, .address = field.address, .count = count});
        }
    return {};
}
bool is_zero(codec::Bytes const& answer) {
    return std::ranges::all_of(answer.begin() + 2, answer.end(),
                               [](std::byte one) { return one == std::byte{0}; });
}
}  // namespace

TEST_CASE("a counter that begins just below its wrap stands above zero again afterwards") {
    auto const profile = shipped("hollowick-h1");
    auto const plain = meter_of("hollowick-h1").registers_at(0.0);
    auto const wraps_at = import_count(profile, plain).habit.wraps_at;
    REQUIRE(wraps_at);
    CHECK(*wraps_at == doctest::Approx(1e8));  // the profile: 99 999.9 kWh is its last count
    auto meter = meter_of("hollowick-h1", {.counters = {.import_wh = *wraps_at - 1000.0}});
    CHECK(*import_count(profile, meter.registers_at(0.0)).value == doctest::Approx(*wraps_at - 1000.0));
    // 3 * 230 V * 40 A * cos 20 deg = 25 936 W: an hour later it has counted 25 936 Wh, 24 936 of them behind
    // the wrap.
    CHECK(*import_count(profile, meter.registers_at(3600.0)).value ==
          doctest::Approx(24'936.0).epsilon(0.01));
}

TEST_CASE("a counter shows zero in the one answer that the file names, and never again") {
    for (std::string const name : {"tarnfell-t3", "hollowick-h1", "wexby-w2"}) {
        CAPTURE(name);
        auto const profile = shipped(name);
        auto meter = meter_of(name, {.counters = {.zero_at_read = 3}});
        auto const question = counter_question(profile);
        REQUIRE_FALSE(question.empty());
        auto const& volts = profile.measurements.at(profile::Measure::v).front();
        auto const other = *codec::question_pdu(
            codec::ReadRegisters{.function = volts.function, .address = volts.address, .count = 1});
        for (int read = 1; read <= 6; ++read) {
            CHECK_FALSE(is_zero(meter.answer(other, 10.0 * read)));  // does not count as a read of a counter
            CHECK(is_zero(meter.answer(question, 10.0 * read)) == (read == 3));
        }
    }
}

TEST_CASE("what is told of a meter otherwise than before is set; what is not told stays as it was") {
    auto const profile = shipped("hollowick-h1");
    auto meter = meter_of("hollowick-h1");
    auto const shown_a = [&](double time_s) {
        return *profile::decode(profile, meter.registers_at(time_s)).i[0];
    };
    double const before_a = shown_a(1.0);
    meter.set_anew({.programmed = quantity::TransformerRatio{100.0, 5.0}}, 2.0);
    CHECK(shown_a(3.0) / before_a == doctest::Approx(0.5).epsilon(0.02));
    meter.set_anew({.unit = 9, .programmed = quantity::TransformerRatio{100.0, 5.0}}, 4.0);
    CHECK(meter.unit() == 9);
    CHECK(shown_a(5.0) / before_a == doctest::Approx(0.5).epsilon(0.02));
    meter.set_anew({}, 6.0);
    CHECK(meter.unit() == 3);
    CHECK(shown_a(7.0) / before_a == doctest::Approx(1.0).epsilon(0.02));
    meter.set_anew({.twist = {.offset = 1}}, 8.0);
    auto const moved = twisted(profile, {.offset = 1});
    CHECK(*profile::decode(moved, meter.registers_at(9.0)).i[0] / before_a ==
          doctest::Approx(1.0).epsilon(0.02));
}

TEST_CASE("a ratio of voltage transformers that is written multiplies volts and power, and no current") {
    auto const profile = shipped("tarnfell-t3");
    auto meter = meter_of("tarnfell-t3");
    auto const before = profile::decode(profile, meter.registers_at(1.0));
    auto const* primary = profile::find_setting(profile, SettingName::vt_primary);
    REQUIRE(primary != nullptr);
    auto const began = profile::setting_in(*primary, meter.registers_at(1.0));
    REQUIRE(began);
    auto const write = [&](std::uint16_t address, codec::Registers values) {
        auto const pdu =
            *codec::question_pdu(codec::WriteRegisters{.address = address, .values = std::move(values)});
        return meter.answer(pdu, 2.0);
    };
    for (auto const& key : primary->before) write(key.address, {key.value});
    auto const runs = profile::runs_for(*primary, 2.0 * *began);
    REQUIRE(runs);
    for (auto const& run : *runs) CHECK((codec::u8_at(write(run.address, run.values), 0) & 0x80U) == 0);
    auto const after = profile::decode(profile, meter.registers_at(3.0));
    CHECK(*after.v[0] / *before.v[0] == doctest::Approx(2.0).epsilon(0.01));
    CHECK(*after.p[0] / *before.p[0] == doctest::Approx(2.0).epsilon(0.03));
    CHECK(*after.i[0] / *before.i[0] == doctest::Approx(1.0).epsilon(0.03));
}

TEST_CASE("a password stands where a shifted table has it") {
    auto const profile = shipped("tarnfell-t3");
    auto const moved = twisted(profile, {.offset = 4});
    auto const* setting = profile::find_setting(profile, SettingName::ct_primary);
    auto const* shifted = profile::find_setting(moved, SettingName::ct_primary);
    REQUIRE(setting != nullptr);
    REQUIRE_FALSE(setting->before.empty());
    CHECK(shifted->before.front().address == setting->before.front().address + 4);
    CHECK(shifted->field->address == setting->field->address + 4);
    CHECK(shifted->before.front().value == setting->before.front().value);
}

TEST_CASE("a number that a meter does not measure shows what the file says, in every register of it") {
    auto const profile = shipped("hollowick-h1");
    auto const& factor = profile.measurements.at(profile::Measure::pf_total).front();
    RegisterTwist const twist{.not_measured = {profile::Measure::pf_total},
                              .unavailable = std::uint16_t{0xFFFF}};
    auto meter = meter_of("hollowick-h1", {.twist = twist});
    CHECK(profile::register_at(meter.registers_at(1.0), factor.function, factor.address) == 0xFFFF);
    // The shipped profile knows 0x8000 there, and takes 0xFFFF for -1 thousandth.
    CHECK(*profile::decode(profile, meter.registers_at(1.0)).pf_total == doctest::Approx(-0.001));
    auto const wide = twisted(shipped("wexby-w2"), twist);
    CHECK(wide.measurements.at(profile::Measure::v).front().not_available ==
          std::vector<std::uint64_t>{0xFFFF'FFFF});
}

TEST_CASE("a twist that would change nothing is refused, before it runs and while it runs") {
    RegisterTwist const watt_hours{.energies_in_base_unit = true};
    CHECK(without_effect(shipped("wexby-w2"), watt_hours, "p1"));
    CHECK_FALSE(without_effect(shipped("hollowick-h1"), watt_hours, "p1"));
    CHECK(without_effect(shipped("hollowick-h1"), {.not_measured = {profile::Measure::thd_i}}, "p1"));
    auto site = riser_site();
    site.points.front().meter_profile = "wexby-w2";
    auto bus = as_planned_bus(site);
    bus.meters["p1"].twist = watt_hours;
    auto const source = [](std::string const& name) { return shipped(name); };
    CHECK_FALSE(Server::open(site, riser_wired(site), source, [] { return 0.0; }, bus));
    auto const server =
        Server::open(site, riser_wired(site), source, [] { return 0.0; }, as_planned_bus(site));
    REQUIRE(server);
    auto const refused = server->rewire(riser_wired(site), bus);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().where == "meter p1, registers");
}
