#include "core/diagnosis/test_catalogue.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <set>
#include <sstream>

using namespace phasewright::diagnosis;

TEST_CASE("the catalogue holds every kind of the contract once, each with its cost and its answer") {
    // The kinds as docs/reference/readings.md lists them.
    std::set<std::string> const contract{
        "tap_to_bus",         "terminal_to_earth", "clamp_primary", "clamp_secondary",
        "ct_shorted",         "fuse_opened",       "load_switched", "generation_stopped",
        "rotation_at_source", "other_meter",       "nameplate",     "turns_in_window",
        "cables_in_window",   "bill_pf",           "lead_traced"};
    std::set<std::string> found;
    for (auto const& test : test_catalogue()) {
        CAPTURE(std::string(test.kind));
        CHECK(found.insert(std::string(test.kind)).second);
        CHECK(test.minutes > 0.0);
        CHECK_FALSE(test.answer_in_words.empty());
        CHECK(&catalogued(test.kind) == &test);
        if (test.live) CHECK_FALSE(test.cautions.empty());
        if (test.live) CHECK(test.who == "qualified electrician");
    }
    CHECK(found == contract);
}

TEST_CASE("work near live parts and an outage make a test dearer than its minutes") {
    auto const& clamp = catalogued("clamp_primary");
    auto const& bill = catalogued("bill_pf");
    CHECK(cost_of(clamp, 5.0) > cost_of(bill, 5.0));
    CHECK(cost_of(catalogued("lead_traced"), 5.0) > cost_of(bill, 5.0));
    CHECK(cost_of(bill, 6.0) > cost_of(bill, 5.0));
}

TEST_CASE("the page of tests carries the catalogue as the program has it") {
    std::ifstream page(PHASEWRIGHT_SOURCE_DIR "/docs/reference/tests.md");
    REQUIRE(page);
    std::ostringstream text;
    text << page.rdbuf();
    CHECK(text.str().find(catalogue_in_markdown()) != std::string::npos);
}

TEST_CASE("no test of the catalogue opens a current loop, and none is called safe") {
    for (auto const& test : test_catalogue()) {
        CAPTURE(std::string(test.kind));
        CHECK(std::string(test.purpose).find("opened at its CT") == std::string::npos);
        for (auto const caution : test.cautions)
            CHECK(std::string(caution).find("safe") == std::string::npos);
    }
    CHECK(catalogue_in_markdown().find("safe") == std::string::npos);
}
