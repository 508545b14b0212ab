// The group `phasewright evidence`. Its add_ function stands in evidence_cli.cpp, which is compiled with
// main.cpp and not with the room: CLI11 is heavy.
#pragma once
#include "app/commands/evidence_command.hpp"

namespace CLI {  // NOLINT(readability-identifier-naming): another library's name
class App;
}

namespace phasewright::commands {

// `options` and `status` live as long as `app` parses.
void add_evidence(CLI::App& app, EvidenceOptions& options, int& status);

}  // namespace phasewright::commands
