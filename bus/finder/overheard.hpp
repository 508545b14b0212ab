// What was heard on a line while nothing was sent: whole frames are picked out of the bytes by their checksum and their
// shape, questions told from answers, and counted by unit. A master that polls shows as questions at a steady pace.
// Bytes that make no frame may be another speed, another parity or another protocol; that they came is enough to stay
// silent.
// Shapes: MODBUS Application Protocol V1.1b3, clause 6. A checksum alone is fulfilled by chance once in 65 536 tries,
// so only lengths that the function allows are tried.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "bus/port/rtu_line.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::finder {

enum class FrameRole { question, answer, refusal, either };  // either: a write and its echo look the same
struct HeardFrame {
    std::size_t at = 0;      // place of its first byte
    std::size_t length = 0;  // CRC included
    std::uint8_t unit = 0;
    std::uint8_t function = 0;
    FrameRole role = FrameRole::either;
};

struct HeardUnit {
    std::uint8_t unit = 0;
    int questions = 0, answers = 0, refusals = 0;
};

struct Heard {
    std::vector<HeardFrame> frames;
    std::vector<HeardUnit> units;      // in the order of their numbers
    std::size_t bytes = 0;             // all that came
    std::size_t unintelligible = 0;    // those that belong to no frame
    double seconds = 0.0;              // how long it was listened
    double question_every_s = 0.0;     // mean time between questions; 0 when fewer than two came
};

[[nodiscard]] Heard decoded(port::Overheard const& overheard, double seconds);

// "in 10 s 48 frames: questions to units 1, 2 and 7 (one every 0.41 s), answers from 1 and 2; 7 stayed silent"
[[nodiscard]] std::string words_of(Heard const& heard, std::string const& format);

}  // namespace phasewright::finder
