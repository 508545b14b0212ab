// Meters are compared, programmed and put back without a wire; and what is never written.
#include <doctest/doctest.h>

#include <algorithm>

#include "bus/program/tarnfell_in_tests.hpp"

namespace phasewright::program {

TEST_CASE(
    "a dry look says what is planned, what is in the meter and what would be written, and writes nothing") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    auto const before = meter.image;
    FakeBus bus{.meters = {&meter}};
    FakeConnection connection(bus, works_format);
    auto const result = compare_meter(connection, job_for(profile, bus, "r1"), planned);
    REQUIRE_FALSE(result.failed.has_value());
    CHECK(result.meter == "serial 24101246");
    CHECK_FALSE(result.whole);
    std::map<SettingName, RowState> states;
    for (auto const& row : result.rows) states[row.setting] = row.state;
    CHECK(states.at(SettingName::ct_primary) == RowState::would_write);
    CHECK(states.at(SettingName::ct_secondary) == RowState::as_planned);
    CHECK(states.at(SettingName::vt_primary) == RowState::not_planned);
    CHECK(states.at(SettingName::clock) == RowState::would_write);
    CHECK(states.at(SettingName::bit_rate) == RowState::would_write);
    auto const clock = std::ranges::find(result.rows, SettingName::clock, &Row::setting);
    CHECK(*clock->in_meter == doctest::Approx(95.0).epsilon(0.02));
    CHECK(meter.written.empty());
    CHECK(meter.image == before);
}

TEST_CASE("what differs is written, read back and put on record, and undo brings everything back") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    {
        FakeConnection connection(bus, works_format);
        auto const result = program_meter(connection, job_for(profile, bus, "r1"), planned, journal);
        CAPTURE(said(result));
        CHECK(result.whole);
        CHECK(result.unit == 12);
        CHECK(result.format == meter.format);
        check_programmed(meter);
    }
    // The address comes after the settings of the measurement, the format of the line last.
    auto const runs = runs_of(journal.text, "j");
    REQUIRE(runs.has_value());
    REQUIRE(runs->size() == 1);
    CHECK(runs->front().ended);
    CHECK(open_run(*runs, "tenant-1") == nullptr);
    std::vector<SettingName> order;
    for (auto const& step : runs->front().begin.steps) order.push_back(step.setting);
    CHECK(order == std::vector{SettingName::ct_primary, SettingName::service, SettingName::demand_interval,
                               SettingName::clock, SettingName::address, SettingName::bit_rate,
                               SettingName::parity, SettingName::stop_bits});
    auto const* const undoable = run_to_undo(*runs, "tenant-1");
    REQUIRE(undoable != nullptr);
    FakeConnection connection(bus, works_format);  // somebody starts with what the plan said at first
    auto const undone = undo_run(connection, job_for(profile, bus, "r2"), *runs, *undoable, journal);
    CAPTURE(said(undone));
    CHECK(undone.whole);
    check_as_found(meter);
    auto const after = runs_of(journal.text, "j");
    CHECK(run_to_undo(*after, "tenant-1") == nullptr);
}

TEST_CASE("a sealed meter is never written, whatever is asked") {
    auto profile = project_profile("tarnfell-t3");
    profile.legal = true;
    auto meter = new_tarnfell(profile);
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    FakeConnection connection(bus, works_format);
    auto const result = program_meter(connection, job_for(profile, bus, "r1"), planned, journal);
    REQUIRE(result.failed.has_value());
    CHECK(result.failed->find("never written") != std::string::npos);
    CHECK(meter.written.empty());
    CHECK(journal.text.empty());
    for (auto const& row : result.rows) CHECK(row.state != RowState::would_write);
    // Nor by a journal that says so.
    auto open_profile = profile;
    open_profile.legal = false;
    FakeConnection other(bus, works_format);
    bus.cut = {.at = 400};
    try {
        (void)program_meter(other, job_for(open_profile, bus, "r1"), planned, journal);
    } catch (Killed const&) {
    }
    bus.cut = {};
    auto const runs = runs_of(journal.text, "j");
    REQUIRE_FALSE(runs->empty());
    meter.written.clear();
    FakeConnection third(bus, works_format);
    auto const undone = undo_run(third, job_for(profile, bus, "r2"), *runs, runs->back(), journal);
    CHECK_FALSE(undone.whole);
    CHECK(meter.written.empty());
}

TEST_CASE("a meter with another serial number than the plan's is not written") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    FakeConnection connection(bus, works_format);
    auto job = job_for(profile, bus, "r1");
    job.planned_serial = "99";
    auto const result = program_meter(connection, job, planned, journal);
    CHECK(result.failed == "this is another meter than the plan names; nothing was written");
    CHECK(meter.written.empty());
}

TEST_CASE("an address is written only where one device answers at the old one and none at the new one") {
    auto const profile = project_profile("tarnfell-t3");
    Wanted const only_address{{SettingName::address, 12.0}};
    auto const programmed = [&](FakeBus& bus) {
        MemoryJournal journal(bus.cut);
        FakeConnection connection(bus, works_format);
        auto job = job_for(profile, bus, "r1");
        job.planned_serial.clear();
        return program_meter(connection, job, only_address, journal);
    };
    auto meter = new_tarnfell(profile);
    auto other = new_tarnfell(profile);
    profile::put_value(other.image, *profile.identity.serial_number, 24101999.0);
    SUBCASE("alone") {
        FakeBus bus{.meters = {&meter}};
        CHECK(programmed(bus).whole);
        CHECK(meter.unit == 12);
        // Nothing was sent to everybody.
        CHECK(std::ranges::find(bus.asked_units, 0) == bus.asked_units.end());
    }
    SUBCASE("the new address is taken") {
        profile::put_setting(other.image, *profile::find_setting(profile, SettingName::address), 12.0);
        other.unit = 12;
        FakeBus bus{.meters = {&meter, &other}};
        auto const result = programmed(bus);
        CHECK_FALSE(result.whole);
        CHECK(result.steps.at(0).says == "a device answers at address 12 already");
        CHECK(meter.written.empty());
        CHECK(other.written.empty());
    }
    SUBCASE("two at the old address") {
        FakeBus bus{.meters = {&meter, &other}};
        auto const result = programmed(bus);
        CHECK_FALSE(result.whole);
        CHECK(meter.written.empty());
        CHECK(other.written.empty());
    }
}

TEST_CASE("the record tells whether old totals were kept or rescaled") {
    auto const profile = project_profile("tarnfell-t3");
    Wanted const only_ratio{{SettingName::ct_primary, 150.0}};
    for (bool const rescales : {false, true}) {
        CAPTURE(rescales);
        auto meter = new_tarnfell(profile);
        meter.rescales = rescales;
        FakeBus bus{.meters = {&meter}};
        MemoryJournal journal(bus.cut);
        FakeConnection connection(bus, works_format);
        auto const result = program_meter(connection, job_for(profile, bus, "r1"), only_ratio, journal);
        REQUIRE(result.whole);
        CHECK(result.steps.at(0).old_totals == (rescales ? OldTotals::rescaled : OldTotals::kept));
        CHECK(journal.text.find(rescales ? "\"old_totals\":\"rescaled\"" : "\"old_totals\":\"kept\"") !=
              std::string::npos);
        // This profile says that old totals are rescaled: a meter that keeps them is told.
        CHECK(result.steps.at(0).says.empty() == rescales);
        CHECK(result.steps.at(0).totals_words.size() == 6);
    }
}

TEST_CASE("over TCP the format of a line that nobody can follow is not written") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    FakeConnection connection(bus, std::nullopt);
    auto const result =
        program_meter(connection, job_for(profile, bus, "r1"),
                      {{SettingName::bit_rate, 9600.0}, {SettingName::ct_primary, 150.0}}, journal);
    CHECK_FALSE(result.whole);
    CHECK(meter.value(SettingName::ct_primary) == 150.0);
    CHECK(meter.value(SettingName::bit_rate) == 19200.0);
}

TEST_CASE("a value outside the profile is refused, and what was found may be put back whatever it was") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    auto const* const service = profile::find_setting(profile, SettingName::service);
    profile::put_raw(meter.image, *service->field, 99);  // no service that the profile knows
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    FakeConnection connection(bus, works_format);
    auto const result =
        program_meter(connection, job_for(profile, bus, "r1"),
                      {{SettingName::ct_primary, 20000.0},
                       {SettingName::service, static_cast<double>(plan::Service::four_wire_wye)}},
                      journal);
    CHECK_FALSE(result.whole);
    CHECK(result.rows.front().state == RowState::cannot_write);
    CHECK(result.rows.front().why.find("1 A to 10000 A") != std::string::npos);
    CHECK(meter.value(SettingName::ct_primary) == 100.0);
    CHECK(meter.value(SettingName::service) == static_cast<double>(plan::Service::four_wire_wye));
    auto const runs = runs_of(journal.text, "j");
    FakeConnection again(bus, works_format);
    CHECK(
        undo_run(again, job_for(profile, bus, "r2"), *runs, *run_to_undo(*runs, "tenant-1"), journal).whole);
    CHECK(profile::raw_of(*service->field, meter.image) == 99);
}

}  // namespace phasewright::program
