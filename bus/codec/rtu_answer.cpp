#include "bus/codec/rtu_answer.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace phasewright::codec {

namespace {
constexpr std::size_t checksum_bytes = 2;
constexpr std::uint8_t refused = 0x80;
constexpr std::size_t refusal_bytes = 5;

// Unit, function, transport type, read code, conformity, more follows, next object, number of objects; then id, length
// and text of each (clause 6.21).
std::optional<std::size_t> identification_bytes(BytesView head) {
    constexpr std::size_t objects_at = 7;
    if (head.size() <= objects_at) return std::nullopt;
    std::size_t place = objects_at + 1;
    for (int left = u8_at(head, objects_at); left > 0; --left) {
        if (head.size() < place + 2) return std::nullopt;
        place += 2U + u8_at(head, place + 1);
        if (place + checksum_bytes > max_rtu_frame_bytes) return std::nullopt;
    }
    return place + checksum_bytes;
}

bool fits(RtuFrame const& frame, RtuFrame const& asked, Question const& question) {
    if (frame.unit != asked.unit || frame.pdu.empty()) return false;
    auto const answer = read_answer(frame.pdu, question);
    return answer.has_value() || answer.error().kind == FaultKind::refused;
}

// A frame of anybody with a checksum that holds, at the head of these bytes.
std::optional<RtuFrame> frame_at_head(BytesView bytes) {
    auto const length = announced_bytes(bytes);
    if (!length || *length > bytes.size()) return std::nullopt;
    auto frame = read_rtu_frame(bytes.first(*length));
    if (!frame) return std::nullopt;
    return std::move(*frame);
}

bool begins_with(BytesView bytes, BytesView head) {
    return bytes.size() >= head.size() && std::ranges::equal(bytes.first(head.size()), head);
}

std::size_t echo_in(BytesView heard, BytesView sent, Question const& question, bool take_off_echo) {
    if (!begins_with(heard, sent)) return 0;
    bool const answer_looks_alike = std::holds_alternative<WriteRegister>(question);
    if (answer_looks_alike && !take_off_echo && !begins_with(heard.subspan(sent.size()), sent)) return 0;
    return sent.size();
}

Fault what_came(BytesView rest, RtuFrame const& asked, std::optional<RtuFrame> const& other) {
    if (other && other->unit != asked.unit) return *mismatch(*other, asked);
    if (other)
        return {.kind = FaultKind::malformed,
                .detail = fmt::format("a whole frame came, {}, and does not fit the question", to_hex(to_bytes(*other)))};
    constexpr std::size_t shown = 16;
    return {.kind = FaultKind::garbled,
            .detail = fmt::format("{} byte{} came without a checksum that holds: {}{}", rest.size(),
                                  rest.size() == 1 ? "" : "s", to_hex(rest.first(std::min(shown, rest.size()))),
                                  rest.size() > shown ? " ..." : "")};
}
}  // namespace

std::optional<std::size_t> announced_bytes(BytesView head) {
    if (head.size() < 2) return std::nullopt;
    auto const function = u8_at(head, 1);
    if ((function & refused) != 0) return refusal_bytes;
    switch (function) {
        case static_cast<std::uint8_t>(Function::read_holding_registers):
        case static_cast<std::uint8_t>(Function::read_input_registers): {
            if (head.size() < 3) return std::nullopt;
            std::size_t const length = 3U + u8_at(head, 2) + checksum_bytes;
            if (length > max_rtu_frame_bytes) return std::nullopt;
            return length;
        }
        case static_cast<std::uint8_t>(Function::write_single_register):
        case static_cast<std::uint8_t>(Function::write_multiple_registers): return 8;
        case static_cast<std::uint8_t>(Function::read_device_identification): return identification_bytes(head);
        default: return std::nullopt;
    }
}

RtuSearch find_answer(BytesView heard, RtuFrame const& asked, Question const& question, bool take_off_echo) {
    RtuSearch search;
    auto const sent = to_bytes(asked);
    search.echoed = echo_in(heard, sent, question, take_off_echo);
    std::size_t const begin = take_off_echo ? search.echoed : 0;
    auto const rest = heard.subspan(begin);
    std::optional<RtuFrame> other;
    std::size_t explained = search.echoed - begin;  // up to here
    for (std::size_t at = 0; at < rest.size(); ++at) {
        auto frame = frame_at_head(rest.subspan(at));
        if (!frame) {
            if (at >= explained) ++search.unexplained;
            continue;
        }
        if (fits(*frame, asked, question)) {
            search.state = RtuSearch::State::whole;
            search.answer = std::move(frame);
            return search;
        }
        explained = std::max(explained, at + 1 + frame->pdu.size() + checksum_bytes);
        if (!other) other = std::move(frame);
    }
    if (begins_with(sent, heard)) search.unexplained = 0;
    // Noise, an echo and the longest frame: whatever comes after that is no answer.
    if (rest.size() >= 2 * max_rtu_frame_bytes) search.state = RtuSearch::State::hopeless;
    auto const after_echo = heard.subspan(search.echoed);
    if (!after_echo.empty()) search.instead = what_came(after_echo, asked, other);
    return search;
}

}  // namespace phasewright::codec
