// The words of `phasewright restate` become the question that core/correction answers.
#pragma once
#include <expected>
#include <string>
#include <string_view>
#include <vector>

#include "app/commands/restate_command.hpp"
#include "core/correction/restate.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// Everything but the interval data, and the limit's end, which may be the end of the data.
[[nodiscard]] std::expected<correction::Question, quantity::Fault> question_of(
    RestateOptions const& options, std::string_view verdict_lines);

// A wiring in the contract's words; `current` may leave derived elements out.
struct WiringWords {
    std::vector<std::string> voltage, current;
    std::string neutral;
    std::vector<double> ratio;  // one a current input, or one an element
};
[[nodiscard]] std::expected<wiring::Wiring, quantity::Fault> wiring_from(WiringWords const& words,
                                                                         plan::ServiceModel const& model,
                                                                         std::string const& where);

struct FromVerdict {
    std::vector<correction::Hypothesis> hypotheses;
    double left_out_probability = 0.0;
};
[[nodiscard]] std::expected<FromVerdict, quantity::Fault> wirings_of_verdict(std::string_view lines,
                                                                             std::string const& id,
                                                                             std::string const& file,
                                                                             plan::ServiceModel const& model);

}  // namespace phasewright::commands
