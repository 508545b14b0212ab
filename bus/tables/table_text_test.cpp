// What is written is read back, by the reader beside it.
#include "bus/tables/table_text.hpp"

#include <doctest/doctest.h>

#include "bus/tables/table.hpp"

using namespace phasewright::tables;

TEST_CASE("every kind of field is read back as it was written") {
    TableText inner;
    inner.numbers("ratio", {200.0, 0.333});
    inner.text("output", "mV");
    TableText outer;
    std::string const awkward = "a \"b\" \\ \t\n\r\x01\x7F \xE2\x84\xA6 \xF0\x9F\x94\x8C";
    outer.text("name", awkward);
    outer.number("big", 123456789012345680000.0);
    outer.number("small", 5e-324);
    outer.number("absent", std::nullopt);
    outer.whole("unit", 7);
    outer.flag("yes", true);
    outer.wholes("ends", {0, 12});
    outer.texts("words", {"x", ""});
    outer.table("ct", inner);
    outer.tables("list", {inner, inner});
    auto const text = outer.section("[[point]]", "point");
    auto const root = Table::parse(text, "a.toml");
    REQUIRE(root.has_value());
    auto const point = root->tables("point").at(0);
    CHECK(point.text("name") == awkward);
    CHECK(point.number("big") == 123456789012345680000.0);
    CHECK(point.number("small") == 5e-324);
    CHECK_FALSE(point.has("absent"));
    CHECK(point.whole("unit") == 7);
    CHECK(point.flag("yes") == true);
    CHECK(point.wholes("ends") == std::vector<long long>{0, 12});
    CHECK(point.texts("words") == std::vector<std::string>{"x", ""});
    CHECK(point.table("ct")->numbers("ratio", 2) == std::vector<double>{200.0, 0.333});
    CHECK(point.tables("list").size() == 2);
    CHECK_FALSE(root->fault().has_value());
}

TEST_CASE("a table that is too long for its line gets a section of its own, behind the plain fields") {
    TableText inner;
    for (auto const* field : {"one", "two", "three", "four"}) inner.text(field, std::string(30, 'x'));
    TableText outer;
    outer.table("lead", inner);
    outer.tables("ways", {inner, inner});
    outer.text("id", "p");
    auto const text = outer.section("[[point]]", "point");
    CHECK(text.find("[point.lead]\none = ") != std::string::npos);
    CHECK(text.find("ways = [\n    { one") != std::string::npos);
    auto const root = Table::parse(text, "a.toml");
    REQUIRE(root.has_value());
    CHECK(root->tables("point").at(0).table("lead")->needed_text("four") == std::string(30, 'x'));
    CHECK(root->tables("point").at(0).needed_text("id") == "p");
    CHECK_FALSE(root->fault().has_value());
}

TEST_CASE("a place names the file, the line and the field") {
    auto const root = Table::parse("[[point]]\nid = \"a\"\n", "a.toml");
    CHECK(root->tables("point").at(0).place_of("id") == "a.toml:2 point.id");
    CHECK(root->tables("point").at(0).place_of("ct") == "a.toml:1 point.ct");
}
