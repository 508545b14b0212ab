// The look of a report: paper and ink, hairlines, three sizes of type, one accent for where the hand goes
// next.
#pragma once
#include <string_view>

namespace phasewright::sheet {

[[nodiscard]] std::string_view style_sheet();

}  // namespace phasewright::sheet
