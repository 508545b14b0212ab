#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>

#include "tests/cases/case_run.hpp"
#include "tests/cases/case_words.hpp"

using namespace phasewright;

namespace {
std::vector<std::filesystem::path> cases_in(std::string const& folder) {
    std::vector<std::filesystem::path> files;
    for (auto const& entry : std::filesystem::directory_iterator(
             std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "cases" / folder))
        if (entry.path().extension() == ".case") files.push_back(entry.path());
    std::ranges::sort(files);
    return files;
}

void all_hold_in(std::string const& folder) {
    auto const files = cases_in(folder);
    CHECK_FALSE(files.empty());
    for (auto const& path : files) {
        auto const file = cases::read_case(path);
        if (!file) {
            FAIL_CHECK(to_sentence(file.error()));
            continue;
        }
        auto const outcome = cases::run_case(*file);
        if (outcome.expectations == 0) FAIL_CHECK(file->name << " expects nothing");
        for (auto const& failure : outcome.failures) FAIL_CHECK(failure);
        if (outcome.failures.empty()) CHECK(outcome.expectations > 0);
    }
}

cases::Outcome outcome_of(std::string const& text) {
    auto const file = cases::parse_case("here.case", "source worked by hand\n" + text);
    REQUIRE(file.has_value());
    return cases::run_case(*file);
}
}  // namespace

TEST_CASE("every worked case comes out as its closed form says") { all_hold_in("worked"); }
TEST_CASE("every published case comes out within its tolerance") { all_hold_in("published"); }
TEST_CASE("readings from the field are answered or refused as they should be") { all_hold_in("field"); }

TEST_CASE("an open case says why it waits, and still fails") {
    for (auto const& path : cases_in("open")) {
        auto const file = cases::read_case(path);
        REQUIRE_MESSAGE(file.has_value(), path.string());
        bool const has_reason = std::ranges::any_of(file->statements, [](auto const& statement) {
            return statement.keyword == "reason" && !statement.rest.empty();
        });
        CHECK_MESSAGE(has_reason, file->name);
        CHECK_MESSAGE(!cases::run_case(*file).failures.empty(),
                      file->name << " holds now: move it out of cases/open");
    }
}

TEST_CASE("the runner notices a wrong number, a wrong angle and a wrong word") {
    std::string const wired = "plan 3P4W, V_LN 1 V\nwiring ct.l2 reversed\nload balanced 1 A at 0 deg\n";
    CHECK(outcome_of(wired + "expect registered/true 0.33333 within 0.00001").failures.empty());
    CHECK(outcome_of(wired + "expect registered/true 0.34 within 0.001").failures.size() == 1);
    CHECK(outcome_of(wired + "expect element 2 -1 W at 180 deg within 0.001 W 0.1 deg").failures.empty());
    CHECK(outcome_of(wired + "expect element 2 -1 W at 170 deg within 0.001 W 0.1 deg").failures.size() == 1);
    CHECK(outcome_of(wired + "expect element 2 dead").failures.size() == 1);
    CHECK(outcome_of(wired + "expect element 2 alive").failures.size() == 1);
    CHECK(outcome_of(wired + "expect wonders").failures.size() == 1);
    CHECK(outcome_of(wired + "wiring ct.l2 mended").failures.size() == 1);
    CHECK(outcome_of("plan 3P9W\nexpect element 1 dead").failures.size() == 1);
    CHECK_FALSE(cases::parse_case("here.case", "plan 3P4W"));
    CHECK_FALSE(cases::parse_case("here.case", "source s\nwires crossed"));
}

TEST_CASE("the words of a wiring act on what lands, in their order") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    auto const crossed = cases::read_wiring("ct.l1 ct.l2 exchanged and ct.l1 reversed", model);
    REQUIRE(crossed.has_value());
    CHECK(wiring::word_of(crossed->current[0]) == "-b");
    CHECK(wiring::word_of(crossed->current[1]) == "+a");
    auto const moved = cases::read_wiring("voltage get b c a and neutral on c and voltage.l3 lost", model);
    REQUIRE(moved.has_value());
    CHECK(moved->voltage == std::vector{wiring::Touch::b, wiring::Touch::c, wiring::Touch::lost});
    CHECK(moved->neutral == wiring::Touch::c);
    CHECK_FALSE(cases::read_wiring("ct.l4 reversed", model));
    CHECK_FALSE(cases::read_wiring("ct.l1 reversed twice", model));
}
