// The command line. It only names the commands and hands over; every command is a function in its own file.
#include <iostream>
#include <string>

#include <CLI/CLI.hpp>

#include "app/commands/diagnose_command.hpp"
#include "app/commands/mistakes_page.hpp"
#include "app/commands/prove_command.hpp"
#include "app/commands/twin_command.hpp"

namespace {
using namespace phasewright::commands;

constexpr auto about =
    "phasewright proves from live readings that a power meter sees every voltage with its own current,\n"
    "the right way round, at the right ratio. It says nothing about safety: work on live parts belongs\n"
    "to qualified people under the local code.";
constexpr auto prove_help =
    "Read every meter of a plan over its own bus, say what is wrong with its wiring and which lead to move "
    "first,\n"
    "and write the report. Exit status: 0 when the job was done, whatever it found, 2 when it could not be "
    "done.";
constexpr auto diagnose_help =
    "Say which wiring each meter has, how sure that is, and what to move or measure next.\n"
    "One reading set a line in (JSON), one verdict a line out, in the same order.\n"
    "Exit status: 0 when every line was answered, 2 when some were not.";
constexpr auto twin_help =
    "Run the virtual meters of a plan on loopback, wired as a second file says, until standard input closes.";

constexpr auto priors_help =
    "What is believed before any reading, as a file (docs/reference/priors.md; default: built in)";

void add_prove(CLI::App& app, ProveOptions& options, int& status) {
    auto* const prove = app.add_subcommand("prove", prove_help);
    prove->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    prove->add_option("--report", options.report_file,
                      "Where to write the report (default: PLAN-report.html here)");
    prove->add_option("--twins", options.twins_file,
                      "Start virtual meters wired as this file says, and read those");
    prove->add_option("--profiles", options.profiles_folder,
                      "Folder of meter profiles (default: those that came along)");
    prove->add_option("--snapshots", options.snapshots, "Readings of each meter, one second apart")
        ->check(CLI::Range(1, 100))
        ->capture_default_str();
    prove->add_option("--readings", options.readings_file,
                      "Also write here what was read, one JSON line a point, for phasewright diagnose");
    prove->add_option("--priors", options.priors_file, priors_help);
    prove->add_flag("--no-load-kinds", options.no_load_kinds,
                    "Judge as if the plan did not tell the kinds of load");
    prove->add_flag("--json", options.json, "One JSON line a metering point instead of lines for people");
    prove->callback([&] { status = run_prove(options); });
}

struct DiagnoseOptions {
    std::string file;
    std::optional<std::filesystem::path> priors_file;
};

void add_diagnose(CLI::App& app, DiagnoseOptions& options, int& status) {
    auto* const diagnose = app.add_subcommand("diagnose", diagnose_help);
    diagnose->add_option("FILE", options.file, "File of reading sets, one JSON object a line; - for standard input")
        ->required();
    diagnose->add_option("--priors", options.priors_file, priors_help);
    diagnose->callback([&] {
        status = diagnose_command(options.file, std::cin, std::cout, std::cerr, options.priors_file);
    });
}

void add_twin(CLI::App& app, TwinOptions& options, int& status) {
    auto* const twin = app.add_subcommand("twin", twin_help);
    twin->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    twin->add_option("WIRED", options.wired_file, "How its leads really run (docs/reference/twin.md)")
        ->required();
    twin->add_option("--ports", options.ports_file, "Write here which port each metering point got");
    twin->add_option("--profiles", options.profiles_folder,
                     "Folder of meter profiles (default: those that came along)");
    twin->callback([&] { status = run_twin(options); });
}

void add_mistakes(CLI::App& app) {
    auto* const mistakes = app.add_subcommand("mistakes", "Print what every mistake does to the readings, as Markdown.");
    mistakes->callback([] { std::cout << mistakes_page(); });
}
}  // namespace

int main(int argc, char** argv) {
    CLI::App app{about, "phasewright"};
    app.set_version_flag("--version", std::string{"phasewright "} + PHASEWRIGHT_VERSION);
    app.require_subcommand(1);
    int status = 0;
    ProveOptions prove;
    prove.program = std::string{"phasewright "} + PHASEWRIGHT_VERSION;
    DiagnoseOptions diagnose;
    TwinOptions twin;
    add_prove(app, prove, status);
    add_diagnose(app, diagnose, status);
    add_twin(app, twin, status);
    add_mistakes(app);
    try {
        app.parse(argc, argv);
    } catch (CLI::ParseError const& error) {
        return app.exit(error) == 0
                   ? 0
                   : some_not_answered;  // a wrong word on the command line is 2, like the rest
    }
    return status;
}
