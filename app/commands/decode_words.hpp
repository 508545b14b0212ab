// What phasewright decode says, for people and as JSON.
#pragma once
#include <string>
#include <vector>

#include "bus/decoder/bench.hpp"
#include "bus/decoder/fit.hpp"

namespace phasewright::commands {

[[nodiscard]] std::string words_of(decoder::Decoding const& decoding, std::vector<decoder::Dump> const& dumps);
[[nodiscard]] std::string words_of(decoder::ProfileFit const& fit, std::string const& profile);
[[nodiscard]] std::string json_line_of(decoder::Decoding const& decoding);
[[nodiscard]] std::string json_line_of(decoder::ProfileFit const& fit);

}  // namespace phasewright::commands
