// What a line was asked and what came back, as JSON lines that can be kept and judged again (docs/reference/bus-check.md).
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bus/port/rtu_line.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct RecordedExchange {
    port::Exchange exchange;
    bool other_format = false;  // asked in another format than the planned one
};
struct RecordedLine {
    std::vector<RecordedExchange> exchanges;
    std::optional<bool> heard_before;
    std::optional<std::vector<std::uint8_t>> strangers;
};

// `file` is only the name that faults carry. The first mistake refuses the whole file.
[[nodiscard]] std::expected<RecordedLine, quantity::Fault> read_exchanges(std::string_view text, std::string const& file);
[[nodiscard]] std::string exchanges_text(RecordedLine const& line);

}  // namespace phasewright::commands
