// The groups `phasewright job`, `verify` and `merge`. Their add_ function stands in job_cli.cpp, which is
// compiled with main.cpp and not with the room: CLI11 is heavy.
#pragma once
#include "app/commands/job_command.hpp"
#include "app/commands/verify_command.hpp"

namespace CLI {
class App;
}

namespace phasewright::commands {

struct RecordOptions {
    JobOptions job;
    VerifyOptions verify;
};

// `options` and `status` live as long as `app` parses.
void add_job(CLI::App& app, RecordOptions& options, int& status);

}  // namespace phasewright::commands
