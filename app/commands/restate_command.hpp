// phasewright restate DATA: what the energy really was while a meter was wired wrong
// (docs/reference/restate.md). Interval data and a wiring in; a corrected series, a total with its range and
// the trade's plain number out, or a refusal that says what would help. It says nothing about who owes what:
// limits and rates are rules of the place.
#pragma once
#include <cstdint>
#include <iosfwd>
#include <optional>
#include <string>

namespace phasewright::commands {

// As they stand on the command line; empty where not given.
struct RestateOptions {
    std::string data_file;
    std::string service, nominal;
    std::string wiring, voltage, neutral, ratio;  // or
    std::string verdict_file, id;
    std::string rotation, register_kind;
    std::string shares, power_factor;
    std::optional<double> balanced_within, unbalance, interval_s, limit_days;
    std::string ct_class, meter_class, limit_until;
    std::uint64_t seed = 1;
    std::string out_file;
    bool json = false;
};

// 0: restated. 2: refused (said on `out`) or it could not be done (said on `err`).
[[nodiscard]] int restate_command(RestateOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
