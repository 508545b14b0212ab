#include "bus/linefault/evidence.hpp"

#include <algorithm>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"

namespace phasewright::linefault {

namespace {
using codec::BytesView;
using codec::u8_at;

constexpr std::uint8_t refused = 0x80;

bool checks(BytesView bytes) { return bytes.size() >= 4 && codec::read_rtu_frame(bytes).has_value(); }

// Bytes of the whole answer to this question, when it is not refused; 0: the question does not tell.
std::size_t expected_bytes(BytesView sent) {
    if (sent.size() < 4) return 0;
    auto const question = codec::parse_question(sent.subspan(1, sent.size() - 3));
    if (!question) return 0;
    if (auto const* read = std::get_if<codec::ReadRegisters>(&*question)) return 5U + 2U * read->count;
    if (std::holds_alternative<codec::ReadIdentification>(*question)) return 0;
    return 8;
}

bool is_head(BytesView bytes, std::size_t at, BytesView sent) {
    if (at + 2 > bytes.size() || sent.size() < 2) return false;
    return bytes[at] == sent[0] && (u8_at(bytes, at + 1) & 0x7FU) == u8_at(sent, 1);
}

// Where a whole frame of the asked unit and function ends that begins at the first byte; 0: none does.
std::size_t end_of_answer(BytesView rest, BytesView sent) {
    if (!is_head(rest, 0, sent)) return 0;
    if ((u8_at(rest, 1) & refused) != 0) return rest.size() >= 5 && checks(rest.first(5)) ? 5 : 0;
    for (std::size_t length = 4; length <= std::min(rest.size(), codec::max_rtu_frame_bytes); ++length)
        if (checks(rest.first(length))) return length;
    return 0;
}

bool whole_foreign_frame(BytesView rest, BytesView sent) {
    if (!checks(rest) || u8_at(rest, 0) > 247) return false;
    return !is_head(rest, 0, sent);
}

bool is_inverted(BytesView rest) {
    if (std::all_of(rest.begin(), rest.end(), [](std::byte byte) { return byte == std::byte{0}; })) return true;
    codec::Bytes turned(rest.begin(), rest.end());
    for (auto& byte : turned) byte = ~byte;
    return checks(turned);
}

// On the wire a byte is a start bit 0, eight bits with the lowest first, a stop bit 1. A sender at half the speed makes
// every bit twice as long as it is listened to: no run of equal bits is single.
bool bits_come_in_pairs(std::byte byte) {
    unsigned const wire = std::to_integer<unsigned>(byte) << 1U;
    int run = 1;
    for (unsigned bit = 1; bit < 9; ++bit) {
        bool const same = (wire >> bit & 1U) == (wire >> (bit - 1) & 1U);
        if (same) {
            ++run;
            continue;
        }
        if (run == 1) return false;
        run = 1;
    }
    return true;  // the last run may go on in the stop bit
}

bool is_of_other_speed(BytesView rest) {
    constexpr std::ptrdiff_t fewest = 4;
    auto const paired = std::count_if(rest.begin(), rest.end(), bits_come_in_pairs);
    return std::ssize(rest) >= fewest && 4 * paired >= 3 * std::ssize(rest);
}

constexpr std::size_t most_stray_bytes = 3;

Came came_in(BytesView rest, BytesView sent) {
    if (rest.empty()) return Came::nothing;
    auto const end = end_of_answer(rest, sent);
    if (end == rest.size()) return Came::good;
    if (end > 0) return Came::two_answers;
    // Where the idle level is undecided, a receiver sees an edge or two before the answer's driver takes the pair.
    for (std::size_t stray = 1; stray <= most_stray_bytes && stray < rest.size(); ++stray)
        if (end_of_answer(rest.subspan(stray), sent) == rest.size() - stray) return Came::after_stray;
    if (whole_foreign_frame(rest, sent)) return Came::foreign;
    if (is_inverted(rest)) return Came::inverted;
    if (is_of_other_speed(rest) && !is_head(rest, 0, sent)) return Came::other_speed;
    auto const expected = expected_bytes(sent);
    bool second_head = false;
    for (std::size_t at = 3; at + 1 < rest.size() && is_head(rest, 0, sent); ++at)
        second_head = second_head || is_head(rest, at, sent);
    bool const much_more = expected > 0 && 2 * rest.size() >= 3 * expected + 4;
    if (second_head || much_more) return Came::two_answers;
    bool const right_length = expected == 0 || rest.size() + 1 == expected || rest.size() == expected ||
                              rest.size() == expected + 1 || rest.size() == 5;
    if (is_head(rest, 0, sent) && right_length) return Came::bad_checksum;
    return Came::garbage;
}
}  // namespace

std::string_view name_of(Came came) {
    switch (came) {
        case Came::good: return "good";
        case Came::nothing: return "nothing";
        case Came::bad_checksum: return "bad_checksum";
        case Came::garbage: return "garbage";
        case Came::late: return "late";
        case Came::two_answers: return "two_answers";
        case Came::foreign: return "foreign";
        case Came::inverted: return "inverted";
        case Came::other_speed: return "other_speed";
        case Came::after_stray: return "after_stray";
    }
    return "unknown";
}

Seen seen_in(port::Exchange const& exchange, double answer_timeout_s) {
    BytesView const sent(exchange.sent);
    BytesView const heard(exchange.heard);
    auto echo = std::min(exchange.echoed, heard.size());
    // A read is never answered by its own bytes.
    if (echo == 0 && sent.size() >= 4 && heard.size() >= sent.size() &&
        std::equal(sent.begin(), sent.end(), heard.begin()))
        echo = sent.size();
    Seen seen{.came = came_in(heard.subspan(echo), sent), .echoed = echo > 0};
    std::size_t so_far = 0;
    for (auto const& arrival : exchange.arrivals) {
        so_far += arrival.bytes;
        if (so_far <= echo) continue;
        if (seen.came == Came::good && arrival.after_s > answer_timeout_s) seen.came = Came::late;
        break;
    }
    return seen;
}

bool in_order(std::vector<Device>& devices) {
    std::stable_sort(devices.begin(), devices.end(), [](Device const& a, Device const& b) { return a.position < b.position; });
    return std::all_of(devices.begin(), devices.end(), [](Device const& device) { return device.position > 0; });
}

}  // namespace phasewright::linefault
