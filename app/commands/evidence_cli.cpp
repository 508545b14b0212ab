#include "app/commands/evidence_cli.hpp"

#include <array>
#include <iostream>

#include <CLI/CLI.hpp>

#include "app/commands/acceptance_file.hpp"

namespace phasewright::commands {

namespace {
struct Command {
    char const* name;
    char const* help;
    EvidenceReader read;
};
constexpr std::array<Command, 7> all{{
    {"timing",
     "Pulses or turns and a clock: power, registration, error, and how many pulses the class asks for.",
     timing_answer},
    {"compare", "Beside a reference instrument: error with uncertainty and guard band, as-found and as-left.",
     comparison_answer},
    {"before-power", "Ring-out, loop resistance and burden, insulation, battery flick, one earth only.",
     before_power_answer},
    {"ratio", "The ratio on the wall, by injection or by two clamps.", ratio_answer},
    {"registers", "Register advance against integrated power, pulse weight, no load, starting current.",
     registers_answer},
    {"switching", "Breaker off: which meter moved? Finds interchanged CT sets and proposes the next breaker.",
     switching_answer},
    {"state",
     "How far a point is proved: both sides, defects, seals, signatures, and the sentence for the page.",
     state_answer},
}};
constexpr auto help =
    "What a test of a metering point proves: pass, fail or not provable, with uncertainty, limit and source\n"
    "(docs/tasks/prove-a-point.md). Says nothing about safety. Exit status: 0 passed, 1 failed or not "
    "provable,\n"
    "2 a file cannot be used.";
}  // namespace

void add_evidence(CLI::App& app, EvidenceOptions& options, int& status) {
    auto* const group = app.add_subcommand("evidence", help);
    group->require_subcommand(1);
    for (auto const& command : all) {
        auto* const one = group->add_subcommand(command.name, command.help);
        one->add_option("FILE", options.file, "The test, a TOML file")->required();
        one->add_option("--limits", options.limits_file,
                        "Your own limits, confirmed for the edition in force");
        one->add_flag("--json", options.json, "One JSON line a test instead of lines for people");
        if (command.read == EvidenceReader{before_power_answer}) {
            auto* const plan =
                one->add_option("--plan", options.plan_file, "The plan, for what a loop should have");
            one->add_option("--point", options.point, "and the point in it")->needs(plan);
            one->add_option("--profiles", options.profiles_folder,
                            "Folder of meter profiles (default: those that came along)");
        }
        one->callback([&options, &status, read = command.read] {
            status = evidence_command(read, options, std::cout, std::cerr);
        });
    }
    auto* const limits = group->add_subcommand(
        "limits", "Print the built-in limits and where they stand written, as Markdown");
    limits->callback([] { std::cout << acceptance_page(); });
}

}  // namespace phasewright::commands
