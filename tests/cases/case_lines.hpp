// What `phasewright diagnose` answers to the lines of a case, as far as an expectation asks for it.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::cases {

// Empty when the last line is answered as `wanted` says ("answered", "refused field v", "refused found kW"),
// else what came instead.
[[nodiscard]] std::string wrong_answer(std::vector<std::string> const& lines, std::string_view wanted);

}  // namespace phasewright::cases
