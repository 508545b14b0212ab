#include "app/commands/plan_entries.hpp"

namespace phasewright::commands {

using tables::Table;

bool is_id(std::string_view text) {
    return !text.empty() && text.size() <= 40 && text.front() != '-' &&
           text.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789-") == std::string_view::npos;
}

std::string read_id(Table const& table, std::string_view field) {
    auto const id = table.needed_text(field);
    if (!is_id(id) && table.has(field))
        table.refuse(field, "the text is not an id",
                     "1 to 40 small letters, digits and hyphens, beginning with a letter or a digit");
    return id;
}

std::optional<plan::ConductorSize> read_size(Table const& table, std::string_view field) {
    auto const text = table.text(field);
    if (!text) return std::nullopt;
    auto const size = plan::conductor_size_of(*text);
    if (!size) table.refuse(field, "this is no conductor size", R"("2.5 mm2", "12 AWG", "4/0 AWG", "250 kcmil")");
    return size;
}

std::optional<plan::Conductor> read_conductor(Table const& table, std::string_view field) {
    auto const word = table.word(field, {"a", "b", "c"});
    return word ? plan::conductor_of(*word) : std::nullopt;
}

}  // namespace phasewright::commands
