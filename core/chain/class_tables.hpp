// All class tables together, as data that a caller may replace: editions differ. The built-in ones are
// written from copies and from memory (docs/reference/accuracy-classes.md says which); `confirmed` marks
// those that a user has held against the edition in force.
#pragma once
#include <string_view>
#include <vector>

#include "core/chain/meter_class.hpp"
#include "core/chain/transformer_class.hpp"

namespace phasewright::chain {

struct ClassTables {
    std::vector<TransformerClass> ct;
    std::vector<TransformerClass> vt;
    std::vector<MeterClass> meters;
};
[[nodiscard]] ClassTables const& built_in_tables();

// Null: not in the tables. The text is as a plate writes it: "0.5S", "class 1", "0.3 B-0.1".
[[nodiscard]] TransformerClass const* ct_class(ClassTables const& tables, std::string_view text);
[[nodiscard]] TransformerClass const* vt_class(ClassTables const& tables, std::string_view text);
// By standard and word: "IEC 62053-22", "0.5S". The standard may carry its edition or a part of its name.
[[nodiscard]] MeterClass const* meter_class(ClassTables const& tables, std::string_view standard,
                                            std::string_view word);
// Of active energy, the narrowest of those that the profile names and the tables have.
[[nodiscard]] MeterClass const* meter_class(ClassTables const& tables, plan::MeterHardware const& meter);

// With every table of that standard confirmed, and its edition named.
[[nodiscard]] ClassTables confirmed(ClassTables tables, std::string_view standard, std::string_view edition);

}  // namespace phasewright::chain
