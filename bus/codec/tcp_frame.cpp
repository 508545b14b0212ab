#include "bus/codec/tcp_frame.hpp"

#include <cassert>

#include <fmt/format.h>

#include "bus/codec/question.hpp"

namespace phasewright::codec {

namespace {

constexpr std::size_t length_end = 6;  // the header's length counts the bytes after this one

Fault garbled(std::string detail) { return {.kind = FaultKind::garbled, .detail = std::move(detail)}; }

// What is wrong with a header, as early as its bytes tell.
std::optional<Fault> fault_in_header(BytesView bytes) {
    if (bytes.size() >= 4 && u16_at(bytes, 2) != 0) {
        return garbled(fmt::format("the protocol id is {}, Modbus is 0", u16_at(bytes, 2)));
    }
    if (bytes.size() >= length_end) {
        unsigned const length = u16_at(bytes, 4);
        if (length < 2 || length > max_pdu_bytes + 1) {
            return garbled(
                fmt::format("the header announces {} bytes; allowed are 2 to {}", length, max_pdu_bytes + 1));
        }
    }
    return std::nullopt;
}

}  // namespace

Bytes to_bytes(TcpFrame const& frame) {
    assert(!frame.pdu.empty() && frame.pdu.size() <= max_pdu_bytes);
    Bytes bytes;
    bytes.reserve(mbap_bytes + frame.pdu.size());
    put_u16(bytes, frame.transaction);
    put_u16(bytes, 0);
    put_u16(bytes, static_cast<unsigned>(frame.pdu.size() + 1));
    put_u8(bytes, frame.unit);
    put_bytes(bytes, frame.pdu);
    return bytes;
}

std::expected<TcpFrame, Fault> read_tcp_frame(BytesView bytes) {
    if (auto fault = fault_in_header(bytes)) return std::unexpected(*fault);
    if (bytes.size() < mbap_bytes + 1) {
        return std::unexpected(garbled(fmt::format("{} bytes; the shortest frame has 8", bytes.size())));
    }
    std::size_t const whole = length_end + u16_at(bytes, 4);
    if (bytes.size() != whole) {
        return std::unexpected(
            garbled(fmt::format("{} bytes; the header announces {}", bytes.size(), whole)));
    }
    auto const pdu = bytes.subspan(mbap_bytes);
    return TcpFrame{
        .transaction = u16_at(bytes, 0), .unit = u8_at(bytes, 6), .pdu = Bytes(pdu.begin(), pdu.end())};
}

std::optional<Fault> mismatch(TcpFrame const& answer, TcpFrame const& asked) {
    if (answer.transaction != asked.transaction) {
        return Fault{.kind = FaultKind::wrong_transaction,
                     .detail = fmt::format("transaction {} was asked, {} came", asked.transaction,
                                           answer.transaction)};
    }
    if (answer.unit != asked.unit) {
        return Fault{.kind = FaultKind::wrong_unit,
                     .detail = fmt::format("unit {} was asked, unit {} answered", asked.unit, answer.unit)};
    }
    return std::nullopt;
}

TcpAssembler::Result TcpAssembler::feed(BytesView bytes) {
    if (lost_) return {.frames = {}, .fault = lost_};
    Result result;
    while (true) {
        // Takes no more than one frame's bytes at a time, so that nothing that is fed can make the buffer
        // grow.
        std::size_t const wanted = held_.size() < length_end ? length_end : length_end + u16_at(held_, 4);
        std::size_t const taken = std::min(wanted - held_.size(), bytes.size());
        put_bytes(held_, bytes.first(taken));
        bytes = bytes.subspan(taken);
        if (auto fault = fault_in_header(held_)) {
            held_.clear();
            lost_ = fault;
            result.fault = fault;
            return result;
        }
        if (held_.size() < length_end) return result;
        if (held_.size() == length_end + u16_at(held_, 4)) {
            auto frame = read_tcp_frame(held_);
            assert(frame.has_value());
            result.frames.push_back(std::move(*frame));
            held_.clear();
        }
        if (bytes.empty()) return result;
    }
}

void TcpAssembler::clear() {
    held_.clear();
    lost_.reset();
}

}  // namespace phasewright::codec
