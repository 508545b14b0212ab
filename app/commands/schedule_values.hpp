// What stands in the cells of a schedule, as people write it: "1.250,5", "63 A", "200/5", "200A:333mV", "2x120 mm2",
// "3ph 4w". What can be read in two ways is refused, never guessed.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <string_view>

#include "app/commands/schedule_columns.hpp"
#include "core/plan/instruments.hpp"
#include "core/plan/service.hpp"

namespace phasewright::commands {

// A value, or in words why there is none.
template <class Value>
using Told = std::expected<Value, std::string>;

enum class DecimalSign { unknown, point, comma };
// What one cell gives away: "1,5" a comma, "0.5" a point, "1.234" and "63" nothing.
[[nodiscard]] DecimalSign sign_shown_by(std::string_view text);

[[nodiscard]] Told<double> number_in(std::string_view text, DecimalSign sign);
// With a unit behind it, or in that of the header: "20 ft" in a column of m is 6.096.
[[nodiscard]] Told<double> quantity_in(std::string_view text, DecimalSign sign, ColumnHead const& head, Unit const& of_header);

struct RatioInCell {
    quantity::TransformerRatio ratio;
    plan::CtOutput output = plan::CtOutput::unknown;
};
[[nodiscard]] Told<RatioInCell> ratio_in(std::string_view text, DecimalSign sign);

struct SizeInCell {
    std::optional<int> count;  // "2x": so many beside each other
    plan::ConductorSize size;
};
// "2x120 mm2" is two cables. Three and more may be the cores of one: refused unless `count_is_known`.
[[nodiscard]] Told<SizeInCell> size_in(std::string_view text, DecimalSign sign, Unit const& of_header, bool count_is_known);

[[nodiscard]] Told<plan::Service> service_in(std::string_view text);
[[nodiscard]] Told<bool> yes_or_no_in(std::string_view text);
[[nodiscard]] bool means_to_choose(std::string_view text);  // "to choose", "tbd", "?", "-"

[[nodiscard]] std::string trimmed(std::string_view text);
// An id made of a name: "B\xC3\xBCro 2. OG" -> "buero-2-og"; empty when nothing is left of it.
[[nodiscard]] std::string id_from(std::string_view text);

}  // namespace phasewright::commands
