// `phasewright job`: the record of a job, made, shown, added to (docs/reference/records.md,
// docs/tasks/keep-and-verify-a-job.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

namespace phasewright::commands {

// What the commands of the group share; each uses what it needs.
struct JobOptions {
    std::string job;
    std::string name;  // of a new job
    std::optional<std::filesystem::path> plan_file;
    std::optional<std::filesystem::path> out;
    std::optional<int> version;  // of the plan, from 1
    bool history = false;
    std::string by, why, at;  // `at` empty: now
    std::string kind, point;
    std::filesystem::path file;
    std::string other;  // another copy of the job
    std::string device = "this device";
    std::optional<std::filesystem::path> keys_folder;
};

// Each: 0 when it was done, 2 when it was not.
[[nodiscard]] int job_new_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_show_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_log_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_plan_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_undo_command(JobOptions const& options, bool redo, std::ostream& out,
                                   std::ostream& err);
[[nodiscard]] int job_settle_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_add_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_copy_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int job_export_command(JobOptions const& options, std::ostream& out, std::ostream& err);
[[nodiscard]] int merge_command(JobOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
