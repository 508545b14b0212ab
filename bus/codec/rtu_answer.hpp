// Picks the answer to one question out of everything that came back on a serial line: noise from the turn-round of the
// line before it, the question itself where an adapter hears its own sending, a late answer to an earlier question,
// then, perhaps, the answer. Nothing marks where a frame begins but the silence before it, which adapters swallow; so
// the answer is known by its head (unit, function), the length that its head announces, and its checksum.
// Source: MODBUS over Serial Line V1.02, clause 2.5.1; lengths: MODBUS Application Protocol V1.1b3, clause 6.
#pragma once
#include <cstddef>
#include <optional>

#include "bus/codec/bytes.hpp"
#include "bus/codec/fault.hpp"
#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"

namespace phasewright::codec {

// How many bytes the answer frame will have, checksum included, as far as its first bytes tell; empty while they do
// not, and for functions whose questions this program does not ask. Never more than max_rtu_frame_bytes.
[[nodiscard]] std::optional<std::size_t> announced_bytes(BytesView head);

struct RtuSearch {
    enum class State {
        whole,     // `answer` is the answer
        waiting,   // nothing yet, or only part of what may become it
        hopeless,  // as many bytes as any frame may have have come, and no answer is among them
    };
    State state = State::waiting;
    std::optional<RtuFrame> answer;
    // So many of the first bytes are the question itself, come back. The answer to a single write is its question's
    // bytes: of those only a second copy, or one that is to be taken off, is an echo.
    std::size_t echoed = 0;
    // So many bytes belong to no whole frame and to no echo, not even to one that is still coming in.
    std::size_t unexplained = 0;
    // What came instead, for words: another unit's frame (wrong_unit), one that does not fit (malformed), bytes
    // without a checksum that holds (garbled). Empty when nothing came, or nothing but the echo.
    std::optional<Fault> instead;
};

// `asked` is the frame that was sent, `question` the same, parsed; `take_off_echo` where the adapter is known to hear
// itself. Without it an echo of a write looks like the answer: the two are the same bytes.
[[nodiscard]] RtuSearch find_answer(BytesView heard, RtuFrame const& asked, Question const& question,
                                    bool take_off_echo);

}  // namespace phasewright::codec
