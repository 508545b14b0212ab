// A TCP stream in pieces. First byte: how long the pieces are.
#include <algorithm>

#include "bus/codec/question.hpp"
#include "bus/codec/tcp_frame.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    if (size == 0) return 0;
    codec::Bytes stream(size - 1);
    for (std::size_t at = 1; at < size; ++at) stream[at - 1] = static_cast<std::byte>(data[at]);
    if (auto const frame = codec::read_tcp_frame(stream)) fuzz::must(codec::to_bytes(*frame) == stream);
    codec::TcpAssembler assembler;
    std::size_t taken = 0;
    for (std::size_t at = 0; at < stream.size();) {
        auto const piece = std::min<std::size_t>(1U + data[0], stream.size() - at);
        auto const result = assembler.feed(codec::BytesView(stream).subspan(at, piece));
        for (auto const& frame : result.frames) {
            fuzz::must(!frame.pdu.empty() && frame.pdu.size() <= codec::max_pdu_bytes);
            taken += codec::to_bytes(frame).size();
        }
        fuzz::must(assembler.held() < codec::max_tcp_frame_bytes);
        at += piece;
        fuzz::must(taken <= at);
        if (result.fault) break;
    }
    return 0;
}
