#include <doctest/doctest.h>

#include "bus/decoder/live_dump.hpp"
#include "bus/profile/image_in_tests.hpp"

namespace phasewright::decoder {

namespace {
profile::RegisterImage holding(std::initializer_list<std::pair<unsigned, unsigned>> runs) {
    profile::RegisterImage image;
    for (auto const& [from, to] : runs)
        for (unsigned address = from; address <= to; ++address)
            image.holding[static_cast<std::uint16_t>(address)] = static_cast<std::uint16_t>(address * 3);
    return image;
}
}  // namespace

TEST_CASE("a run without gaps is read in the fewest questions") {
    profile::ImageLine line(holding({{0, 299}}));
    auto const read = read_run(line, 1, {.from = 0, .count = 300});
    CHECK(read.image == holding({{0, 299}}));
    CHECK(line.reads == std::vector<std::string>{"3:0+125", "3:125+125", "3:250+50"});
    CHECK(read.refused == 0);
}

TEST_CASE("what is refused is stepped around, and nothing that is there is lost") {
    auto const image = holding({{0, 9}, {12, 12}, {40, 77}, {90, 124}});
    profile::ImageLine line(image);
    auto const read = read_run(line, 1, {.from = 0, .count = 125});
    CHECK_FALSE(read.stopped.has_value());
    CHECK(read.image == image);
    CHECK(read.image.holding.size() + read.refused == 125);
}

TEST_CASE("a run behind a wide gap is found from its first register to its last") {
    for (unsigned const from : {60U, 61U, 67U, 80U, 81U, 100U}) {
        CAPTURE(from);
        auto const image = holding({{from, from + 71}});
        profile::ImageLine line(image);
        CHECK(read_run(line, 1, {.from = 0, .count = 250}).image == image);
    }
}

TEST_CASE("an empty table ends after few questions, and silence ends at once with what was read") {
    profile::ImageLine nothing({});
    auto const empty = read_run(nothing, 1, {.from = 0, .count = 125});
    CHECK(empty.image == profile::RegisterImage{});
    CHECK(empty.refused == 125);
    CHECK(empty.questions < 80);
    profile::ImageLine silent(holding({{0, 499}}));
    silent.silent_from = 2;
    auto const cut = read_run(silent, 1, {.from = 0, .count = 500});
    REQUIRE(cut.stopped.has_value());
    CHECK(cut.stopped->kind == codec::FaultKind::no_answer);
    CHECK(cut.image.holding.size() == 250);
}

TEST_CASE("the last register of the table is the last that is asked for") {
    profile::ImageLine line(holding({{65530, 65535}}));
    auto const read = read_run(line, 1, {.from = 65530, .count = 100});
    CHECK(line.reads == std::vector<std::string>{"3:65530+6"});
    CHECK(read.image.holding.size() == 6);
}

}  // namespace phasewright::decoder
