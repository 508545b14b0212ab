// One verdict becomes one line of JSON; docs/reference/readings.md is the contract, fields and their order.
#pragma once
#include <string>
#include <string_view>

#include "app/commands/reading_lines.hpp"
#include "core/diagnosis/verdict.hpp"
#include "core/plan/service.hpp"

namespace phasewright::commands {

// `carried` is the JSON object of the line's x_ fields, or empty. No line ends with a newline.
[[nodiscard]] std::string verdict_line(diagnosis::Verdict const& verdict, plan::ServiceModel const& model,
                                       std::string_view carried = {});
[[nodiscard]] std::string fault_line(std::size_t line, LineFault const& fault);

// What feeds each element, in the contract's words, and its ratio: "+a", "-b", "dead", "-a-c", "-2a-c".
struct ElementFeeds {
    std::vector<std::string> current;
    std::vector<double> ratio;
};
[[nodiscard]] ElementFeeds feeds_of(wiring::Wiring const& wiring, plan::ServiceModel const& model);

}  // namespace phasewright::commands
