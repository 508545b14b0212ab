// The evidence in words, one sentence each.
#pragma once
#include <string>
#include <vector>

#include "bus/linefault/evidence.hpp"

namespace phasewright::linefault {

[[nodiscard]] std::vector<std::string> words_of(Evidence const& evidence);
// "between the 8th device (unit 8) and the 9th (unit 9)"; devices stand in their order.
[[nodiscard]] std::string joint_words(int after, std::vector<Device> const& devices);

}  // namespace phasewright::linefault
