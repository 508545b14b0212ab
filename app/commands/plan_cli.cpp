#include "app/commands/plan_cli.hpp"

#include <CLI/CLI.hpp>

namespace phasewright::commands {

void add_plan(CLI::App& app, PlanOptions& /*options*/, int& /*status*/) {
    auto* const plan = app.add_subcommand("plan", "What is done with a plan before anyone drills (docs/reference/plan.md)");
    plan->require_subcommand(1);
}

}  // namespace phasewright::commands
