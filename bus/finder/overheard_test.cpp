#include <doctest/doctest.h>

#include <random>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/finder/overheard.hpp"

namespace phasewright::finder {

namespace {
// Frames without their checksum, "|" between them, each arriving 0.2 s after the one before.
port::Overheard heard_of(std::string_view frames) {
    port::Overheard overheard;
    double at_s = 0.0;
    while (!frames.empty()) {
        auto const bar = frames.find('|');
        auto body = codec::hex(frames.substr(0, bar));
        auto const frame = codec::to_bytes({.unit = codec::u8_at(body, 0), .pdu = codec::Bytes(body.begin() + 1, body.end())});
        codec::put_bytes(overheard.bytes, frame);
        overheard.arrivals.push_back({at_s += 0.2, frame.size()});
        if (bar == std::string_view::npos) break;
        frames.remove_prefix(bar + 1);
    }
    return overheard;
}
}  // namespace

TEST_CASE("a master's questions are told from the answers, and who stays silent is named") {
    // Questions and answers as in MODBUS Application Protocol V1.1b3, clauses 6.3 and 6.12.
    auto const overheard = heard_of("01 03 00 6B 00 03|01 03 06 02 2B 00 00 00 64|02 03 00 6B 00 03|07 83 02|"
                                    "05 10 00 01 00 02 04 00 0A 01 02|05 10 00 01 00 02");
    auto const heard = decoded(overheard, 10.0);
    REQUIRE(heard.frames.size() == 6);
    CHECK(heard.unintelligible == 0);
    CHECK(heard.frames[0].role == FrameRole::question);
    CHECK(heard.frames[1].role == FrameRole::answer);
    CHECK(heard.frames[3].role == FrameRole::refusal);
    CHECK(heard.frames[4].role == FrameRole::question);
    CHECK(heard.frames[5].role == FrameRole::answer);
    CHECK(heard.question_every_s == doctest::Approx(0.4));
    CHECK(words_of(heard, "19200 8E1") ==
          "in 10 s 6 whole frames were heard at 19200 8E1: questions to units 1, 2 and 5 (one every 0.40 s), answers "
          "from units 1, 5 and 7, no answer from unit 2");
}

TEST_CASE("a single write and its echo are the same bytes: the first is the question") {
    auto const heard = decoded(heard_of("11 06 00 01 00 03|11 06 00 01 00 03"), 10.0);
    REQUIRE(heard.frames.size() == 2);
    CHECK(heard.frames[0].role == FrameRole::question);
    CHECK(heard.frames[1].role == FrameRole::answer);
}

TEST_CASE("bytes that make no frame are counted and said to be that") {
    port::Overheard overheard;
    overheard.bytes = codec::hex("F8 80 00 FE 1C 00 C0 F0");
    auto const heard = decoded(overheard, 10.0);
    CHECK(heard.frames.empty());
    CHECK(heard.unintelligible == 8);
    CHECK(words_of(heard, "9600 8N1").find("8 bytes were heard at 9600 8N1 that make no frame") != std::string::npos);
}

TEST_CASE("a frame is found again after bytes that make none") {
    auto overheard = heard_of("01 04 00 08 00 01");
    overheard.bytes.insert(overheard.bytes.begin(), 3, std::byte{0x5A});
    auto const heard = decoded(overheard, 10.0);
    REQUIRE(heard.frames.size() == 1);
    CHECK(heard.frames[0].at == 3);
    CHECK(heard.unintelligible == 3);
}

TEST_CASE("random bytes hardly ever look like frames") {
    // Derived: at most 249 lengths for one function of 256, elsewhere at most two for 17 of them; each fits by chance
    // once in 65 536, so fewer than 3 frames in 100 000 bytes are expected.
    std::mt19937 dice(20);
    port::Overheard overheard;
    for (int i = 0; i < 100000; ++i) overheard.bytes.push_back(static_cast<std::byte>(dice() & 255U));
    auto const heard = decoded(overheard, 10.0);
    CHECK(heard.frames.size() < 12);
    std::size_t in_frames = 0;
    for (auto const& frame : heard.frames) in_frames += frame.length;
    CHECK(in_frames + heard.unintelligible == heard.bytes);
}

TEST_CASE("silence is said as silence") { CHECK(words_of(decoded({}, 10.0), "") == "in 10 s nothing was heard"); }

}  // namespace phasewright::finder
