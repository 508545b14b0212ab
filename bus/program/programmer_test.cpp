// Meters are programmed, cut off, finished and undone without a wire.
#include <doctest/doctest.h>

#include <algorithm>

#include "bus/program/bus_in_tests.hpp"
#include "bus/program/programmer.hpp"

namespace phasewright::program {

namespace {

using profile::SettingName;

profile::Profile project_profile(std::string const& name) {
    auto profile = profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR "/profiles/") + name + ".toml");
    REQUIRE(profile.has_value());
    return *profile;
}

double number_of(plan::Parity parity) { return static_cast<double>(parity); }

// As it leaves the works: 100/5 A, address 247, 19200 8E1; its clock is 95 s fast, and it has counted 1234.5 kWh.
FakeMeter new_tarnfell(profile::Profile const& profile) {
    FakeMeter meter{.profile = &profile};
    profile::MeterSettings settings;
    settings.ct_programmed = quantity::TransformerRatio{100.0, 5.0};
    settings.service = plan::Service::three_wire_two_element;
    settings.serial = "24101246";
    settings.others = {{SettingName::vt_primary, 400.0},       {SettingName::vt_secondary, 100.0},
                       {SettingName::demand_interval, 15.0},   {SettingName::time_zone, 0.0},
                       {SettingName::clock, 1779264095.0},     {SettingName::address, 247.0},
                       {SettingName::bit_rate, 19200.0},       {SettingName::parity, number_of(plan::Parity::even)},
                       {SettingName::stop_bits, 1.0}};
    readings::Snapshot shown;
    shown.v = {230.0, 230.0, 230.0};
    shown.i = {5.0, 5.0, 5.0};
    meter.image = profile::encode(profile, shown, settings);
    for (auto const& energy : profile.energies)
        for (std::size_t k = 0; k < energy.fields.size(); ++k) profile::put_energy(meter.image, energy, k, 1234500.0);
    meter.image.holding[0x0B40] = 0;
    meter.unlock = {{0x0B40, 0x2B67}};
    meter.unit = 247;
    meter.format = {.bit_rate = 19200, .parity = plan::Parity::even, .stop_bits = 1};
    return meter;
}

Wanted const planned{{SettingName::ct_primary, 150.0},
                     {SettingName::ct_secondary, 5.0},
                     {SettingName::service, static_cast<double>(plan::Service::four_wire_wye)},
                     {SettingName::demand_interval, 30.0},
                     {SettingName::clock, 0.0},
                     {SettingName::address, 12.0},
                     {SettingName::bit_rate, 9600.0},
                     {SettingName::parity, number_of(plan::Parity::none)},
                     {SettingName::stop_bits, 2.0}};

Job job_for(profile::Profile const& profile, FakeBus& bus, std::string run) {
    Job job;
    job.run = std::move(run);
    job.point = "tenant-1";
    job.place = "test line";
    job.profile_name = "tarnfell-t3";
    job.planned_serial = "24101246";
    job.profile = &profile;
    job.unit = 247;
    job.unix_now = [&bus] { return bus.now_s; };
    job.wait = [&bus](double seconds) { bus.now_s += seconds; };
    return job;
}

plan::SerialFormat const works_format{.bit_rate = 19200, .parity = plan::Parity::even, .stop_bits = 1};

// The clock of the fake meter stands still; ours goes on, so its drift is what was written less our time now.
void check_programmed(FakeMeter const& meter) {
    CHECK(meter.value(SettingName::ct_primary) == 150.0);
    CHECK(meter.value(SettingName::service) == static_cast<double>(plan::Service::four_wire_wye));
    CHECK(meter.value(SettingName::demand_interval) == doctest::Approx(30.0));
    CHECK(meter.unit == 12);
    CHECK(meter.format == plan::SerialFormat{.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 2});
    CHECK(std::abs(meter.value(SettingName::clock) - 1779264000.0) < 40.0);
    CHECK(meter.image.holding.at(0x0B40) == 0);  // locked again
}

void check_as_found(FakeMeter const& meter) {
    CHECK(meter.value(SettingName::ct_primary) == 100.0);
    CHECK(meter.value(SettingName::service) == static_cast<double>(plan::Service::three_wire_two_element));
    CHECK(meter.value(SettingName::demand_interval) == doctest::Approx(15.0));
    CHECK(meter.unit == 247);
    CHECK(meter.format == works_format);
    CHECK(std::abs(meter.value(SettingName::clock) - 1779264095.0) < 40.0);
    CHECK(meter.image.holding.at(0x0B40) == 0);
}

std::string said(MeterResult const& result) {
    std::string text = result.failed.value_or("");
    for (auto const& step : result.steps) text += std::string(name_of(step.setting)) + ": " + step.says + "; ";
    return text;
}

}  // namespace

TEST_CASE("a dry look says what is planned, what is in the meter and what would be written, and writes nothing") {
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
                               SettingName::clock, SettingName::address, SettingName::bit_rate, SettingName::parity,
                               SettingName::stop_bits});
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

TEST_CASE("cut off at any question and any line of the journal, a run is found and can be finished or undone") {
    auto const profile = project_profile("tarnfell-t3");
    int cut_off = 0;
    int open_ones = 0;
    for (int at = 0; at < 2000; ++at) {
        bool all_done = false;
        for (bool const undo : {false, true}) {
            CAPTURE(at);
            CAPTURE(undo);
            auto meter = new_tarnfell(profile);
            FakeBus bus{.meters = {&meter}};
            bus.cut.at = at;
            MemoryJournal journal(bus.cut);
            try {
                FakeConnection connection(bus, works_format);
                all_done = program_meter(connection, job_for(profile, bus, "r1"), planned, journal).whole;
            } catch (Killed const&) {
                ++cut_off;
            }
            bus.cut.at = -1;
            auto const runs = runs_of(journal.text, "j");
            REQUIRE(runs.has_value());
            auto const* const open = open_run(*runs, "tenant-1");
            if (open == nullptr) {
                // Either nothing was begun, or everything was done.
                if (runs->empty()) check_as_found(meter);
                else check_programmed(meter);
                continue;
            }
            ++open_ones;
            FakeConnection connection(bus, works_format);
            auto const job = job_for(profile, bus, "r2");
            auto const result = undo ? undo_run(connection, job, *runs, *open, journal)
                                     : finish_run(connection, job, *runs, *open, journal);
            CAPTURE(said(result));
            CHECK(result.whole);
            if (undo) check_as_found(meter);
            else check_programmed(meter);
            auto const after = runs_of(journal.text, "j");
            CHECK(open_run(*after, "tenant-1") == nullptr);
            if (!undo) {
                // What was finished can be undone as one.
                auto const* const back = run_to_undo(*after, "tenant-1");
                REQUIRE(back != nullptr);
                FakeConnection again(bus, works_format);
                auto const undone = undo_run(again, job_for(profile, bus, "r3"), *after, *back, journal);
                CAPTURE(said(undone));
                CHECK(undone.whole);
                check_as_found(meter);
                auto const at_last = runs_of(journal.text, "j");
                CHECK(run_to_undo(*at_last, "tenant-1") == nullptr);
            }
        }
        if (all_done) break;
    }
    CHECK(cut_off > 200);
    CHECK(open_ones > 150);
}

TEST_CASE("an undo that is cut off itself is taken up by the next undo") {
    auto const profile = project_profile("tarnfell-t3");
    for (int at = 0; at < 2000; at += 3) {
        CAPTURE(at);
        auto meter = new_tarnfell(profile);
        FakeBus bus{.meters = {&meter}};
        MemoryJournal journal(bus.cut);
        FakeConnection connection(bus, works_format);
        REQUIRE(program_meter(connection, job_for(profile, bus, "r1"), planned, journal).whole);
        bus.cut = {.at = at};
        auto const runs = runs_of(journal.text, "j");
        bool done = false;
        try {
            FakeConnection second(bus, works_format);
            done = undo_run(second, job_for(profile, bus, "r2"), *runs, *run_to_undo(*runs, "tenant-1"), journal).whole;
        } catch (Killed const&) {
        }
        bus.cut = {};
        if (done) break;
        auto const now = runs_of(journal.text, "j");
        auto const* const open = open_run(*now, "tenant-1");
        FakeConnection third(bus, works_format);
        auto const job = job_for(profile, bus, "r3");
        if (open != nullptr && open->begin.purpose == Purpose::undo) {
            auto const result = finish_run(third, job, *now, *open, journal);
            CAPTURE(said(result));
            CHECK(result.whole);
        } else if (auto const* const back = run_to_undo(*now, "tenant-1")) {
            CHECK(undo_run(third, job, *now, *back, journal).whole);
        }
        check_as_found(meter);
        auto const settled = runs_of(journal.text, "j");
        CHECK(open_run(*settled, "tenant-1") == nullptr);
        CHECK(run_to_undo(*settled, "tenant-1") == nullptr);
    }
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
        CHECK(journal.text.find(rescales ? "\"old_totals\":\"rescaled\"" : "\"old_totals\":\"kept\"") != std::string::npos);
        // This profile says that old totals are rescaled: a meter that keeps them is told.
        CHECK(result.steps.at(0).says.empty() == rescales);
        CHECK(result.steps.at(0).totals_words.size() == 6);
    }
}

TEST_CASE("a meter that takes writes and keeps its own mind is in doubt, and undo settles it") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    meter.ignores_writes = true;
    meter.unlock.reset();
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    FakeConnection connection(bus, works_format);
    auto const result = program_meter(connection, job_for(profile, bus, "r1"), planned, journal);
    CHECK_FALSE(result.whole);
    CHECK(result.steps.front().outcome == Outcome::in_doubt);
    CHECK(result.steps.front().says == "it was written, and the meter shows 100 A all the same");
    CHECK(connection.format() == works_format);  // the way back was taken
    auto const runs = runs_of(journal.text, "j");
    auto const* const open = open_run(*runs, "tenant-1");
    REQUIRE(open != nullptr);
    FakeConnection again(bus, works_format);
    (void)undo_run(again, job_for(profile, bus, "r2"), *runs, *open, journal);
    CHECK(meter.value(SettingName::ct_primary) == 100.0);
}

TEST_CASE("what works after a restart is written, said, and found again after the restart") {
    auto const profile = project_profile("hollowick-h1");
    FakeMeter meter{.profile = &profile};
    profile::MeterSettings settings;
    settings.ct_programmed = quantity::TransformerRatio{100.0, 5.0};
    settings.others = {{SettingName::address, 1.0}, {SettingName::bit_rate, 9600.0},
                       {SettingName::parity, number_of(plan::Parity::none)}, {SettingName::demand_interval, 15.0}};
    meter.image = profile::encode(profile, {}, settings);
    meter.objects = {{0, "Hollowick"}, {1, "H1"}, {2, "1.0"}};
    plan::SerialFormat const works{.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 1};
    meter.format = works;
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    Wanted const wanted{{SettingName::ct_primary, 200.0}, {SettingName::address, 7.0}, {SettingName::bit_rate, 19200.0},
                        {SettingName::parity, number_of(plan::Parity::even)}};
    FakeConnection connection(bus, works);
    auto job = job_for(profile, bus, "r1");
    job.unit = 1;
    job.planned_serial.clear();
    auto const result = program_meter(connection, job, wanted, journal);
    CAPTURE(said(result));
    CHECK(result.whole);
    CHECK(meter.unit == 1);
    CHECK(connection.reopened == 0);
    CHECK(result.steps.back().says == "it works when the meter has been restarted");
    meter.restart();
    CHECK(meter.unit == 7);
    auto const runs = runs_of(journal.text, "j");
    FakeConnection second(bus, works);
    job.run = "r2";
    auto const undone = undo_run(second, job, *runs, *run_to_undo(*runs, "tenant-1"), journal);
    CAPTURE(said(undone));
    CHECK(undone.whole);
    meter.restart();
    CHECK(meter.unit == 1);
    CHECK(meter.format == works);
    CHECK(meter.value(SettingName::ct_primary) == 100.0);
}

TEST_CASE("a meter without parity is found with one stop bit and with two, also by an undo") {
    auto const profile = project_profile("wexby-w2");
    for (bool const two : {false, true}) {
        CAPTURE(two);
        FakeMeter meter{.profile = &profile};
        meter.two_without_parity = two;
        profile::MeterSettings settings;
        settings.ct_programmed = quantity::TransformerRatio{100.0, 5.0};
        settings.serial = "1";
        settings.others = {{SettingName::address, 3.0}, {SettingName::bit_rate, 19200.0},
                           {SettingName::parity, number_of(plan::Parity::even)}};
        meter.image = profile::encode(profile, {}, settings);
        meter.image.holding[699] = 0;
        meter.unit = 3;
        meter.format = works_format;
        FakeBus bus{.meters = {&meter}};
        MemoryJournal journal(bus.cut);
        FakeConnection connection(bus, works_format);
        auto job = job_for(profile, bus, "r1");
        job.unit = 3;
        job.planned_serial.clear();
        auto const result = program_meter(
            connection, job,
            {{SettingName::parity, number_of(plan::Parity::none)}, {SettingName::bit_rate, 38400.0}}, journal);
        CAPTURE(said(result));
        CHECK(result.whole);
        CHECK(result.format == plan::SerialFormat{.bit_rate = 38400, .parity = plan::Parity::none, .stop_bits = two ? 2 : 1});
        CHECK(meter.image.holding.at(699) == 0x600D);
        auto const runs = runs_of(journal.text, "j");
        FakeConnection second(bus, works_format);
        auto const undone = undo_run(second, job, *runs, *run_to_undo(*runs, "tenant-1"), journal);
        CAPTURE(said(undone));
        CHECK(undone.whole);
        CHECK(meter.format == works_format);
    }
}

TEST_CASE("a gateway that hears nothing after a write leaves the step in doubt; a meter that says no does not") {
    codec::Fault fault{.kind = codec::FaultKind::refused};
    for (auto const code : {0x01, 0x02, 0x03, 0x06, 0x0A}) {
        fault.exception = static_cast<std::uint8_t>(code);
        CHECK(surely_not_done(fault));
        CHECK(refuses_registers(fault) == (code <= 3));
    }
    for (auto const code : {0x04, 0x05, 0x0B}) {
        fault.exception = static_cast<std::uint8_t>(code);
        CHECK_FALSE(surely_not_done(fault));
        CHECK_FALSE(refuses_registers(fault));
    }
    CHECK_FALSE(surely_not_done({.kind = codec::FaultKind::no_answer}));
}

TEST_CASE("over TCP the format of a line that nobody can follow is not written") {
    auto const profile = project_profile("tarnfell-t3");
    auto meter = new_tarnfell(profile);
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    FakeConnection connection(bus, std::nullopt);
    auto const result = program_meter(connection, job_for(profile, bus, "r1"),
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
                       {SettingName::service, static_cast<double>(plan::Service::four_wire_wye)}}, journal);
    CHECK_FALSE(result.whole);
    CHECK(result.rows.front().state == RowState::cannot_write);
    CHECK(result.rows.front().why.find("1 A to 10000 A") != std::string::npos);
    CHECK(meter.value(SettingName::ct_primary) == 100.0);
    CHECK(meter.value(SettingName::service) == static_cast<double>(plan::Service::four_wire_wye));
    auto const runs = runs_of(journal.text, "j");
    FakeConnection again(bus, works_format);
    CHECK(undo_run(again, job_for(profile, bus, "r2"), *runs, *run_to_undo(*runs, "tenant-1"), journal).whole);
    CHECK(profile::raw_of(*service->field, meter.image) == 99);
}

}  // namespace phasewright::program
