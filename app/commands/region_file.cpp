#include "app/commands/region_file.hpp"

#include <algorithm>
#include <set>
#include <system_error>

#include "app/commands/plan_entries.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/tables/table.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;
using tables::Table;

template <std::size_t N>
std::array<std::string, N> needed_texts(Table const& table, std::string_view field) {
    auto const found = table.texts(field);
    std::array<std::string, N> texts;
    if (found.size() != N || std::ranges::any_of(found, &std::string::empty))
        table.refuse(field, "the list has the wrong length, or a text of it is empty", std::to_string(N) + " texts");
    else std::ranges::copy(found, texts.begin());
    return texts;
}

plan::PhaseNames read_names(Table const& table) {
    table.only({"id", "phases", "neutral", "earth"});
    return {.id = read_id(table),
            .phases = needed_texts<3>(table, "phases"),
            .neutral = table.needed_text("neutral"),
            .earth = table.needed_text("earth")};
}

plan::ColourSet read_colours(Table const& table) {
    table.only({"id", "title", "phases", "neutral", "earth", "high_leg", "least_ll_v", "most_ll_v", "source", "footing"});
    plan::ColourSet set{.id = read_id(table), .title = {}, .phases = needed_texts<3>(table, "phases"), .neutral = {}, .earth = {}};
    set.title = table.text("title").value_or(set.id);
    set.neutral = table.needed_text("neutral");
    set.earth = table.needed_text("earth");
    set.high_leg = table.text("high_leg").value_or("");
    set.least_ll_v = table.number("least_ll_v", positive);
    set.most_ll_v = table.number("most_ll_v", positive);
    set.source = table.needed_text("source");
    set.footing = *plan::meant_by<plan::Footing>(table.needed_word("footing", plan::words_for<plan::Footing>()));
    return set;
}

plan::RuleText read_rule(Table const& table) {
    table.only({"id", "text", "standard", "edition", "clause", "footing"});
    return {.id = read_id(table),
            .text = table.needed_text("text"),
            .standard = table.needed_text("standard"),
            .edition = table.text("edition").value_or(""),
            .clause = table.text("clause").value_or(""),
            .footing = *plan::meant_by<plan::Footing>(table.needed_word("footing", plan::words_for<plan::Footing>()))};
}

template <class Entry, class Read>
std::vector<Entry> read_list(Table const& root, std::string_view field, Read const& read) {
    std::vector<Entry> entries;
    Places ids;
    for (auto const& table : root.tables(field)) {
        entries.push_back(read(table));
        ids.take(table, "id", entries.back().id);
    }
    return entries;
}
}  // namespace

std::expected<plan::Region, Fault> read_region(std::string_view text, std::string const& file, std::string const& name) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"title", "sizes", "primary_marks", "secondary_marks", "phase_names", "colours", "rule"});
    plan::Region region;
    region.name = name;
    region.title = root->text("title").value_or(name);
    region.sizes = *plan::meant_by<plan::SizeSystem>(root->needed_word("sizes", plan::words_for<plan::SizeSystem>()));
    region.primary_marks = needed_texts<2>(*root, "primary_marks");
    region.secondary_marks = needed_texts<2>(*root, "secondary_marks");
    region.phase_names = read_list<plan::PhaseNames>(*root, "phase_names", read_names);
    region.colour_sets = read_list<plan::ColourSet>(*root, "colours", read_colours);
    region.rules = read_list<plan::RuleText>(*root, "rule", read_rule);
    if (region.phase_names.empty())
        root->refuse("phase_names", "the region names no phases", "one or more [[phase_names]]; the first is usual");
    if (root->fault()) return std::unexpected(*root->fault());
    (void)plan::use_names(region, region.phase_names.front().id);
    return region;
}

std::filesystem::path shipped_regions() {
    std::error_code none;
    auto installed = own_executable().parent_path().parent_path() / "share/phasewright/regions";
    if (std::filesystem::is_directory(installed, none)) return installed;
    return std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "regions";
}

RegionFolders regions_beside(std::filesystem::path const& plan_file) {
    return {shipped_regions(), plan_file.parent_path() / "regions"};
}

std::vector<std::string> names_of_regions(RegionFolders const& folders) {
    std::set<std::string> names(plan::built_in_regions.begin(), plan::built_in_regions.end());
    for (auto const& folder : folders) {
        std::error_code none;
        for (auto const& entry : std::filesystem::directory_iterator(folder, none))
            if (entry.path().extension() == ".toml" && is_id(entry.path().stem().string()))
                names.insert(entry.path().stem().string());
    }
    return {names.begin(), names.end()};
}

std::expected<plan::Region, Fault> region_named(RegionFolders const& folders, std::string const& name) {
    if (auto region = plan::region_of(name)) return *region;
    for (auto const& folder : folders) {
        auto const file = folder / (name + ".toml");
        std::error_code none;
        if (!is_id(name) || !std::filesystem::is_regular_file(file, none)) continue;
        auto const text = text_of(file, "the region");
        if (!text) return std::unexpected(text.error());
        return read_region(*text, file.string(), name);
    }
    return std::unexpected(Fault{});
}

}  // namespace phasewright::commands
