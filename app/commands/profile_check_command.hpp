// `phasewright profile check`: what a profile leaves open, and what a live meter says of it
// (docs/tasks/write-a-profile.md).
#pragma once
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "bus/decoder/fit.hpp"
#include "bus/port/line.hpp"
#include "bus/profile/lint.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct ProfileCheckOptions {
    std::string profile_file;
    std::string live;    // HOST[:PORT]
    std::string serial;  // device
    std::string format = "19200-8E1";
    int unit = 1;
    std::string nominal;  // "230/400", or the phase voltage alone
    double hz = 50.0;
    int times = 2;  // how often the registers are read
    double every_s = 2.0;
    int answer_timeout_ms = 1000;
    bool json = false;
};

// 0: nothing to mend; 1: something to mend; 2: the profile or the meter cannot be read.
[[nodiscard]] int profile_check_command(ProfileCheckOptions const& options, std::ostream& out,
                                        std::ostream& err);

// What one live meter says of the profile. Only reads; a line that breaks is a fault.
struct LiveCheck {
    plan::Nominal nominal;
    int times = 2;
    double every_s = 2.0;
};
[[nodiscard]] std::expected<std::vector<profile::LintFinding>, codec::Fault> live_findings(
    port::Line& line, std::uint8_t unit, profile::Profile const& profile, LiveCheck const& check);

}  // namespace phasewright::commands
