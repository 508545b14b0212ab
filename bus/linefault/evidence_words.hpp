// The evidence in words, one sentence each.
#pragma once
#include <string>
#include <vector>

#include "bus/linefault/evidence.hpp"

namespace phasewright::linefault {

[[nodiscard]] std::vector<std::string> words_of(Evidence const& evidence);

}  // namespace phasewright::linefault
