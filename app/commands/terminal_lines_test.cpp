#include "app/commands/terminal_lines.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace phasewright;
using namespace phasewright::commands;

namespace {

report::PointSheet reversed() {
    report::PointSheet sheet;
    sheet.point.id = "tenant-3";
    sheet.point.name = "Tenant 3";
    readings::ReadingSet set;
    set.terminals.current = {{"1", "3"}, {"4", "6"}, {"7", "9"}};
    sheet.readings = set;
    diagnosis::WiringMember member;
    member.repair = {{.move = "close the short on the L2 CT, on the CT side"},
                     {.move = "exchange S1 and S2 at terminals 4 and 6"}};
    diagnosis::Verdict verdict;
    verdict.state = diagnosis::State::mistake;
    verdict.classes = {{.probability = 0.992, .in_words = "L2 current is reversed", .wirings = {member}}};
    sheet.verdict = verdict;
    return sheet;
}

std::vector<std::string> lines_of(std::string const& text) {
    std::vector<std::string> lines;
    std::size_t from = 0;
    for (auto at = text.find('\n'); at != std::string::npos; at = text.find('\n', from)) {
        lines.push_back(text.substr(from, at - from));
        from = at + 1;
    }
    return lines;
}

}  // namespace

TEST_CASE("a point is one aligned line with the move that touches a terminal below it") {
    auto const text = point_lines(reversed(), 12, {});
    CHECK(text ==
          "Tenant 3      wrong     L2 current is reversed.                           99.2 %\n"
          "                        Repair, move 2 of 2: exchange S1 and S2 at terminals 4\n"
          "                        and 6.\n");
}

TEST_CASE("no line is wider than the terminal, whatever the names and the sentences") {
    auto sheet = reversed();
    sheet.point.name = std::string(300, 'n');
    sheet.verdict->classes[0].in_words =
        std::string(200, 'w') + " and many more words that go on and on for long";
    sheet.verdict->findings = {{diagnosis::Severity::stop, "a very long finding " + std::string(150, 'f')}};
    for (std::size_t const width : {60U, 80U, 120U})
        for (auto const& line :
             lines_of(point_lines(sheet, name_columns({sheet.point}, {width, false}), {width, false})))
            CHECK(columns_of(line) <= width);
}

TEST_CASE("a stop is said under its point, and no repair is offered beside it") {
    auto sheet = reversed();
    sheet.verdict->findings = {{diagnosis::Severity::stop, "the loop of CT 2 may be open"}};
    auto const text = point_lines(sheet, 12, {});
    CHECK(text.find("stop: the loop of CT 2 may be open.") != std::string::npos);
    CHECK(text.find("Repair") == std::string::npos);
}

TEST_CASE("a meter that did not answer is said once") {
    report::PointSheet sheet;
    sheet.point.id = "chiller";
    sheet.bus_findings = {{diagnosis::Severity::mend, "nothing answered"}};
    CHECK(point_lines(sheet, 10, {}) == "chiller     not yet   No reading: nothing answered.\n");
}

TEST_CASE("a name cannot steer the terminal") {
    auto sheet = reversed();
    sheet.point.name =
        "A\x1b[2J\x07\xc2\x9b"
        "B\u202e\xff";
    sheet.verdict->classes[0].in_words = "L1\x1b]0;x\x07 is reversed";
    auto const text = point_lines(sheet, 12, {80, false});
    CHECK(text.starts_with("A[2JB  "));
    CHECK(std::ranges::none_of(text, [](char c) { return c == '\x1b' || c == '\x07'; }));
}

TEST_CASE("columns are counted as a terminal shows them") {
    CHECK(columns_of("Größe") == 5);
    CHECK(columns_of("漢字") == 4);
    CHECK(columns_of("e\u0301") == 1);
}

TEST_CASE("a number stays with its unit") {
    auto sheet = reversed();
    sheet.verdict->state = diagnosis::State::unproven;
    sheet.verdict->as_read = {{.i = 1.6}};
    for (std::size_t width = 60; width < 90; ++width)
        for (auto const& line : lines_of(point_lines(sheet, 8, {width, false})))
            CHECK(line.substr(line.find_first_not_of(' '), 1) != "%");
}

TEST_CASE("progress shows how far, what is left and never more than a line") {
    CHECK(progress_text({"reading", 7, 14, "Tenant 4", 3.5}, 80) ==
          "reading   ##########..........  7 of 14  4 s left  Tenant 4");
    CHECK(progress_text({"reading", 0, 14, "Tenant 1", 0.0}, 80) ==
          "reading   ....................  0 of 14  Tenant 1");
    CHECK(columns_of(progress_text({"reading", 7, 14, std::string(200, 'x'), 3.5}, 60)) == 60);
}
