// The sentences that a person reads when a file is wrong.
#include "bus/tables/table.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using tables::Table;

namespace {
std::string first_sentence(Table const& table) {
    auto const fault = table.fault();
    return fault ? quantity::to_sentence(*fault) : std::string{};
}
}  // namespace

TEST_CASE("what is well written is read, and leaves no fault") {
    auto const root =
        Table::parse("name = \"yard\"\nhz = 50\nratio = [200, 5]\n[inner]\nx = 1.5\n", "a.toml");
    REQUIRE(root.has_value());
    CHECK(root->needed_text("name") == "yard");
    CHECK(root->needed_number("hz", {40, 70}) == 50.0);
    CHECK(root->numbers("ratio", 2) == std::vector<double>{200.0, 5.0});
    CHECK(root->table("inner")->number("x") == 1.5);
    CHECK(root->text("absent") == std::nullopt);
    root->only({"name", "hz", "ratio", "inner"});
    CHECK_FALSE(root->fault().has_value());
}

TEST_CASE("a text that is not TOML is refused with its line") {
    auto const root = Table::parse("a = 1\nb = = 2\n", "a.toml");
    REQUIRE_FALSE(root.has_value());
    CHECK(root.error().where == "a.toml:2");
}

TEST_CASE("a field that is not known names the nearest one that is") {
    auto const root = Table::parse("name = \"x\"\n[inner]\nratoi = [1, 2]\n", "a.toml");
    REQUIRE(root.has_value());
    root->table("inner")->only({"ratio", "output"});
    CHECK(first_sentence(*root) ==
          "a.toml:3 inner.ratoi: the field is not known; found \"ratoi\"; "
          "allowed: ratio, output; try: did you mean \"ratio\"?");
}

TEST_CASE(
    "a number out of its range, a wrong type and a wrong length say what was found and what is allowed") {
    auto const refused = [](std::string_view text, auto&& ask) {
        auto const root = Table::parse(text, "a.toml");
        REQUIRE(root.has_value());
        ask(*root);
        return first_sentence(*root);
    };
    CHECK(refused("hz = 500", [](Table const& t) { (void)t.number("hz", {40, 70}); }) ==
          "a.toml:1 hz: the number is out of range; found 500; allowed: 40 to 70");
    CHECK(refused("hz = nan", [](Table const& t) { (void)t.number("hz"); }).find("out of range") !=
          std::string::npos);
    CHECK(refused("hz = \"x\"", [](Table const& t) { (void)t.number("hz", {0, 1, true}); }) ==
          "a.toml:1 hz: the field is not a number; found \"x\"; allowed: above 0 up to 1");
    CHECK(refused("r = [1, 2, 3]", [](Table const& t) { (void)t.numbers("r", 2, {0}); }) ==
          "a.toml:1 r: the list has the wrong length; found a list of 3; "
          "allowed: a list of 2 numbers, each 0 or more");
    CHECK(refused("r = [1, \"x\"]", [](Table const& t) { (void)t.numbers("r", 2); }).find("found \"x\"") !=
          std::string::npos);
    CHECK(refused("u = 1.5", [](Table const& t) { (void)t.whole("u", {0, 255}); }) ==
          "a.toml:1 u: the field is not a whole number; found 1.5; allowed: a whole number, 0 to 255");
    CHECK(refused("t = 1", [](Table const& t) { (void)t.table("t"); }) ==
          "a.toml:1 t: the field is not a table; found 1; allowed: a table");
    CHECK(refused("t = [1]", [](Table const& t) { (void)t.tables("t"); }).find("list of tables") !=
          std::string::npos);
}

TEST_CASE("a field that is missing is named, and only the first mistake of a document is kept") {
    auto const root = Table::parse("[inner]\n", "a.toml");
    REQUIRE(root.has_value());
    CHECK(root->needed_word("kind", {"wye", "delta"}) == "wye");
    CHECK(root->needed_text("other").empty());
    CHECK(first_sentence(*root) == "a.toml:1 kind: the field is missing; allowed: wye, delta");
}
