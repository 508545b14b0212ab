// Lists of any length, and yes or no.
#include <doctest/doctest.h>

#include "bus/tables/table.hpp"

using namespace phasewright;
using tables::Table;

TEST_CASE("lists of whole numbers and of texts are read at any length") {
    auto const root = Table::parse("r = [0, 0xFFFF, -1]\nt = [\"4\", \"6\"]\nyes = true\n", "a.toml");
    REQUIRE(root.has_value());
    CHECK(root->wholes("r") == std::vector<long long>{0, 65535, -1});
    CHECK(root->texts("t") == std::vector<std::string>{"4", "6"});
    CHECK(root->flag("yes") == true);
    CHECK(root->wholes("absent").empty());
    CHECK(root->texts("absent").empty());
    CHECK_FALSE(root->flag("absent").has_value());
    CHECK_FALSE(root->fault().has_value());
}

TEST_CASE("a list with a wrong entry, an empty list and a word for yes are refused") {
    auto const refused = [](std::string_view text, auto&& ask) {
        auto const root = Table::parse(text, "a.toml");
        REQUIRE(root.has_value());
        ask(*root);
        return quantity::to_sentence(root->fault().value());
    };
    CHECK(refused("r = [1, 2.5]", [](Table const& t) { (void)t.wholes("r", {0, 9}); }) ==
          "a.toml:1 r: an entry of the list is not a whole number; found 2.5; "
          "allowed: a list of whole numbers, each 0 to 9");
    CHECK(refused("r = [1, 70000]", [](Table const& t) { (void)t.wholes("r", {0, 65535}); }) ==
          "a.toml:1 r: a number of the list is out of range; found 70000; "
          "allowed: a list of whole numbers, each 0 to 65535");
    CHECK(refused("r = []", [](Table const& t) { (void)t.wholes("r"); }) ==
          "a.toml:1 r: the list is empty; found a list of 0; allowed: a list of whole numbers, each any "
          "number");
    CHECK(refused("r = 7", [](Table const& t) { (void)t.wholes("r", {0, 9}); }) ==
          "a.toml:1 r: the field is not a list; found 7; allowed: a list of whole numbers, each 0 to 9");
    CHECK(refused("t = [\"a\", 1]", [](Table const& t) { (void)t.texts("t"); }) ==
          "a.toml:1 t: the field is not a list of texts; found a list of 2; allowed: a list of texts in "
          "quotes");
    CHECK(refused("f = \"yes\"", [](Table const& t) { (void)t.flag("f"); }) ==
          "a.toml:1 f: the field is neither true nor false; found \"yes\"; allowed: true, false");
}
