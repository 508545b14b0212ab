// A judgement about a repair as lines for people, and as one line of JSON (docs/reference/confirm.md).
#pragma once
#include <string>
#include <string_view>

#include "app/commands/reading_lines.hpp"
#include "core/diagnosis/confirmation.hpp"

namespace phasewright::commands {

// Aligned columns for a width of 80, without colour; `name_width` columns for the id, at most 20. Ends with a
// newline.
[[nodiscard]] std::string confirmation_lines(diagnosis::Confirmation const& confirmation,
                                             std::size_t name_width);
// What it does not say; stands at the end.
[[nodiscard]] std::string confirmation_foot();

// `carried`: the x_ fields of the new reading's line as one JSON object, or empty. No newline at the end.
[[nodiscard]] std::string confirmation_json(diagnosis::Confirmation const& confirmation,
                                            plan::ServiceModel const& model, std::string_view moved_at,
                                            std::string_view carried);

// A line of one of the two files that cannot be used.
[[nodiscard]] std::string unusable_json(std::string_view file, std::size_t line, LineFault const& fault);

}  // namespace phasewright::commands
