// The journal's lines, the torn ones among them, and its file.
#include "bus/program/journal.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include <unistd.h>

#include "bus/program/old_totals.hpp"
#include "core/plan/service.hpp"

namespace phasewright::program {

namespace {

using profile::SettingName;

Begin whole_begin() {
    Begin begin{.point = "shop",
                .place = "line-1",
                .profile = "p",
                .meter = "maker \"M\" 1, serial 7",
                .serial = "7",
                .unit = 9,
                .format = plan::SerialFormat{.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 2}};
    begin.found = {{SettingName::ct_primary, 100.0}, {SettingName::parity, 2.0}, {SettingName::clock, -3.25}};
    begin.steps.push_back({.setting = SettingName::ct_primary,
                           .from = 100.0,
                           .to = 150.0,
                           .from_registers = {{40, {100}}},
                           .to_registers = {{40, {150}}}});
    begin.steps.push_back({.setting = SettingName::service,
                           .from = {},
                           .to = static_cast<double>(plan::Service::four_wire_wye),
                           .from_registers = {{41, {99}}},
                           .to_registers = {{41, {4}}}});
    return begin;
}

std::string journal_text() {
    return begin_line("r1", "2026-05-20T08:00:00Z", whole_begin()) + "\n" +
           writing_line("r1", "2026-05-20T08:00:01Z", 0, SettingName::ct_primary,
                        Energies{{"import", 1234500.0}}) +
           "\n" +
           written_line("r1", "2026-05-20T08:00:02Z", 0, SettingName::ct_primary, 150.0,
                        Energies{{"import", 1234500.0}}, OldTotals::kept) +
           "\n" + writing_line("r1", "2026-05-20T08:00:03Z", 1, SettingName::service, {}) + "\n";
}

std::string folder_of_this_test() {
    std::string name = (std::filesystem::temp_directory_path() / "phasewright-test-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    return name;
}

}  // namespace

TEST_CASE("what is written to the journal is read back from it") {
    auto const runs = runs_of(journal_text(), "j");
    REQUIRE(runs.has_value());
    REQUIRE(runs->size() == 1);
    auto const& run = runs->front();
    CHECK(run.begin.meter == "maker \"M\" 1, serial 7");
    CHECK(run.begin.format ==
          plan::SerialFormat{.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 2});
    CHECK(run.begin.found.at(SettingName::parity) == 2.0);
    CHECK(run.begin.found.at(SettingName::clock) == -3.25);
    CHECK(run.states == std::vector{StepState::done, StepState::in_doubt});
    CHECK_FALSE(run.ended);
    CHECK(open_run(*runs, "shop") == &run);
    CHECK(open_run(*runs, "other") == nullptr);
    auto const finish = steps_to_finish(run);
    REQUIRE(finish.size() == 1);
    CHECK(finish[0].again);
    CHECK_FALSE(finish[0].from.has_value());
    auto const undo = steps_to_undo(*runs, run);
    REQUIRE(undo.size() == 2);
    CHECK(undo[0].to == 100.0);
    CHECK(undo[1].to_registers.front().values == codec::Registers{99});
    auto const ended =
        runs_of(journal_text() + not_written_line("r1", "t", 1, SettingName::service, "refused", false) +
                    "\n" + end_line("r1", "t", false) + "\n",
                "j");
    CHECK(ended->front().states[1] == StepState::given_up);
    CHECK(open_run(*ended, "shop") == nullptr);
    CHECK(steps_to_undo(*ended, ended->front()).size() == 1);
}

TEST_CASE("a journal cut off at any byte is read as far as its whole lines go") {
    auto const text = journal_text();
    for (std::size_t length = 0; length < text.size(); ++length) {
        auto const runs = runs_of(std::string_view(text).substr(0, length), "j");
        REQUIRE(runs.has_value());
        // The start after it ends the torn line and goes on below it.
        auto const again = runs_of(text.substr(0, length) + "\n", "j");
        REQUIRE(again.has_value());
    }
}

TEST_CASE("no bytes crash the reading of a journal") {
    auto const text = journal_text();
    std::uint32_t dice = 12345;
    for (int time = 0; time < 3000; ++time) {
        auto broken = text;
        for (int change = 0; change < 3; ++change) {
            dice = dice * 1664525U + 1013904223U;
            broken[(dice >> 8U) % broken.size()] = static_cast<char>(dice >> 24U);
        }
        auto const runs = runs_of(broken, "j");
        if (!runs) CHECK_FALSE(runs.error().what.empty());
    }
}

TEST_CASE("the journal's file is for one program at a time, and a torn last line is ended") {
    auto const folder = folder_of_this_test();
    auto const file = std::filesystem::path(folder) / "j.jsonl";
    std::ofstream(file) << R"({"journal":1,"entry":"beg)";
    {
        auto const first = journal_file(file);
        REQUIRE(first.has_value());
        auto const second = journal_file(file);
        REQUIRE_FALSE(second.has_value());
        CHECK(second.error().what == "another program has the settings journal");
        CHECK((*first)->append(begin_line("r1", "t", whole_begin())).has_value());
    }
    std::ostringstream text;
    text << std::ifstream(file).rdbuf();
    auto const runs = runs_of(text.str(), "j");
    REQUIRE(runs.has_value());
    CHECK(runs->size() == 1);
    std::filesystem::remove_all(folder);
    CHECK_FALSE(journal_file(std::filesystem::path(folder) / "none" / "j.jsonl").has_value());
}

TEST_CASE("old totals are judged by the counters that have counted enough") {
    auto const count = [](std::string name, double value) {
        return profile::EnergyCount{.habit = {.name = std::move(name), .step = 100.0}, .value = value};
    };
    std::vector const before{count("a", 1e6), count("b", 500.0)};
    CHECK(judged_totals(before, {count("a", 1.001e6), count("b", 500.0)}, 1.5) == OldTotals::kept);
    CHECK(judged_totals(before, {count("a", 1.5e6), count("b", 700.0)}, 1.5) == OldTotals::rescaled);
    CHECK(judged_totals(before, {count("a", 1.2e6), count("b", 500.0)}, 1.5) == OldTotals::cannot_tell);
    CHECK(judged_totals({count("b", 500.0)}, {count("b", 500.0)}, 1.5) == OldTotals::cannot_tell);
    CHECK(judged_totals(before, {count("a", 1e6)}, 1.0) == OldTotals::cannot_tell);
    CHECK(judged_totals(before, {count("a", 1e6)}, 0.0) == OldTotals::cannot_tell);
    CHECK(judged_totals({count("a", 1e6), count("c", 1e6)}, {count("a", 1e6), count("c", 2e6)}, 2.0) ==
          OldTotals::mixed);
}

}  // namespace phasewright::program
