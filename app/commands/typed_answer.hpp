// What a person types after a test becomes the answer of the contract; what cannot be meant is refused with what can.
#pragma once
#include <expected>
#include <string>
#include <string_view>

#include "core/diagnosis/verdict.hpp"
#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

// Numbers with a decimal point or comma, in SI units or with k before them ("4.1", "4,1 A", "8.15 kW"); two of them for
// before and during; words as the contract has them. `made` is the test that was proposed.
[[nodiscard]] std::expected<readings::TestAnswer, quantity::Fault> typed_answer(diagnosis::NextTest const& made,
                                                                                std::string_view typed);

// The same place and kind without a value: the test could not be made, so it is not proposed again and says nothing.
[[nodiscard]] readings::TestAnswer not_made(diagnosis::NextTest const& test);

// What may be typed: "one number, V", "yes or no".
[[nodiscard]] std::string what_to_type(diagnosis::NextTest const& test);

}  // namespace phasewright::commands
