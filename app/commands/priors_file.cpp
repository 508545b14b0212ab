#include "app/commands/priors_file.hpp"

#include <array>
#include <cmath>
#include <fstream>
#include <sstream>
#include <vector>

#include "bus/tables/table.hpp"
#include "core/diagnosis/prior_numbers.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {
using diagnosis::PriorNumber;
using tables::Range;
using tables::Table;

constexpr double sum_tolerance = 1e-6;
constexpr Range any_weight{0.0, 1.0, true};
constexpr Range any_angle_deg{-180.0, 360.0};

Range range_of(diagnosis::NumberRange const& range) { return {range.least, range.most, range.above_least}; }

template <class Set, std::size_t count>
void read_numbers(Table const& table, std::array<PriorNumber<Set>, count> const& numbers, Set& set) {
    for (auto const& number : numbers)
        if (auto const value = table.number(number.name, range_of(number.range))) set.*number.at = *value;
}

template <class Set, std::size_t count>
std::vector<std::string> names_of(std::array<PriorNumber<Set>, count> const& numbers) {
    std::vector<std::string> names;
    for (auto const& number : numbers) names.emplace_back(number.name);
    return names;
}

template <class Set, std::size_t count>
void read_flat(Table const& root, std::string_view field, std::array<PriorNumber<Set>, count> const& numbers,
               Set& set) {
    auto const table = root.table(field);
    if (!table) return;
    table->only(names_of(numbers));
    read_numbers(*table, numbers, set);
}

diagnosis::AngleAtom read_atom(Table const& table, bool weighted) {
    diagnosis::AngleAtom atom{.weight = 1.0};
    table.only(weighted ? std::vector<std::string>{"weight", "mean_deg", "sigma_deg"}
                        : std::vector<std::string>{"mean_deg", "sigma_deg"});
    if (weighted) atom.weight = table.needed_number("weight", any_weight);
    atom.mean_deg = table.needed_number("mean_deg", any_angle_deg);
    atom.sigma_deg = table.needed_number("sigma_deg", range_of(diagnosis::any_width_deg));
    return atom;
}

void read_kind(Table const& load, std::string_view name, diagnosis::KindBelief& belief) {
    auto const table = load.table(name);
    if (!table) return;
    auto known = names_of(diagnosis::kind_numbers);
    known.insert(known.end(), {"angles", "exporting"});
    table->only(known);
    read_numbers(*table, diagnosis::kind_numbers, belief);
    if (auto const exporting = table->table("exporting")) belief.export_atom = read_atom(*exporting, false);
    if (!table->has("angles")) return;
    belief.atoms.clear();
    double sum = 0.0;
    for (auto const& entry : table->tables("angles")) {
        belief.atoms.push_back(read_atom(entry, true));
        sum += belief.atoms.back().weight;
    }
    if (std::abs(sum - 1.0) > sum_tolerance)
        table->refuse("angles", "the weights of the load angles sum to " + quantity::shortest(sum),
                      "weights that sum to 1 (within " + quantity::shortest(sum_tolerance) + ")",
                      "export has its own probability and stands outside this sum");
}

void read_load(Table const& root, diagnosis::LoadBeliefs& load) {
    auto const table = root.table("load");
    if (!table) return;
    auto known = names_of(diagnosis::load_numbers);
    known.emplace_back("export_probability");
    for (auto const& kind : diagnosis::kinds_of_load) known.emplace_back(kind.name);
    table->only(known);
    read_numbers(*table, diagnosis::load_numbers, load);
    read_flat(*table, "export_probability", diagnosis::export_numbers, load.exports);
    for (auto const& kind : diagnosis::kinds_of_load) read_kind(*table, kind.name, load.*kind.at);
}

void check_thresholds(Table const& root, diagnosis::Thresholds const& thresholds) {
    auto const table = root.table("threshold");
    if (!table) return;
    if (thresholds.mistake_at >= thresholds.as_planned_at)
        table->refuse("mistake", "the threshold is not below that of as_planned",
                      "below " + quantity::shortest(thresholds.as_planned_at));
    if (thresholds.dead_share >= thresholds.low_load_share)
        table->refuse("dead_share", "the share is not below low_load_share",
                      "below " + quantity::shortest(thresholds.low_load_share));
}
}  // namespace

std::expected<diagnosis::PriorSet, quantity::Fault> read_priors(std::string_view text,
                                                                std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"stage", "odds", "spread", "supply", "load", "threshold"});
    auto const stage = root->needed_word("stage", {"first-commissioning", "in-service"});
    auto set = diagnosis::built_in_priors(stage == "in-service" ? readings::Prior::in_service
                                                                : readings::Prior::commissioning);
    set.name = file;
    read_flat(*root, "odds", diagnosis::odds_numbers, set.odds);
    read_flat(*root, "spread", diagnosis::spread_numbers, set.spread);
    read_flat(*root, "supply", diagnosis::supply_numbers, set.supply);
    read_load(*root, set.load);
    read_flat(*root, "threshold", diagnosis::threshold_numbers, set.thresholds);
    check_thresholds(*root, set.thresholds);
    if (root->fault()) return std::unexpected(*root->fault());
    return set;
}

std::expected<diagnosis::PriorSets, quantity::Fault> priors_from(std::filesystem::path const& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    if (in) text << in.rdbuf();
    if (!in || !text)
        return std::unexpected(quantity::Fault{"the file of priors cannot be read",
                                               file.string(),
                                               {},
                                               "a TOML file as docs/reference/priors.md says",
                                               "look at the path and its permissions"});
    auto set = read_priors(text.str(), file.string());
    if (!set) return std::unexpected(set.error());
    set->name = file.filename().string();
    return diagnosis::PriorSets{*set, *set};
}

}  // namespace phasewright::commands
