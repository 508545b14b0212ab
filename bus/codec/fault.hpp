// What can go wrong between a question and its answer, named so that it says whose fault it was: the
// line's, the device's or the question's. A meter that does not answer is a finding of the site; the rest
// of a job goes on.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace phasewright::codec {

enum class FaultKind {
    unreachable,        // No connection could be made: host address, port, cable, a device that is off.
    no_answer,          // Nothing came in time: unit address, a gateway's serial side, A/B polarity, speed.
    closed,             // The other side closed the connection before the whole answer had come.
    garbled,            // Bytes came, but they make no frame: noise, another protocol, two at one address.
    wrong_transaction,  // An answer came, but to another question: it was late, or a gateway mixed two up.
    wrong_unit,         // An answer came from another unit than the one that was asked.
    malformed,          // A whole frame came that does not fit the question: function, length, byte count.
    refused,            // The device understood and said no; `exception` is its reason.
    not_offered,        // The device answers, but does not offer what was looked for.
    bad_question,       // The question itself breaks the protocol's limits; nothing was sent.
    cancelled,          // Somebody who no longer wants the answer ended the wait.
    line_in_use,        // Another master was heard on the line; nothing was sent.
};

// The reasons a device can give (MODBUS Application Protocol V1.1b3, clause 7).
enum class ExceptionCode : std::uint8_t {
    illegal_function = 0x01,          // The device does not know this function, or not in its present state.
    illegal_data_address = 0x02,      // A register of the run that was asked for does not exist.
    illegal_data_value = 0x03,        // The question's length or count is not allowed.
    server_device_failure = 0x04,     // The device failed while it carried the question out.
    acknowledge = 0x05,               // The device took the job and will need longer for it.
    server_device_busy = 0x06,        // The device is busy with a long job; ask again later.
    memory_parity_error = 0x08,       // The device found its own memory in error.
    gateway_path_unavailable = 0x0A,  // The gateway is set up wrong or overloaded.
    gateway_target_failed_to_respond = 0x0B,  // The gateway asked the unit on its line and heard nothing.
};

struct Fault {
    FaultKind kind = FaultKind::no_answer;
    std::string detail;  // what was found against what was expected, as one sentence without a full stop
    std::optional<std::uint8_t> exception;  // the code as it came; may be one that the standard does not name
    std::string where;                      // "192.0.2.7:502 unit 3", filled in by the line
};

[[nodiscard]] std::string_view name_of(FaultKind kind);                      // "no_answer"
[[nodiscard]] std::optional<ExceptionCode> exception_of(std::uint8_t code);  // empty when not standard
[[nodiscard]] std::string_view words_of(ExceptionCode code);                 // "illegal data address"

// One sentence for the technician: where, what happened, what to try next.
[[nodiscard]] std::string to_finding(Fault const& fault);

}  // namespace phasewright::codec
