// The loader of docs/reference/profile.md.
#include <algorithm>
#include <fstream>
#include <sstream>

#include <fmt/format.h>

#include "bus/profile/field_file.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/section_files.hpp"

namespace phasewright::profile {

namespace {

using tables::Table;

std::vector<std::string> measure_names() {
    std::vector<std::string> names;
    for (auto const& words : all_measures()) names.emplace_back(words.name);
    return names;
}

std::size_t count_of(Profile const& profile, Measure measure) {
    auto const found = profile.measurements.find(measure);
    return found == profile.measurements.end() ? 0 : found->second.size();
}

void read_measurements(Table const& root, Defaults const& defaults, Profile& profile) {
    auto const table = root.table("measurements");
    if (!table) {
        if (!root.has("measurements"))
            root.refuse("measurements", "a profile without measurements", "at least v and i");
        return;
    }
    table->only(measure_names());
    for (auto const& words : all_measures()) {
        if (auto const measurement = table->table(words.name)) {
            profile.measurements[words.measure] = read_measurement(*measurement, words, defaults);
        }
    }
    for (auto const* const needed : {"v", "i"}) {
        if (!table->has(needed))
            table->refuse(needed, "this measurement is missing", "a table with registers");
    }
    std::size_t const phases = count_of(profile, Measure::v);
    for (auto const& words : all_measures()) {
        std::size_t const count = count_of(profile, words.measure);
        if (!words.is_list || words.measure == Measure::v_ll || count == 0 || count == phases) continue;
        table->refuse(words.name, fmt::format("{} has {} phases, v has {}", words.name, count, phases),
                      "the same number of phases everywhere");
    }
}

// A scale register has one meaning, whoever uses it.
void check_scales(Table const& root, Profile const& profile) {
    std::map<std::pair<codec::Function, std::uint16_t>, ScaleRegister> seen;
    for (auto const& [measure, fields] : profile.measurements) {
        if (fields.empty() || !fields.front().scale_register) continue;
        auto const& scale = *fields.front().scale_register;
        auto const [known, is_new] = seen.try_emplace({scale.function, scale.address}, scale);
        if (is_new || (known->second.kind == scale.kind && known->second.usual == scale.usual)) continue;
        root.refuse("measurements",
                    fmt::format("the scale register of {} is described in two ways", name_of(measure)),
                    "the same scale_kind and scale_usual wherever it is used");
    }
}

// One-based phases of the file to indices; refuses what the profile does not have and what comes twice.
std::vector<int> read_phases(Table const& table, std::string_view field, std::size_t available,
                             std::string_view of) {
    std::vector<int> indices;
    for (long long const phase : table.wholes(field, {.least = 1, .most = 3})) {
        auto const index = static_cast<int>(phase - 1);
        if (static_cast<std::size_t>(phase) > available) {
            table.refuse(field, fmt::format("number {} of {} does not exist", phase, of),
                         fmt::format("1 to {}", available));
        }
        if (std::ranges::find(indices, index) != indices.end()) {
            table.refuse(field, fmt::format("number {} stands twice", phase), "each number once");
        }
        indices.push_back(index);
    }
    return indices;
}

void check_counts(Table const& table, ServiceShape const& shape) {
    auto const model = plan::model_of(shape.service);
    bool const any_count = shape.service == plan::Service::one_phase_two_wire;  // one element a branch
    if (!any_count && shape.elements.size() != model.elements.size()) {
        table.refuse("elements", fmt::format("{} elements", shape.elements.size()),
                     fmt::format("{} for {}", model.elements.size(), plan::code_of(shape.service)));
    }
    if (!shape.lines.empty() && shape.lines.size() != model.line_pairs.size()) {
        table.refuse("lines", fmt::format("{} line voltages", shape.lines.size()),
                     fmt::format("{} for {}", model.line_pairs.size(), plan::code_of(shape.service)));
    }
    if (!shape.v_from_lines.empty() && shape.v_from_lines.size() != shape.elements.size()) {
        table.refuse("v_from_lines", fmt::format("{} line voltages", shape.v_from_lines.size()),
                     fmt::format("{}, one an element", shape.elements.size()));
    }
}

ServiceShape read_service(Table const& table, Profile const& profile) {
    table.only({"service", "elements", "lines", "v_from_lines", "setting"});
    std::vector<std::string> codes;
    codes.reserve(plan::all_services.size());
    for (auto const service : plan::all_services) codes.emplace_back(plan::code_of(service));
    ServiceShape shape;
    shape.service =
        plan::service_of(table.needed_word("service", codes)).value_or(plan::Service::four_wire_wye);
    if (!table.has("elements"))
        table.refuse("elements", "the field is missing", "a list of phases, such as [1, 2, 3]");
    shape.elements = read_phases(table, "elements", count_of(profile, Measure::v), "v");
    shape.lines = read_phases(table, "lines", count_of(profile, Measure::v_ll), "v_ll");
    shape.v_from_lines = read_phases(table, "v_from_lines", count_of(profile, Measure::v_ll), "v_ll");
    shape.setting = table.whole("setting");
    check_counts(table, shape);
    return shape;
}

void read_services(Table const& root, Profile& profile) {
    for (auto const& table : root.tables("services")) {
        auto shape = read_service(table, profile);
        if (std::ranges::find(profile.services, shape.service, &ServiceShape::service) !=
            profile.services.end()) {
            table.refuse("service", "this service stands twice", "each service once");
        }
        profile.services.push_back(std::move(shape));
    }
    if (profile.services.empty()) {
        root.refuse("services", "a profile without services",
                    "at least one [[services]] with service and elements");
    }
}

void read_identity(Table const& root, Defaults const& defaults, IdentityFields& identity) {
    if (auto const table = root.table("serial_number"))
        identity.serial_number = read_single_field(*table, defaults);
    auto const table = root.table("identity");
    if (!table) return;
    table->only({"vendor", "model", "serial", "device_identification"});
    if (auto const text = table->table("vendor")) identity.vendor_text = read_text_field(*text, defaults);
    if (auto const text = table->table("model")) identity.model_text = read_text_field(*text, defaults);
    if (auto const text = table->table("serial")) identity.serial_text = read_text_field(*text, defaults);
    identity.device_identification = table->flag("device_identification").value_or(false);
}

void read_terminals(Table const& root, Profile& profile) {
    auto const table = root.table("terminals");
    if (!table) {
        if (!root.has("terminals"))
            root.refuse("terminals", "the terminals have no names", "voltage, neutral, current");
        return;
    }
    table->only({"voltage", "neutral", "current", "supply", "bus", "earth"});
    profile.terminals.voltage = table->texts("voltage");
    profile.terminals.neutral = table->text("neutral").value_or("N");
    for (auto const& pair : table->tables("current")) {
        pair.only({"s1", "s2"});
        profile.terminals.current.push_back({pair.needed_text("s1"), pair.needed_text("s2")});
    }
    auto const demand = [&](std::string_view field, std::size_t named, Measure measure) {
        std::size_t const measured = count_of(profile, measure);
        if (named == measured) return;
        table->refuse(field, fmt::format("{} of the meter's {} have names", named, measured),
                      "a name for each phase");
    };
    demand("voltage", profile.terminals.voltage.size(), Measure::v);
    demand("current", profile.terminals.current.size(), Measure::i);
}

readings::SignHabit habit_in(Table const& table, std::string_view field, readings::SignHabit usual) {
    auto const word = table.word(field, {"iec", "ieee", "unsigned", "unknown"});
    if (!word) return usual;
    if (*word == "iec") return readings::SignHabit::iec;
    if (*word == "ieee") return readings::SignHabit::ieee;
    return *word == "unsigned" ? readings::SignHabit::unsigned_ : readings::SignHabit::unknown;
}

void read_signs(Table const& root, Profile& profile) {
    auto const table = root.table("signs");
    if (!table) return;
    table->only({"pf", "var"});
    profile.pf_sign = habit_in(*table, "pf", profile.pf_sign);
    profile.var_sign = habit_in(*table, "var", profile.var_sign);
}

std::vector<std::string> top_level() {
    auto known = format_fields();
    for (auto const* const field : {"name", "maker", "about", "base", "longest_read", "bridge",
                                    "legal", "measurements", "energies", "services", "settings",
                                    "serial_number", "identity", "terminals", "signs", "current_inputs",
                                    "voltage_inputs", "wires", "supply", "limits", "accuracy", "bus"}) {
        known.emplace_back(field);
    }
    return known;
}

}  // namespace

std::expected<Profile, quantity::Fault> read_profile(std::string_view toml_text, std::string const& where) {
    auto const root = Table::parse(toml_text, where);
    if (!root) return std::unexpected(root.error());
    root->only(top_level());
    Profile profile;
    profile.name = root->needed_text("name");
    profile.maker = root->needed_text("maker");
    profile.about = root->text("about").value_or("");
    auto const defaults = read_defaults(*root);
    profile.longest_read =
        static_cast<unsigned>(root->whole("longest_read", {.least = 4, .most = 125}).value_or(125));
    profile.bridge = static_cast<unsigned>(root->whole("bridge", {.least = 0, .most = 124}).value_or(0));
    read_measurements(*root, defaults, profile);
    check_scales(*root, profile);
    read_services(*root, profile);
    profile.settings = read_settings(*root, defaults, profile.services);
    profile.energies = read_energy_registers(*root, defaults, count_of(profile, Measure::v));
    profile.legal = root->flag("legal").value_or(false);
    profile.hardware = read_hardware(*root);
    read_identity(*root, defaults, profile.identity);
    read_terminals(*root, profile);
    read_signs(*root, profile);
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    return profile;
}

std::expected<Profile, quantity::Fault> read_profile_file(std::string const& path) {
    std::ifstream file(path, std::ios::binary);
    if (!file) {
        return std::unexpected(quantity::Fault{.what = "the profile cannot be opened",
                                               .where = path,
                                               .found = {},
                                               .allowed = "a readable file",
                                               .remedy = "see which profiles the folder holds"});
    }
    std::ostringstream text;
    text << file.rdbuf();
    return read_profile(text.str(), path);
}

}  // namespace phasewright::profile
