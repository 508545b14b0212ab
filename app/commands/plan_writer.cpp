#include "app/commands/plan_writer.hpp"

namespace phasewright::commands {

namespace {
using tables::TableText;

std::string time_zone_text(int minutes) {
    int const away = minutes < 0 ? -minutes : minutes;
    auto const two = [](int number) { return (number < 10 ? "0" : "") + std::to_string(number); };
    return (minutes < 0 ? "-" : "+") + two(away / 60) + ":" + two(away % 60);
}

TableText site_text(plan::Site const& site) {
    TableText table;
    table.text("name", site.name);
    table.text_unless_empty("place", site.place);
    auto const& region = site.region;
    table.text("region", region.name);
    if (!region.phase_names.empty() && region.names_in_use != region.phase_names.front().id)
        table.text("phase_names", region.names_in_use);
    table.text_unless_empty("colours", region.colours);
    table.text("stage", site.first_commissioning ? "first-commissioning" : "in-service");
    if (site.utc_offset_min) table.text("meter_time_zone", time_zone_text(*site.utc_offset_min));
    return table;
}

// The name of an entry is its id where nobody gave it another.
template <class Entry>
TableText named(Entry const& entry) {
    TableText table;
    table.text("id", entry.id);
    if (entry.name != entry.id) table.text("name", entry.name);
    return table;
}

TableText room_text(plan::Room const& room) {
    auto table = named(room);
    table.text_unless_empty("floor", room.floor);
    return table;
}

TableText way_text(plan::Way const& way) {
    TableText table;
    table.text("way", way.id);
    std::vector<std::string> letters;
    for (auto const conductor : way.conductors) letters.emplace_back(1, plan::letter_of(conductor));
    if (!letters.empty()) table.texts("conductors", letters);
    table.number("breaker_a", way.breaker_a);
    table.text_unless_empty("name", way.name);
    return table;
}

TableText enclosure_text(plan::Enclosure const& enclosure) {
    TableText table;
    write_word(table, "stands", enclosure.stands);
    table.text_unless_empty("protection", enclosure.protection);
    std::vector<std::string> entries;
    for (auto const entry : enclosure.entries) entries.emplace_back(plan::name_of(entry));
    if (!entries.empty()) table.texts("cable_entry", entries);
    if (auto const range = enclosure.temperature_c) table.numbers("temperature_c", {range->least, range->most});
    table.number("humidity_percent", enclosure.humidity_percent);
    table.flag("condensation", enclosure.condensation);
    return table;
}

TableText supply_text(plan::ControlSupply const& supply) {
    auto table = named(supply);
    table.text_unless_empty("source", supply.source);
    table.text_unless_empty("panel", supply.panel);
    table.text_unless_empty("way", supply.way);
    table.text("kind", plan::name_of(supply.kind));
    table.number("volts", supply.volts);
    table.number("available_va", supply.available_va);
    table.number("inrush_a", supply.inrush_a);
    table.number("fuse_a", supply.fuse_a);
    table.flag("tied_to_bus_common", supply.tied_to_bus_common);
    return table;
}

TableText gateway_text(plan::Gateway const& gateway) {
    auto table = named(gateway);
    table.text("host", gateway.host);
    table.whole("port", gateway.port);
    return table;
}

TableText line_text(plan::SerialLine const& line) {
    auto table = named(line);
    table.text_unless_empty("device", line.device);
    table.whole("bit_rate", line.format.bit_rate);
    table.text("parity", plan::name_of(line.format.parity));
    table.whole("stop_bits", line.format.stop_bits);
    if (line.answer_timeout_ms != plan::SerialLine{}.answer_timeout_ms)
        table.whole("answer_timeout_ms", line.answer_timeout_ms);
    if (line.length_m != 0.0) table.number("length_m", line.length_m);
    table.text_unless_empty("cable", line.cable);
    table.text_unless_empty("panel", line.panel);
    if (line.terminators) table.wholes("terminators", *line.terminators);
    if (line.bias_at) table.whole("bias_at", *line.bias_at);
    if (line.labels) table.table("labels", labels_text(*line.labels));
    return table;
}

TableText run_text(plan::CableRun const& run) {
    TableText table;
    table.text("from", run.from);
    table.text("to", run.to);
    table.number("length_m", run.length_m);
    return table;
}

TableText sum_text(plan::Sum const& sum) {
    auto table = named(sum);
    if (!sum.plus.empty()) table.texts("plus", sum.plus);
    if (!sum.minus.empty()) table.texts("minus", sum.minus);
    table.text_unless_empty("compared_with", sum.compared_with);
    return table;
}

template <class Entries, class Text>
void add_list(std::string& text, std::string const& name, Entries const& entries, Text const& as_text) {
    for (auto const& entry : entries) text += "\n" + as_text(entry).section("[[" + name + "]]", name);
}
}  // namespace

TableText labels_text(plan::PairLabels const& labels) {
    TableText table;
    table.text("d1", labels.d1);
    table.text("d0", labels.d0);
    return table;
}

TableText cable_text(plan::Cable const& cable) {
    TableText table;
    write_size(table, "size", cable.size);
    table.number("diameter_mm", cable.diameter_mm);
    write_word(table, "metal", cable.metal);
    write_word(table, "strands", cable.strands);
    if (!cable.colours.empty()) table.texts("colours", cable.colours);
    return table;
}

TableText panel_text(plan::Panel const& panel) {
    auto table = named(panel);
    table.text_unless_empty("room", panel.room);
    if (auto const& place = panel.place) table.numbers("place_m", {place->x_m, place->y_m, place->z_m});
    if (panel.nominal.v_ln > 0.0) table.number("v_ln", panel.nominal.v_ln);
    if (panel.nominal.v_ll > 0.0) table.number("v_ll", panel.nominal.v_ll);
    table.number("hz", panel.nominal.hz);
    if (panel.service) table.text("service", plan::code_of(*panel.service));
    table.text_unless_empty("fed_from", panel.fed_from);
    table.text_unless_empty("fed_from_way", panel.fed_from_way);
    table.number("breaker_a", panel.breaker_a);
    table.number("fault_ka", panel.fault_ka);
    if (panel.feeder) table.table("feeder", cable_text(*panel.feeder));
    table.text_unless_empty("colours", panel.colours);
    if (panel.enclosure) table.table("enclosure", enclosure_text(*panel.enclosure));
    write_word(table, "numbering", panel.numbering);
    if (!panel.ways.empty()) {
        std::vector<TableText> ways;
        for (auto const& way : panel.ways) ways.push_back(way_text(way));
        table.tables("ways", ways);
    }
    return table;
}

std::string write_plan(plan::Site const& site) {
    auto text = site_text(site).section("[site]", "site");
    add_list(text, "room", site.rooms, room_text);
    add_list(text, "panel", site.panels, panel_text);
    add_list(text, "supply", site.supplies, supply_text);
    add_list(text, "gateway", site.gateways, gateway_text);
    add_list(text, "serial_line", site.serial_lines, line_text);
    add_list(text, "run", site.runs, run_text);
    add_list(text, "point", site.points, point_text);
    add_list(text, "sum", site.sums, sum_text);
    return text;
}

}  // namespace phasewright::commands
