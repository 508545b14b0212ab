// The group `phasewright plan`: what is done with a plan before anyone drills. Each of its commands has its options here and
// its own add_ function in plan_cli.cpp, which is compiled with main.cpp and not with the room: CLI11 is heavy.
#pragma once
#include "app/commands/plan_accuracy_command.hpp"
#include "app/commands/plan_check_command.hpp"
#include "app/commands/plan_design_command.hpp"
#include "app/commands/plan_documents_command.hpp"
#include "app/commands/plan_export_command.hpp"
#include "app/commands/plan_import_command.hpp"

namespace CLI {  // NOLINT(readability-identifier-naming): CLI11 calls itself so
class App;
}

namespace phasewright::commands {

struct PlanOptions {
    PlanDocumentsOptions documents;
    PlanCheckOptions check;
    PlanImportOptions from_schedule;
    PlanExportOptions to_schedule;
    PlanDesignOptions design;
    PlanAccuracyOptions accuracy;
};

// `options` and `status` live as long as `app` parses.
void add_plan(CLI::App& app, PlanOptions& options, int& status);

}  // namespace phasewright::commands
