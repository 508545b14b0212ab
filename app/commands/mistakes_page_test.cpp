// The page of mistakes against the program, and its laws against the figures that others printed.
#include "app/commands/mistakes_page.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <sstream>
#include <vector>

using namespace phasewright::commands;

namespace {
// The cells of the row that begins with `mistake`, in the section of `service`.
std::vector<std::string> row(std::string const& page, std::string const& service,
                             std::string const& mistake) {
    auto const section = page.find("\n## " + service + ":");
    REQUIRE(section != std::string::npos);
    auto const at = page.find("\n| " + mistake + " |", section);
    REQUIRE_MESSAGE(at != std::string::npos, (service + ": " + mistake));
    std::istringstream line(page.substr(at + 2, page.find('\n', at + 1) - at - 2));
    std::vector<std::string> cells;
    for (std::string cell; std::getline(line, cell, '|');) {
        auto const from = cell.find_first_not_of(' ');
        if (from != std::string::npos)
            cells.push_back(cell.substr(from, cell.find_last_not_of(' ') - from + 1));
    }
    return cells;
}
constexpr std::size_t share_at_one = 5, share_at_half = 7, law = 8, shown = 9;
}  // namespace

TEST_CASE("the committed page is what the program writes") {
    std::ifstream in(std::string(PHASEWRIGHT_SOURCE_DIR) + "/docs/reference/mistakes.md", std::ios::binary);
    std::ostringstream committed;
    committed << in.rdbuf();
    bool const same = committed.str() == mistakes_page();
    CHECK_MESSAGE(same, "write it again: phasewright mistakes > docs/reference/mistakes.md");
}

TEST_CASE("a number is named as a fraction or a root where it is one") {
    CHECK(as_surd(0.0) == "0");
    CHECK(as_surd(-2.0 / 3.0) == "−2/3");
    CHECK(as_surd(0.5 * 1.7320508075688772) == "√3/2");
    CHECK(as_surd(1.0 / 1.7320508075688772) == "1/√3");
    CHECK(as_surd(-0.5 / 1.7320508075688772) == "−1/(2√3)");
    CHECK_FALSE(as_surd(0.123456).has_value());
}

TEST_CASE("the page has the laws that others printed") {
    auto const page = mistakes_page();
    // Kerala High Court, O.P. 7047/2001, 18 February 2009: one CT reversed registers "only 1/3rd".
    CHECK(row(page, "3P4W", "L1 current is reversed").at(law) == "1/3");
    // Textbook two-element laws: tan(phi)/sqrt3 with one CT reversed, and its mirror for the other; 1.000 at
    // PF 0.5.
    auto const first = row(page, "3P3W-2E", "L1 current is reversed");
    auto const last = row(page, "3P3W-2E", "L3 current is reversed");
    CHECK(first.at(law) == "1/√3 · tan φ");
    CHECK(last.at(law) == "−1/√3 · tan φ");
    CHECK(first.at(share_at_one) == "0.000");
    CHECK(first.at(share_at_half) == "1.000");
    CHECK(last.at(share_at_half) == "−1.000");
    CHECK(first.at(shown) == "yes: the elements disagree");
}

TEST_CASE("what another load would show as well is never said to be shown") {
    auto const page = mistakes_page();
    CHECK(row(page, "3P4W", "all currents are reversed").at(shown) == "looks like export");
    CHECK(row(page, "1P2W", "L1 current is reversed").at(shown) == "looks like export");
    CHECK(row(page, "3P4W", "*none*").at(shown) == "no: it reads as a right wiring");
}
