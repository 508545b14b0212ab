#include "app/commands/plan_cli.hpp"

#include <iostream>

#include <CLI/CLI.hpp>

namespace phasewright::commands {

namespace {

constexpr auto documents_help =
    "The papers of a plan, for the crew and for the panel door: wiring diagram, wiring schedule, checklist and labels of each\n"
    "point, one-line and schedule of each panel, bus, transformers, materials; one SVG a sheet and an index.html that prints\n"
    "them all (docs/reference/plan-documents.md). They replace no permit, no test and no qualified person. Exit status: 0 when\n"
    "all were written, 2 when none was.";

void add_documents(CLI::App& plan, PlanDocumentsOptions& options, int& status) {
    auto* const documents = plan.add_subcommand("documents", documents_help);
    documents->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    documents->add_option("-o,--out", options.folder, "The folder to write; an earlier run's sheets in it are replaced")->required();
    documents->add_option("--point", options.points, "Only this point's papers, by its id; may be given again");
    documents->add_option("--paper", options.paper, "a4 or letter")->capture_default_str();
    documents->add_option("--date", options.date, "For the title blocks: 2026-11-25 (default: a blank to write in)");
    documents->add_option("--revision", options.revision, "For the title blocks (default: a blank to write in)");
    documents->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    documents->callback([&] { status = plan_documents_command(options, std::cout, std::cerr); });
}

constexpr auto check_help =
    "Everything that can be said of a plan before anyone drills: meter against service, taps and their protection,\n"
    "transformers, leads, supplies, bus, colours, the meter tree; one finding a line, most severe first\n"
    "(docs/reference/plan-checks.md). It says nothing about safety. Exit status: 0 nothing found, 1 something found,\n"
    "2 the plan cannot be read.";

void add_check(CLI::App& plan, PlanCheckOptions& options, int& status) {
    auto* const check = plan.add_subcommand("check", check_help);
    check->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)");
    check->add_option("--limits", options.limits_file, "Your own limits, for the edition in force");
    check->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    check->add_flag("--json", options.json, "One JSON line a finding, and the counts in a last one");
    check->add_flag("--rules", options.rules, "Print the rules and where their limits stand written, as Markdown");
    check->callback([&] { status = plan_check_command(options, std::cout, std::cerr); });
}

constexpr auto design_help =
    "What is still open in a plan, proposed: meters, CTs, leads, fuses, supplies, lines, places and addresses; why each, and why\n"
    "not the next ones (docs/reference/plan-design.md). What is decided stays. The completed plan is written with -o only. It\n"
    "says nothing about safety. Exit status: 0 when it was designed, whatever is still open, 2 when it could not be.";

void add_design(CLI::App& plan, PlanDesignOptions& options, int& status) {
    auto* const design = plan.add_subcommand("design", design_help);
    design->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    design->add_option("--catalogue", options.catalogue_files,
                       "What may be chosen from (docs/reference/catalogue.md; default: invented parts); may be given again");
    design->add_option("-o,--out", options.out_file, "Write the completed plan here");
    design->add_flag("--in-place", options.in_place, "Write it over the plan itself; comments in it are lost");
    design->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    design->add_flag("--share-meters", options.share_meters, "Let one-phase circuits of a panel share meters, where that is offered");
    design->add_flag("--json", options.json, "One JSON line a proposal, and the counts in a last one");
    design->callback([&] { status = plan_design_command(options, std::cout, std::cerr); });
}

constexpr auto accuracy_help =
    "How well each point will measure active energy, by the classes on the plates: at its least, usual and highest current, and\n"
    "from which current on the accuracy that is wanted can be shown (docs/reference/accuracy-classes.md). Exit status:\n"
    "0 reckoned, 1 a point cannot show what is wanted at its usual current, 2 the plan cannot be read.";

void add_accuracy(CLI::App& plan, PlanAccuracyOptions& options, int& status) {
    auto* const accuracy = plan.add_subcommand("accuracy", accuracy_help);
    accuracy->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    accuracy->add_option("--point", options.points, "Only this point, by its id; may be given again");
    accuracy->add_option("--meter-class", options.meter_class, "Where a profile names none: \"IEC 62053-22 0.5S\"");
    accuracy->add_option("--confirmed", options.confirmed, "Tables that you have held against an edition: \"IEC 62053-22:2003\"");
    accuracy->add_option("--correlation", options.correlation, "Between transformers of one type, 0 to 1")->capture_default_str();
    accuracy->add_option("--seed", options.seed, "Draw the errors as well, with this seed");
    accuracy->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    accuracy->add_flag("--json", options.json, "One JSON line a point");
    accuracy->callback([&] { status = plan_accuracy_command(options, std::cout, std::cerr); });
}

constexpr auto import_help =
    "A metering schedule, CSV or XLSX, with any order of columns, becomes a plan or comes into one\n"
    "(docs/reference/schedule.md). A row that cannot be understood is listed with its cell and kept aside beside the output.\n"
    "Exit status: 0 every row came in, 1 some were kept aside, 2 nothing was written.";

void add_import(CLI::App& plan, PlanImportOptions& options, int& status) {
    auto* const from = plan.add_subcommand("import", import_help);
    from->add_option("FILE", options.schedule_file, "The schedule: CSV or XLSX; - for standard input")->required();
    from->add_option("--into", options.into, "A plan that the rows come into; its own entries stay");
    from->add_option("-o,--out", options.out, "The plan to write")->required();
    from->add_option("--panel", options.panel, "The panel of rows that name none, by its id");
    from->add_option("--sheet", options.sheet, "This sheet of the XLSX file");
    from->add_option("--nominal", options.nominal, "Rated voltages of panels that are new, V_LN/V_LL: 230/400");
    from->add_option("--hz", options.hz, "and their frequency")->check(CLI::Range(40.0, 70.0))->capture_default_str();
    from->callback([&] { status = plan_import_command(options, std::cin, std::cout, std::cerr); });
}

void add_export(CLI::App& plan, PlanExportOptions& options, int& status) {
    auto* const to = plan.add_subcommand("export", "The metering schedule of a plan, with the columns of your own that came in with it");
    to->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    to->add_option("--xlsx", options.xlsx, "The XLSX file to write");
    to->add_option("--csv", options.csv, "The CSV file to write; - for standard output");
    to->callback([&] { status = plan_export_command(options, std::cout, std::cerr); });
}

}  // namespace

void add_plan(CLI::App& app, PlanOptions& options, int& status) {
    auto* const plan = app.add_subcommand("plan", "What is done with a plan before anyone drills (docs/reference/plan.md)");
    plan->require_subcommand(1);
    add_documents(*plan, options.documents, status);
    add_check(*plan, options.check, status);
    add_import(*plan, options.from_schedule, status);
    add_export(*plan, options.to_schedule, status);
    add_design(*plan, options.design, status);
    add_accuracy(*plan, options.accuracy, status);
}

}  // namespace phasewright::commands
