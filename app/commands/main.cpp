// The command line. It only names the commands and hands over; every command is a function in its own file.
#include <CLI/CLI.hpp>
#include <iostream>
#include <string>

#include "app/commands/diagnose_command.hpp"
#include "app/commands/twin_command.hpp"

namespace {
using namespace phasewright::commands;

constexpr auto diagnose_help =
    "Say which wiring each meter has, how sure that is, and what to move or measure next.\n"
    "One reading set a line in (JSON), one verdict a line out, in the same order.\n"
    "Exit status: 0 when every line was answered, 2 when some were not.";
constexpr auto twin_help =
    "Stand in for every meter of a plan on Modbus TCP at 127.0.0.1, wired as a second file says.\n"
    "Prints \"ready\" when all of them listen; ends when standard input closes or on SIGTERM.";
}  // namespace

int main(int argc, char** argv) {
    CLI::App app{"phasewright proves from live readings that a power meter sees every voltage with its own current,\n"
                 "the right way round, at the right ratio. It says nothing about safety: work on live parts belongs\n"
                 "to qualified people under the local code.",
                 "phasewright"};
    app.set_version_flag("--version", std::string{"phasewright "} + PHASEWRIGHT_VERSION);
    app.require_subcommand(1);
    int status = 0;

    std::string readings_file;
    auto* const diagnose = app.add_subcommand("diagnose", diagnose_help);
    diagnose->add_option("FILE", readings_file, "File of reading sets, one JSON object a line; - for standard input")
        ->required();
    diagnose->callback([&] { status = diagnose_command(readings_file, std::cin, std::cout, std::cerr); });

    TwinOptions twins;
    auto* const twin = app.add_subcommand("twin", twin_help);
    twin->add_option("PLAN", twins.plan_file, "The plan (docs/reference/plan.md)")->required();
    twin->add_option("WIRED", twins.wired_file, "Where the leads run (docs/reference/twin.md)")->required();
    twin->add_option("--ports", twins.ports_file, "File to write which port each point got");
    twin->add_option("--profiles", twins.profiles_folder, "Folder of meter profiles; default: those that came along");
    twin->callback([&] { status = run_twin(twins); });

    CLI11_PARSE(app, argc, argv);
    return status;
}
