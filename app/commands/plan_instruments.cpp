#include "app/commands/plan_instruments.hpp"

#include <cmath>

#include "app/commands/plan_entries.hpp"

namespace phasewright::commands {

namespace {
using tables::Range;
using tables::Table;

constexpr Range cable_m{0.0, 100'000.0};
constexpr std::string_view voltage_inputs = "voltage-inputs";
constexpr Range opening_mm{0.0, 2000.0, true};

std::optional<plan::Window> read_window(Table const& ct) {
    auto const table = ct.table("window");
    if (!table) return std::nullopt;
    table->only({"round_mm", "width_mm", "height_mm"});
    if (auto const across = table->number("round_mm", opening_mm)) {
        for (auto const* field : {"width_mm", "height_mm"})
            if (table->has(field)) table->refuse(field, "a round window has no such field", "either round_mm, or both others");
        return plan::Window{*across, *across, true};
    }
    return plan::Window{table->needed_number("width_mm", opening_mm), table->needed_number("height_mm", opening_mm), false};
}
}  // namespace

plan::CurrentTransformer read_ct(Table const& table) {
    table.only({"ratio", "output", "class", "model", "burden_va", "most_percent", "window", "shorting"});
    plan::CurrentTransformer ct;
    if (!table.has("ratio")) table.refuse("ratio", "the field is missing", "[primary, secondary], such as [200, 5]");
    auto const pair = table.numbers("ratio", 2, positive);
    if (pair.size() == 2) {
        ct.ratio = {pair[0], pair[1]};
        if (pair[0] <= pair[1])
            table.refuse("ratio", "the primary is not greater than the secondary", "[primary, secondary], such as [200, 5]");
    }
    if (auto const output = read_word<plan::CtOutput>(table, "output")) ct.output = *output;
    double const rated = ct.output == plan::CtOutput::five_amperes ? 5.0 : 1.0;
    bool const is_rated = ct.output == plan::CtOutput::five_amperes || ct.output == plan::CtOutput::one_ampere;
    if (is_rated && pair.size() == 2 && std::abs(pair[1] - rated) > 1e-9)
        table.refuse("ratio", "the secondary does not fit the output",
                     "a secondary of " + quantity::shortest(rated) + " for " + std::string{plan::name_of(ct.output)});
    ct.accuracy_class = table.text("class").value_or("");
    ct.model = table.text("model").value_or("");
    ct.burden_va = table.number("burden_va", positive);
    ct.most_percent = table.number("most_percent", {100.0, 1000.0});
    ct.window = read_window(table);
    ct.shorting = read_word<plan::Shorting>(table, "shorting");
    return ct;
}

plan::VoltageTransformer read_voltage_transformer(Table const& table) {
    table.only({"model", "class", "burden_va"});
    plan::VoltageTransformer transformer;
    transformer.model = table.text("model").value_or("");
    transformer.accuracy_class = table.text("class").value_or("");
    transformer.burden_va = table.number("burden_va", positive);
    return transformer;
}

plan::Lead read_lead(Table const& table) {
    table.only({"length_m", "size", "metal", "strands", "return", "temperature_c"});
    plan::Lead lead;
    lead.length_m = table.needed_number("length_m", cable_m);
    lead.size = read_size(table, "size");
    lead.metal = read_word<plan::Metal>(table, "metal");
    lead.strands = read_word<plan::Strands>(table, "strands");
    lead.way_back = read_word<plan::Return>(table, "return");
    lead.temperature_c = table.number("temperature_c", {-80.0, 200.0});
    return lead;
}

plan::VoltageTap read_tap(Table const& table) {
    table.only({"size", "metal", "strands", "length_m", "unprotected_m", "protection", "fuse_a", "breaking_ka", "let_through_a2s"});
    plan::VoltageTap tap;
    tap.size = read_size(table, "size");
    tap.metal = read_word<plan::Metal>(table, "metal");
    tap.strands = read_word<plan::Strands>(table, "strands");
    tap.length_m = table.number("length_m", cable_m);
    tap.unprotected_m = table.number("unprotected_m", cable_m);
    tap.protection = read_word<plan::TapProtection>(table, "protection");
    tap.fuse_a = table.number("fuse_a", positive);
    tap.breaking_ka = table.number("breaking_ka", positive);
    tap.let_through_a2s = table.number("let_through_a2s", positive);
    if (tap.length_m && tap.unprotected_m && *tap.unprotected_m > *tap.length_m)
        table.refuse("unprotected_m", "this is more than the whole length, in " + table.place_of("length_m"),
                     "at most length_m, " + quantity::shortest(*tap.length_m));
    if (tap.fuse_a && tap.protection && *tap.protection != plan::TapProtection::fuse)
        table.refuse("fuse_a", "the tap has a fuse here and another protection in " + table.place_of("protection"),
                     "protection = \"fuse\", or no fuse_a");
    return tap;
}

plan::ControlSupply read_control_supply(Table const& table, plan::Site const& site) {
    table.only({"id", "name", "source", "panel", "way", "kind", "volts", "available_va", "inrush_a", "fuse_a",
                "tied_to_bus_common"});
    plan::ControlSupply supply{.id = read_id(table), .name = {}, .source = {}, .panel = {}, .way = {}};
    if (supply.id == voltage_inputs) table.refuse("id", "this word stands for no supply at all", "another id");
    supply.name = table.text("name").value_or(supply.id);
    supply.source = table.text("source").value_or("");
    supply.panel = named_entry(table, "panel", site.panels, "panel");
    supply.way = table.text("way").value_or("");
    supply.kind = *plan::meant_by<plan::CurrentKind>(table.needed_word("kind", {"ac", "dc"}));
    supply.volts = table.needed_number("volts", {1.0, 1000.0});
    supply.available_va = table.number("available_va", positive);
    supply.inrush_a = table.number("inrush_a", positive);
    supply.fuse_a = table.number("fuse_a", positive);
    supply.tied_to_bus_common = table.flag("tied_to_bus_common");
    return supply;
}

plan::SupplyFeed read_supply_feed(Table const& table, plan::Site const& site) {
    table.only({"from", "length_m", "size", "polarity", "power_w", "power_va", "tied_to_bus_common"});
    plan::SupplyFeed feed;
    if (table.text("from") != voltage_inputs) feed.supply = named_entry(table, "from", site.supplies, "supply");
    if (!table.has("from"))
        table.refuse("from", "the field is missing", "the id of a supply, or \"voltage-inputs\"");
    feed.length_m = table.number("length_m", cable_m).value_or(0.0);
    feed.size = read_size(table, "size");
    feed.polarity = read_word<plan::Polarity>(table, "polarity");
    feed.power_w = table.number("power_w", positive);
    feed.power_va = table.number("power_va", positive);
    feed.tied_to_bus_common = table.flag("tied_to_bus_common");
    return feed;
}

}  // namespace phasewright::commands
