// phasewright decode: registers that nobody has described, or a profile that may have a slip, against what the meter
// holds (docs/tasks/decode-an-unknown-meter.md).
#pragma once
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace phasewright::commands {

struct DecodeOptions {
    std::vector<std::string> dump_files;
    std::string nominal;           // "230/400"; a single number is the phase voltage
    double hz = 50.0;
    std::string current;           // "5-60"
    int phases = 3;
    std::string profile_file;      // does it fit?
    std::string propose_file;      // write the proposed profile here
    bool json = false;

    std::string read_from;         // HOST[:PORT], or a serial device
    int unit = 1;
    int function = 3;
    int from = 0;
    int count = 0;
    int longest = 125;
    int times = 1;
    double every_s = 60.0;
    int answer_timeout_ms = 1000;
    int speed = 19200;
    std::string parity = "even";
    std::string save_file;         // write the dump here
};

[[nodiscard]] int decode_command(DecodeOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
