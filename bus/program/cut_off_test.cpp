// What was cut off, or left in doubt, is found again, finished or put back.
#include <doctest/doctest.h>

#include <algorithm>

#include "bus/program/tarnfell_in_tests.hpp"

namespace phasewright::program {

TEST_CASE(
    "cut off at any question and any line of the journal, a run is found and can be finished or undone") {
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
                if (runs->empty())
                    check_as_found(meter);
                else
                    check_programmed(meter);
                continue;
            }
            ++open_ones;
            FakeConnection connection(bus, works_format);
            auto const job = job_for(profile, bus, "r2");
            auto const result = undo ? undo_run(connection, job, *runs, *open, journal)
                                     : finish_run(connection, job, *runs, *open, journal);
            CAPTURE(said(result));
            CHECK(result.whole);
            if (undo)
                check_as_found(meter);
            else
                check_programmed(meter);
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
            done =
                undo_run(second, job_for(profile, bus, "r2"), *runs, *run_to_undo(*runs, "tenant-1"), journal)
                    .whole;
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
    settings.others = {{SettingName::address, 1.0},
                       {SettingName::bit_rate, 9600.0},
                       {SettingName::parity, number_of(plan::Parity::none)},
                       {SettingName::demand_interval, 15.0}};
    meter.image = profile::encode(profile, {}, settings);
    meter.objects = {{0, "Hollowick"}, {1, "H1"}, {2, "1.0"}};
    plan::SerialFormat const works{.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 1};
    meter.format = works;
    FakeBus bus{.meters = {&meter}};
    MemoryJournal journal(bus.cut);
    Wanted const wanted{{SettingName::ct_primary, 200.0},
                        {SettingName::address, 7.0},
                        {SettingName::bit_rate, 19200.0},
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
        settings.others = {{SettingName::address, 3.0},
                           {SettingName::bit_rate, 19200.0},
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
            {{SettingName::parity, number_of(plan::Parity::none)}, {SettingName::bit_rate, 38400.0}},
            journal);
        CAPTURE(said(result));
        CHECK(result.whole);
        CHECK(result.format ==
              plan::SerialFormat{.bit_rate = 38400, .parity = plan::Parity::none, .stop_bits = two ? 2 : 1});
        CHECK(meter.image.holding.at(699) == 0x600D);
        auto const runs = runs_of(journal.text, "j");
        FakeConnection second(bus, works_format);
        auto const undone = undo_run(second, job, *runs, *run_to_undo(*runs, "tenant-1"), journal);
        CAPTURE(said(undone));
        CHECK(undone.whole);
        CHECK(meter.format == works_format);
    }
}

TEST_CASE(
    "a gateway that hears nothing after a write leaves the step in doubt; a meter that says no does not") {
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

}  // namespace phasewright::program
