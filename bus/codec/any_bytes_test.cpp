// Whatever comes over a line is data. Bytes of a seeded generator, and good frames with a few bytes changed,
// must give a value or a named fault: with sanitizers this also proves that nothing is read past its end.
#include <doctest/doctest.h>

#include <random>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/codec/tcp_frame.hpp"

namespace phasewright::codec {

namespace {

class Noise {
public:
    unsigned below(unsigned limit) { return static_cast<unsigned>(engine_() % limit); }
    Bytes bytes(std::size_t count) {
        Bytes made(count);
        for (auto& byte : made) byte = static_cast<std::byte>(below(256));
        return made;
    }
    Bytes spoiled(Bytes good) {
        for (unsigned change = 0; change < 1 + below(3); ++change) {
            if (!good.empty())
                good[below(static_cast<unsigned>(good.size()))] = static_cast<std::byte>(below(256));
        }
        good.resize(below(static_cast<unsigned>(good.size()) + 3));
        return good;
    }

private:
    std::mt19937 engine_{20061028};  // the same bytes on every machine
};

std::vector<Question> const questions{
    ReadRegisters{.address = 107, .count = 3}, WriteRegister{.address = 1, .value = 3},
    WriteRegisters{.address = 1, .values = {10, 258}}, ReadIdentification{}};

}  // namespace

TEST_CASE("an answer of any bytes is a value that fits its question, or a fault") {
    Noise noise;
    std::vector<Bytes> const good{hex("03 06 02 2B 00 00 00 64"), hex("06 00 01 00 03"),
                                  hex("10 00 01 00 02"), hex("2B 0E 01 01 00 00 02 00 01 41 01 02 42 43")};
    for (int round = 0; round < 20000; ++round) {
        auto const which = noise.below(4);
        auto const bytes = noise.below(4) == 0 ? noise.bytes(noise.below(40)) : noise.spoiled(good[which]);
        auto const answer = read_answer(bytes, questions[which]);
        if (!answer) {
            CHECK((answer.error().kind == FaultKind::malformed || answer.error().kind == FaultKind::refused));
        } else if (auto const* const values = std::get_if<Registers>(&*answer)) {
            CHECK(values->size() == 3);
        }
    }
}

TEST_CASE("a question of any bytes is understood, or refused with a code of the standard") {
    Noise noise;
    for (int round = 0; round < 20000; ++round) {
        auto const bytes = noise.below(2) == 0
                               ? noise.bytes(noise.below(20))
                               : noise.spoiled(question_pdu(questions[noise.below(4)]).value());
        auto const parsed = parse_question(bytes);
        if (parsed) {
            CHECK(question_pdu(*parsed).value() == bytes);  // what is understood is understood whole
        } else {
            CHECK(exception_of(static_cast<std::uint8_t>(parsed.error())).has_value());
        }
    }
}

TEST_CASE("a stream of any bytes never makes the assembler hold more than one frame") {
    Noise noise;
    for (int round = 0; round < 2000; ++round) {
        TcpAssembler assembler;
        auto stream = hex("00 01 00 00 00 06 01 03 00 6B 00 03");
        put_bytes(stream, noise.spoiled(stream));
        put_bytes(stream, noise.bytes(noise.below(600)));
        for (std::size_t at = 0; at < stream.size();) {
            auto const piece = std::min<std::size_t>(1 + noise.below(64), stream.size() - at);
            auto const result = assembler.feed(BytesView(stream).subspan(at, piece));
            for (auto const& frame : result.frames) CHECK(frame.pdu.size() <= max_pdu_bytes);
            CHECK(assembler.held() < max_tcp_frame_bytes);
            at += piece;
        }
    }
}

TEST_CASE("frames of any bytes are read or garbled") {
    Noise noise;
    for (int round = 0; round < 20000; ++round) {
        auto const bytes = noise.bytes(noise.below(300));
        if (auto const frame = read_tcp_frame(bytes)) CHECK(to_bytes(*frame) == bytes);
        if (auto const frame = read_rtu_frame(bytes)) CHECK(to_bytes(*frame) == bytes);
    }
}

}  // namespace phasewright::codec
