#include <doctest/doctest.h>

#include "bus/decoder/register_dump.hpp"

namespace phasewright::decoder {

TEST_CASE("a dump is read register by register, in the order of its times") {
    auto const dumps = read_dumps(
        "# a meter\nfunction, address, value, time\n4,221,2290,60\r\n4,0xDC,0x08FE,0\n\n3,7,-1,0  # minus one\n", "d");
    REQUIRE(dumps.has_value());
    REQUIRE(dumps->size() == 2);
    CHECK(dumps->front().time_s == 0.0);
    CHECK(dumps->front().image.input == std::map<std::uint16_t, std::uint16_t>{{220, 0x08FE}});
    CHECK(dumps->front().image.holding == std::map<std::uint16_t, std::uint16_t>{{7, 0xFFFF}});
    CHECK(dumps->back().image.input.at(221) == 2290);
}

TEST_CASE("what is written down is what is read back") {
    auto const text = "function,address,value,time\n3,7,65535,1.5\n4,220,2302,1.5\n4,220,2303,61.5\n";
    CHECK(to_text(read_dumps(text, "d").value()) == text);
    CHECK(read_dumps("3,1,2\n", "d").value().front().time_s == std::nullopt);
}

TEST_CASE("a mistake in a dump is told by line, with what is allowed") {
    struct Mistake {
        char const* text;
        char const* where;
        char const* what;
    };
    for (auto const& [text, where, what] : {
             Mistake{"3,1,2\n5,1,2\n", "d:2", "this function reads no registers"},
             Mistake{"3,70000,2\n", "d:1", "this is no register address"},
             Mistake{"3,1,65536\n", "d:1", "a register does not hold this"},
             Mistake{"3,1,\n", "d:1", "a register does not hold this"},
             Mistake{"3,1,99999999999999999999\n", "d:1", "a register does not hold this"},
             Mistake{"3,1\n", "d:1", "a line has too few columns"},
             Mistake{"3,1,2,3,4\n", "d:1", "a line has too many columns"},
             Mistake{"3,1,2,soon\n", "d:1", "this is no time"},
             Mistake{"3,1,2,inf\n", "d:1", "this is no time"},
             Mistake{"3,1,2,5\n3,2,2\n", "d:2", "times are given in two ways"},
             Mistake{"3,1,2,5\n3,1,3,5\n", "d:2", "this register stands twice with two values"},
             Mistake{"# nothing\n", "d", "the dump holds no register"},
         }) {
        CAPTURE(text);
        auto const dumps = read_dumps(text, "d");
        REQUIRE_FALSE(dumps.has_value());
        CHECK(dumps.error().where == where);
        CHECK(dumps.error().what == what);
        CHECK_FALSE(dumps.error().allowed.empty());
    }
}

TEST_CASE("a dump in which nothing has moved within seconds is left out, one of a minute later is not") {
    Dump first{.image = {}, .time_s = 0.0};
    first.image.holding[10] = 2301;
    auto again = first;
    again.time_s = 0.4;
    auto later = first;
    later.time_s = 60.0;
    auto moved = first;
    moved.time_s = 60.5;
    moved.image.holding[10] = 2302;
    std::vector<Dump> const dumps{first, again, later, moved};
    CHECK(refreshed(dumps) == std::vector<Dump>{first, later, moved});
}

}  // namespace phasewright::decoder
