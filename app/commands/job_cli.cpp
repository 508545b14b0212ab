#include "app/commands/job_cli.hpp"

#include <iostream>

#include <CLI/CLI.hpp>

namespace phasewright::commands {

namespace {

CLI::App& one(CLI::App& group, char const* name, char const* help, JobOptions& options) {
    auto* const command = group.add_subcommand(name, help);
    command->add_option("JOB", options.job, "The job's file (docs/reference/records.md)")->required();
    return *command;
}

void add_said(CLI::App& command, JobOptions& options) {
    command.add_option("--by", options.by, "Who says so");
    command.add_option("--why", options.why, "Why");
    command.add_option("--at", options.at, "When: 2026-11-25T10:20:00+01:00 (default: now)");
    command.add_option("--device", options.device, "What this device is called, where it has no key yet")
        ->capture_default_str();
    command.add_option("--keys", options.keys_folder,
                       "Folder of this device's key (default: the user's config folder)");
}

void add_reading(CLI::App& group, JobOptions& options, int& status) {
    auto& show =
        one(group, "show", "What is in a job: devices, heads, how much of what, the plan's version", options);
    show.callback([&] { status = job_show_command(options, std::cout, std::cerr); });
    auto& log = one(group, "log", "Every entry, one a line, by time, device and number", options);
    log.callback([&] { status = job_log_command(options, std::cout, std::cerr); });
    auto& copy = one(group, "copy", "A whole copy, at any time", options);
    copy.add_option("NEW", options.other, "The copy's file")->required();
    copy.callback([&] { status = job_copy_command(options, std::cout, std::cerr); });
    auto& exported =
        one(group, "export", "Every entry and file that can be read, into a new folder; of a damaged job too",
            options);
    exported.add_option("-o,--out", options.out, "The folder")->required();
    exported.callback([&] { status = job_export_command(options, std::cout, std::cerr); });
}

void add_writing(CLI::App& group, JobOptions& options, int& status) {
    auto& fresh = one(group, "new", "Make a job", options);
    fresh.add_option("--name", options.name, "What it is called")->required();
    fresh.add_option("--plan", options.plan_file, "Its plan (docs/reference/plan.md)");
    add_said(fresh, options);
    fresh.callback([&] { status = job_new_command(options, std::cout, std::cerr); });
    auto& add = one(group, "add", "Keep a file as evidence", options);
    add.add_option("FILE", options.file, "The file")->required();
    add.add_option(
           "--kind", options.kind,
           "reading, diagnosis, test, reference, setting-before, setting-after, photo, note, signature, seal")
        ->required();
    add.add_option("--point", options.point, "Id of the metering point");
    add_said(add, options);
    add.callback([&] { status = job_add_command(options, std::cout, std::cerr); });
    auto& plan = one(group, "plan", "Print the plan, or --set another", options);
    plan.add_option("--set", options.plan_file, "The new plan");
    plan.add_option("--version", options.version, "Print this version, from 1");
    plan.add_flag("--history", options.history, "List the versions");
    plan.add_option("-o,--out", options.out, "Write it here");
    add_said(plan, options);
    plan.callback([&] { status = job_plan_command(options, std::cout, std::cerr); });
    auto& undo = one(group, "undo", "Put back the plan before, as a new version", options);
    add_said(undo, options);
    undo.callback([&] { status = job_undo_command(options, false, std::cout, std::cerr); });
    auto& redo = one(group, "redo", "Take back an undo, as a new version", options);
    add_said(redo, options);
    redo.callback([&] { status = job_undo_command(options, true, std::cout, std::cerr); });
    auto& settle = one(group, "settle", "Say which plan holds, where two copies were changed apart", options);
    settle.add_option("PLAN", options.file, "The plan that holds")->required();
    add_said(settle, options);
    settle.callback([&] { status = job_settle_command(options, std::cout, std::cerr); });
}

}  // namespace

void add_job(CLI::App& app, RecordOptions& options, int& status) {
    auto* const job = app.add_subcommand(
        "job", "The record of a job: evidence that is only added to, and the plan with its history");
    job->require_subcommand(1);
    add_writing(*job, options.job, status);
    add_reading(*job, options.job, status);
    auto& merge = one(app, "merge", "Add to a job what another copy of it has", options.job);
    merge.add_option("OTHER", options.job.other, "The other copy")->required();
    merge.callback([&] { status = merge_command(options.job, std::cout, std::cerr); });
    auto* const verify = app.add_subcommand(
        "verify",
        "Is a job unchanged since its heads were signed? Names the first broken link of each device.\n"
        "Exit status: 0 unchanged as far as the record can show, 1 something does not fit, 2 not opened.");
    verify->add_option("JOB", options.verify.job, "The job's file")->required();
    verify->add_option("--head", options.verify.heads,
                       "A head from a certificate or another copy; may be given again");
    verify->callback([&] { status = verify_command(options.verify, std::cout, std::cerr); });
}

}  // namespace phasewright::commands
