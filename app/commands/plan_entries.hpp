// What every table of a plan does alike: ids, and entries that name each other by them.
#pragma once
#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "bus/tables/table.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

// Small letters, digits and hyphens: an id is a key in other files and a name in addresses.
[[nodiscard]] std::string read_id(tables::Table const& table, std::string_view field = "id");

template <class Entries>
void refuse_twice(tables::Table const& table, Entries const& before, std::string const& id) {
    if (std::ranges::any_of(before, [&](auto const& entry) { return entry.id == id; }))
        table.refuse("id", "the id has been used before", "another id for each");
}

// The entry that the field names, or null after a refusal.
template <class Entries>
[[nodiscard]] auto const* entry_of(tables::Table const& table, std::string_view field, Entries const& entries,
                                   std::string const& kind) {
    auto const id = table.needed_text(field);
    auto const found = std::ranges::find_if(entries, [&](auto const& entry) { return entry.id == id; });
    if (found != entries.end()) return &*found;
    std::vector<std::string> ids;
    ids.reserve(entries.size());
    for (auto const& entry : entries) ids.push_back(entry.id);
    table.refuse(field, "the plan has no such " + kind,
                 ids.empty() ? "none is in the plan" : quantity::joined(ids, ", "),
                 ids.empty() ? "" : "did you mean \"" + quantity::nearest_word(id, ids) + "\"?");
    return static_cast<decltype(&*found)>(nullptr);
}

}  // namespace phasewright::commands
