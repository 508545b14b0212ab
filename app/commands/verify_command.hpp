// `phasewright verify`: is the record of a job unchanged since its heads were signed
// (docs/reference/records.md, "Verify").
#pragma once
#include <iosfwd>
#include <string>
#include <vector>

namespace phasewright::commands {

struct VerifyOptions {
    std::string job;
    std::vector<std::string> heads;  // from a certificate or another copy
};

// 0: unchanged, as far as the record can show; 1: something does not fit; 2: it could not be opened.
[[nodiscard]] int verify_command(VerifyOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
