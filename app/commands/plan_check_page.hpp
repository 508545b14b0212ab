// The page docs/reference/plan-checks.md, written from the tables of the rules: what is printed is what is
// done.
#pragma once
#include <string>

namespace phasewright::commands {

[[nodiscard]] std::string plan_checks_page();

}  // namespace phasewright::commands
