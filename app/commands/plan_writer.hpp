// A plan as text that reads back as the same plan (docs/reference/plan.md): fields in the order of that page, only those
// that say something, the same bytes for the same plan. Comments of a file that was read are not kept.
#pragma once
#include <string>

#include "bus/tables/table_text.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

[[nodiscard]] std::string write_plan(plan::Site const& site);

[[nodiscard]] tables::TableText panel_text(plan::Panel const& panel);
[[nodiscard]] tables::TableText point_text(plan::MeteringPoint const& point);
[[nodiscard]] tables::TableText cable_text(plan::Cable const& cable);
[[nodiscard]] tables::TableText labels_text(plan::PairLabels const& labels);

template <plan::HasWords Enum>
void write_word(tables::TableText& table, std::string_view field, std::optional<Enum> const& value) {
    if (value) table.text(field, plan::name_of(*value));
}
inline void write_size(tables::TableText& table, std::string_view field, std::optional<plan::ConductorSize> const& size) {
    if (size) table.text(field, plan::text_of(*size));
}

}  // namespace phasewright::commands
