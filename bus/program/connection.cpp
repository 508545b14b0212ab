#include "bus/program/connection.hpp"

namespace phasewright::program {

namespace {

// How long the answer is that begins like this; 0 when its length is not told by its first bytes.
std::size_t length_of(codec::BytesView answer) {
    if (answer.size() < 3) return 0;
    auto const function = codec::u8_at(answer, 1);
    if ((function & 0x80U) != 0) return 5;
    if (function == 3 || function == 4) return 5U + codec::u8_at(answer, 2);
    if (function == 6 || function == 16) return 8;
    return 0;
}

}  // namespace

bool is_strange(port::Exchange const& exchange) {
    if (exchange.fault) {
        switch (exchange.fault->kind) {
            case codec::FaultKind::garbled:
            case codec::FaultKind::malformed:
            case codec::FaultKind::wrong_unit:
            case codec::FaultKind::wrong_transaction: return true;
            case codec::FaultKind::refused: break;  // a clean answer all the same
            default: return exchange.heard.size() > exchange.echoed;
        }
    }
    auto const answer =
        codec::BytesView(exchange.heard).subspan(std::min(exchange.echoed, exchange.heard.size()));
    auto const length = length_of(answer);
    return length != 0 && answer.size() != length;
}

}  // namespace phasewright::program
