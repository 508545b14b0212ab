#include "app/commands/catalogue_file.hpp"

#include "app/commands/plan_entries.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/whole_file.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;
using tables::Range;
using tables::Table;

constexpr Range opening_mm{0.0, 2000.0, true};
constexpr Range cable_m{0.0, 100'000.0};

std::optional<plan::Window> read_window(Table const& ct) {
    auto const table = ct.table("window");
    if (!table) return std::nullopt;
    table->only({"round_mm", "width_mm", "height_mm"});
    if (auto const across = table->number("round_mm", opening_mm)) {
        for (auto const* field : {"width_mm", "height_mm"})
            if (table->has(field))
                table->refuse(field, "a round window has no such field", "either round_mm, or both others");
        return plan::Window{*across, *across, true};
    }
    return plan::Window{table->needed_number("width_mm", opening_mm),
                        table->needed_number("height_mm", opening_mm), false};
}

quantity::TransformerRatio read_ratio(Table const& table) {
    if (!table.has("ratio")) table.refuse("ratio", "the field is missing", "[primary, secondary]");
    auto const pair = table.numbers("ratio", 2, positive);
    if (pair.size() != 2) return {};
    if (pair[0] <= pair[1])
        table.refuse("ratio", "the primary is not greater than the secondary", "[primary, secondary]");
    return {pair[0], pair[1]};
}

design::CtOffer read_ct_offer(Table const& table) {
    table.only({"model", "maker", "ratio", "output", "class", "burden_va", "most_percent", "window", "core",
                "shorting", "highest_v", "source_ohm", "compliance_v", "rated_hz", "own_lead_m"});
    design::CtOffer offer;
    offer.maker = table.text("maker").value_or("");
    offer.ct.model = table.needed_text("model");
    offer.ct.ratio = read_ratio(table);
    if (!table.has("output")) table.refuse("output", "the field is missing", "5A, 1A, mV, mA, coil");
    offer.ct.output = read_word<plan::CtOutput>(table, "output").value_or(plan::CtOutput::unknown);
    offer.ct.accuracy_class = table.text("class").value_or("");
    offer.ct.burden_va = table.number("burden_va", positive);
    offer.ct.most_percent = table.number("most_percent", {100.0, 1000.0});
    offer.ct.window = read_window(table);
    offer.ct.shorting = read_word<plan::Shorting>(table, "shorting");
    offer.core = read_word<design::Core>(table, "core");
    offer.highest_v = table.number("highest_v", positive);
    offer.source_ohm = table.number("source_ohm", not_negative);
    offer.compliance_v = table.number("compliance_v", positive);
    offer.rated_hz = table.number("rated_hz", positive);
    offer.own_lead_m = table.number("own_lead_m", cable_m);
    return offer;
}

design::VtOffer read_vt_offer(Table const& table) {
    table.only({"model", "maker", "ratio", "class", "burden_va"});
    design::VtOffer offer;
    offer.maker = table.text("maker").value_or("");
    offer.vt.model = table.needed_text("model");
    offer.ratio = read_ratio(table);
    offer.vt.accuracy_class = table.text("class").value_or("");
    offer.vt.burden_va = table.number("burden_va", positive);
    return offer;
}

design::FuseOffer read_fuse_offer(Table const& table) {
    table.only({"model", "maker", "rated_a", "volts", "breaking_ka", "let_through_a2s"});
    return {.model = table.needed_text("model"),
            .maker = table.text("maker").value_or(""),
            .rated_a = table.needed_number("rated_a", positive),
            .volts = table.needed_number("volts", positive),
            .breaking_ka = table.needed_number("breaking_ka", positive),
            .let_through_a2s = table.number("let_through_a2s", positive)};
}

design::SupplyOffer read_supply_offer(Table const& table) {
    table.only({"model", "maker", "kind", "input_v", "volts", "available_va", "inrush_a"});
    design::SupplyOffer offer{.model = table.needed_text("model"), .maker = table.text("maker").value_or("")};
    offer.kind = *plan::meant_by<plan::CurrentKind>(table.needed_word("kind", {"ac", "dc"}));
    if (!table.has("input_v")) table.refuse("input_v", "the field is missing", "[least, most] in V");
    if (auto const pair = table.numbers("input_v", 2, positive); pair.size() == 2) {
        offer.input_v = {pair[0], pair[1]};
        if (pair[0] > pair[1]) table.refuse("input_v", "the least is above the most", "[least, most] in V");
    }
    offer.volts = table.needed_number("volts", positive);
    offer.available_va = table.needed_number("available_va", positive);
    offer.inrush_a = table.number("inrush_a", positive);
    return offer;
}

std::optional<plan::WireUse> use_of(std::string const& word) {
    for (auto const use : {plan::WireUse::voltage, plan::WireUse::current, plan::WireUse::supply,
                           plan::WireUse::bus, plan::WireUse::earth})
        if (plan::name_of(use) == word) return use;
    return std::nullopt;
}

design::WireOffer read_wire_offer(Table const& table) {
    table.only({"size", "metal", "strands", "uses", "volts", "k", "ampacity_a", "diameter_mm"});
    design::WireOffer offer;
    if (!table.has("size")) table.refuse("size", "the field is missing", R"("2.5 mm2", "12 AWG")");
    offer.size = read_size(table, "size").value_or(plan::ConductorSize{});
    offer.metal = read_word<plan::Metal>(table, "metal").value_or(plan::Metal::copper);
    offer.strands = read_word<plan::Strands>(table, "strands").value_or(plan::Strands::stranded);
    if (!table.has("uses"))
        table.refuse("uses", "the field is missing", "a list of voltage, current, supply, bus, earth");
    for (auto const& word : table.texts("uses")) {
        auto const use = use_of(word);
        if (use)
            offer.uses.push_back(*use);
        else
            table.refuse("uses", "a word of the list is not known", "voltage, current, supply, bus, earth");
    }
    offer.volts = table.needed_number("volts", positive);
    offer.k = table.number("k", positive);
    offer.ampacity_a = table.number("ampacity_a", positive);
    offer.diameter_mm = table.number("diameter_mm", opening_mm);
    return offer;
}

template <class Entry, class Read>
void read_all(Table const& root, std::string_view field, std::vector<Entry>& entries, Places& models,
              Read const& read) {
    for (auto const& table : root.tables(field)) {
        entries.push_back(read(table));
        if (!root.fault() && table.has("model"))
            models.take(table, "model", *table.text("model"), "another model for each");
    }
}
}  // namespace

std::expected<design::Catalogue, Fault> read_catalogue(std::string_view text, std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"name", "ct", "vt", "fuse", "supply", "wire"});
    design::Catalogue catalogue{.name = root->text("name").value_or("")};
    Places models{"the model has been used before"};
    read_all(*root, "ct", catalogue.cts, models, read_ct_offer);
    read_all(*root, "vt", catalogue.vts, models, read_vt_offer);
    read_all(*root, "fuse", catalogue.fuses, models, read_fuse_offer);
    read_all(*root, "supply", catalogue.supplies, models, read_supply_offer);
    read_all(*root, "wire", catalogue.wires, models, read_wire_offer);
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    return catalogue;
}

std::expected<design::Catalogue, Fault> read_catalogue_file(std::filesystem::path const& file) {
    auto const text = text_of(file, "the catalogue");
    if (!text) return std::unexpected(text.error());
    if (file.extension() != ".csv") return read_catalogue(*text, file.string());
    auto cts = read_ct_list(*text, file.string());
    if (!cts) return std::unexpected(cts.error());
    return design::Catalogue{.name = file.stem().string(), .cts = std::move(*cts)};
}

std::filesystem::path shipped_catalogue() {
    std::error_code none;
    auto installed =
        own_executable().parent_path().parent_path() / "share/phasewright/catalogues/invented.toml";
    if (std::filesystem::is_regular_file(installed, none)) return installed;
    return std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "catalogues/invented.toml";
}

}  // namespace phasewright::commands
