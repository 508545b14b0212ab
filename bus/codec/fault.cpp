#include "bus/codec/fault.hpp"

#include <fmt/format.h>

namespace phasewright::codec {

std::string_view name_of(FaultKind kind) {
    switch (kind) {
        case FaultKind::unreachable: return "unreachable";
        case FaultKind::no_answer: return "no_answer";
        case FaultKind::closed: return "closed";
        case FaultKind::garbled: return "garbled";
        case FaultKind::wrong_transaction: return "wrong_transaction";
        case FaultKind::wrong_unit: return "wrong_unit";
        case FaultKind::malformed: return "malformed";
        case FaultKind::refused: return "refused";
        case FaultKind::not_offered: return "not_offered";
        case FaultKind::bad_question: return "bad_question";
        case FaultKind::cancelled: return "cancelled";
        case FaultKind::line_in_use: return "line_in_use";
    }
    return "unknown";
}

std::optional<ExceptionCode> exception_of(std::uint8_t code) {
    switch (code) {
        case 0x01:
        case 0x02:
        case 0x03:
        case 0x04:
        case 0x05:
        case 0x06:
        case 0x08:
        case 0x0A:
        case 0x0B: return static_cast<ExceptionCode>(code);
        default: return std::nullopt;
    }
}

std::string_view words_of(ExceptionCode code) {
    switch (code) {
        case ExceptionCode::illegal_function: return "illegal function";
        case ExceptionCode::illegal_data_address: return "illegal data address";
        case ExceptionCode::illegal_data_value: return "illegal data value";
        case ExceptionCode::server_device_failure: return "server device failure";
        case ExceptionCode::acknowledge: return "acknowledge";
        case ExceptionCode::server_device_busy: return "server device busy";
        case ExceptionCode::memory_parity_error: return "memory parity error";
        case ExceptionCode::gateway_path_unavailable: return "gateway path unavailable";
        case ExceptionCode::gateway_target_failed_to_respond:
            return "gateway target device failed to respond";
    }
    return "unknown";
}

namespace {

std::string_view what_happened(FaultKind kind) {
    switch (kind) {
        case FaultKind::unreachable: return "no connection could be made";
        case FaultKind::no_answer: return "no answer came";
        case FaultKind::closed: return "the connection was closed before the answer was whole";
        case FaultKind::garbled: return "bytes came that make no frame";
        case FaultKind::wrong_transaction: return "an answer came that belongs to another question";
        case FaultKind::wrong_unit: return "another unit answered";
        case FaultKind::malformed: return "the answer does not fit the question";
        case FaultKind::refused: return "the meter understood the question and refused it";
        case FaultKind::not_offered: return "the meter answers, but does not offer what was looked for";
        case FaultKind::bad_question:
            return "the question breaks the limits of the protocol and was not sent";
        case FaultKind::cancelled: return "the wait was ended before an answer came";
        case FaultKind::line_in_use: return "another master is at work on this line, and nothing was sent";
    }
    return "something unknown happened";
}

std::string_view next_after(ExceptionCode code) {
    switch (code) {
        case ExceptionCode::illegal_function:
            return "read with the other function (3 or 4), and compare the profile with the meter's own "
                   "register table";
        case ExceptionCode::illegal_data_address:
            return "compare the profile's addresses with the meter's own register table; an offset of one is "
                   "common";
        case ExceptionCode::illegal_data_value: return "ask for fewer registers at a time";
        case ExceptionCode::server_device_failure:
        case ExceptionCode::memory_parity_error:
            return "restart the meter, then have it checked if it goes on";
        case ExceptionCode::acknowledge:
        case ExceptionCode::server_device_busy:
            return "wait a little and ask again; see whether another client polls it";
        case ExceptionCode::gateway_path_unavailable:
            return "check the gateway's routes and how many clients it serves";
        case ExceptionCode::gateway_target_failed_to_respond:
            return "look behind the gateway: unit address, the meter's supply, the pair's polarity and ends, "
                   "the speed";
    }
    return "";
}

std::string_view what_next(Fault const& fault) {
    switch (fault.kind) {
        case FaultKind::unreachable:
            return "check the host address and the port, or the name of the serial port, the cable, and that the "
                   "device has its supply";
        case FaultKind::no_answer:
            return "check the unit address; behind a gateway also the pair's polarity, its ends and the "
                   "speed";
        case FaultKind::closed:
            return "see whether the device takes only a few clients at once, then ask again";
        case FaultKind::garbled:
            return "check that this port speaks Modbus TCP, on a serial line speed and parity, and that no two devices "
                   "share one address";
        case FaultKind::wrong_transaction:
            return "allow a longer wait for the answer; the gateway may be slow";
        case FaultKind::wrong_unit: return "check the unit address and the gateway's address table";
        case FaultKind::malformed:
            return "ask again; if it stays, the device or its gateway breaks the protocol";
        case FaultKind::refused: {
            auto const code = exception_of(fault.exception.value_or(0));
            return code ? next_after(*code) : "look the code up in the meter's own documents";
        }
        case FaultKind::not_offered: return "give the point a profile of this meter";
        case FaultKind::bad_question: return "correct the profile: at most 125 registers in one read";
        case FaultKind::cancelled: return "ask again when it is wanted";
        case FaultKind::line_in_use:
            return "unplug or stop the other master, with the leave of whoever owns it, then listen again";
    }
    return "";
}

}  // namespace

std::string to_finding(Fault const& fault) {
    std::string sentence;
    if (!fault.where.empty()) sentence += fault.where + ": ";
    sentence += what_happened(fault.kind);
    if (fault.kind == FaultKind::refused && fault.exception) {
        auto const code = exception_of(*fault.exception);
        sentence += fmt::format(" (exception 0x{:02X}, {})", *fault.exception,
                                code ? words_of(*code) : std::string_view("not named by the standard"));
    }
    if (!fault.detail.empty()) sentence += "; " + fault.detail;
    return sentence + fmt::format(". Next: {}.", what_next(fault));
}

}  // namespace phasewright::codec
