// What every table of a plan does alike: ids, entries that name each other by them, words, sizes.
#pragma once
#include <algorithm>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "bus/tables/table.hpp"
#include "core/plan/conductor_size.hpp"
#include "core/plan/service.hpp"
#include "core/plan/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

inline constexpr tables::Range positive{0.0, std::numeric_limits<double>::infinity(), true};
inline constexpr tables::Range not_negative{0.0, std::numeric_limits<double>::infinity()};

// The one word that stands for a part which nobody has chosen yet.
inline constexpr std::string_view to_choose = "to-choose";

// Small letters, digits and hyphens: an id is a key in other files and a name in addresses.
[[nodiscard]] std::string read_id(tables::Table const& table, std::string_view field = "id");
[[nodiscard]] bool is_id(std::string_view text);

// Where each name was first used, so that a second use names both places.
class Places {
public:
    explicit Places(std::string what = "the id has been used before") : what_(std::move(what)) {}

    // Refuses `field` when `key` stands elsewhere already.
    void take(tables::Table const& table, std::string_view field, std::string const& key,
              std::string const& allowed = "another id for each") {
        auto const [first, is_new] = places_.emplace(key, table.place_of(field));
        if (!is_new) table.refuse(field, what_ + ", in " + first->second, allowed);
    }
    [[nodiscard]] std::string of(std::string const& key) const {
        auto const found = places_.find(key);
        return found == places_.end() ? std::string{} : found->second;
    }

private:
    std::string what_;
    std::map<std::string, std::string> places_;
};

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

// The id of an entry that a field may name; empty when the field is not there.
template <class Entries>
[[nodiscard]] std::string named_entry(tables::Table const& table, std::string_view field, Entries const& entries,
                                      std::string const& kind) {
    if (!table.has(field)) return {};
    auto const* const entry = entry_of(table, field, entries, kind);
    return entry == nullptr ? std::string{} : entry->id;
}

template <plan::HasWords Enum>
[[nodiscard]] std::optional<Enum> read_word(tables::Table const& table, std::string_view field) {
    auto const word = table.word(field, plan::words_for<Enum>());
    return word ? plan::meant_by<Enum>(*word) : std::nullopt;
}

[[nodiscard]] std::optional<plan::ConductorSize> read_size(tables::Table const& table, std::string_view field);
[[nodiscard]] std::optional<plan::Conductor> read_conductor(tables::Table const& table, std::string_view field);

}  // namespace phasewright::commands
