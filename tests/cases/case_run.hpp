// Works a case off from the top and says what did not come out as expected.
#pragma once
#include <string>
#include <vector>

#include "tests/cases/case_file.hpp"

namespace phasewright::cases {

struct Outcome {
    std::size_t expectations = 0;
    std::vector<std::string> failures;  // "worked/w1.case:5 expect element 2 dead: 0.9 W at 25.8 deg"
};
[[nodiscard]] Outcome run_case(CaseFile const& file);

}  // namespace phasewright::cases
