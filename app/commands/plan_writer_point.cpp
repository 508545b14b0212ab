// The metering point of write_plan.
#include "app/commands/plan_entries.hpp"
#include "app/commands/plan_writer.hpp"

namespace phasewright::commands {

namespace {
using tables::TableText;

TableText ct_text(plan::CurrentTransformer const& ct) {
    TableText table;
    table.text_unless_empty("model", ct.model);
    table.numbers("ratio", {ct.ratio.primary, ct.ratio.secondary});
    if (ct.output != plan::CtOutput::unknown) table.text("output", plan::name_of(ct.output));
    table.text_unless_empty("class", ct.accuracy_class);
    table.number("burden_va", ct.burden_va);
    table.number("most_percent", ct.most_percent);
    if (auto const& window = ct.window) {
        TableText opening;
        if (window->round) opening.number("round_mm", window->width_mm);
        if (!window->round) opening.number("width_mm", window->width_mm);
        if (!window->round) opening.number("height_mm", window->height_mm);
        table.table("window", opening);
    }
    write_word(table, "shorting", ct.shorting);
    return table;
}

TableText voltage_transformer_text(plan::VoltageTransformer const& transformer) {
    TableText table;
    table.text_unless_empty("model", transformer.model);
    table.text_unless_empty("class", transformer.accuracy_class);
    table.number("burden_va", transformer.burden_va);
    return table;
}

TableText lead_text(plan::Lead const& lead) {
    TableText table;
    table.number("length_m", lead.length_m);
    write_size(table, "size", lead.size);
    write_word(table, "metal", lead.metal);
    write_word(table, "strands", lead.strands);
    write_word(table, "return", lead.way_back);
    table.number("temperature_c", lead.temperature_c);
    return table;
}

TableText tap_text(plan::VoltageTap const& tap) {
    TableText table;
    write_size(table, "size", tap.size);
    write_word(table, "metal", tap.metal);
    write_word(table, "strands", tap.strands);
    table.number("length_m", tap.length_m);
    table.number("unprotected_m", tap.unprotected_m);
    write_word(table, "protection", tap.protection);
    table.number("fuse_a", tap.fuse_a);
    table.number("breaking_ka", tap.breaking_ka);
    table.number("let_through_a2s", tap.let_through_a2s);
    return table;
}

TableText meter_text(plan::MeteringPoint const& point) {
    TableText table;
    table.text("profile", point.meter_profile);
    table.text_unless_empty("serial", point.meter_serial);
    if (point.vt) table.numbers("vt", {point.vt->primary, point.vt->secondary});
    table.number("demand_interval_min", point.demand_interval_min);
    return table;
}

TableText feed_text(plan::SupplyFeed const& feed) {
    TableText table;
    table.text("from", feed.supply.empty() ? "voltage-inputs" : feed.supply);
    if (feed.length_m != 0.0) table.number("length_m", feed.length_m);
    write_size(table, "size", feed.size);
    write_word(table, "polarity", feed.polarity);
    table.number("power_w", feed.power_w);
    table.number("power_va", feed.power_va);
    table.flag("tied_to_bus_common", feed.tied_to_bus_common);
    return table;
}

TableText address_text(plan::BusAddress const& address) {
    TableText table;
    if (!address.serial_line.empty()) {
        table.text("serial_line", address.serial_line);
        if (address.position != 0) table.whole("position", address.position);
    } else if (!address.gateway.empty()) {
        table.text("gateway", address.gateway);
    } else {
        table.text("host", address.host);
        table.whole("port", address.port);
    }
    table.whole("unit", address.unit);
    table.number("distance_m", address.distance_m);
    table.number("drop_m", address.drop_m);
    if (address.labels) table.table("labels", labels_text(*address.labels));
    return table;
}

void write_part(TableText& table, std::string_view field, bool is_to_choose, TableText const& part) {
    if (is_to_choose) table.text(field, to_choose);
    else table.table(field, part);
}

void write_load(TableText& table, plan::MeteringPoint const& point) {
    table.text_unless_empty("purpose", point.purpose);
    write_word(table, "purpose_kind", point.purpose_kind);
    write_word(table, "load", point.load_kind);
    write_word(table, "flow", point.flow);
    table.number("breaker_a", point.breaker_a);
    table.number("least_a", point.least_a);
    table.number("usual_a", point.usual_a);
    table.number("most_a", point.most_a);
    table.number("power_factor", point.power_factor);
    table.number("accuracy_percent", point.accuracy_percent);
    if (point.cables_per_phase != 1) table.whole("cables_per_phase", point.cables_per_phase);
    if (point.cable) table.table("cable", cable_text(*point.cable));
}

void write_options(TableText& table, plan::ModelOptions const& options) {
    if (options.high_leg != plan::ModelOptions{}.high_leg)
        table.text("high_leg", std::string(1, plan::letter_of(options.high_leg)));
    std::vector<TableText> branches;
    for (auto const& branch : options.branches) {
        TableText entry;
        entry.text("id", branch.id);
        entry.text("phase", branch.to_choose ? to_choose : std::string(1, plan::letter_of(branch.phase)));
        entry.text_unless_empty("way", branch.way);
        branches.push_back(std::move(entry));
    }
    if (!branches.empty()) table.tables("branches", branches);
}

void write_elements(TableText& table, std::vector<plan::ElementConnection> const& elements) {
    std::vector<TableText> entries;
    for (auto const& element : elements) {
        TableText entry;
        entry.text("plus", std::string(1, plan::letter_of(element.plus)));
        entry.text("minus", std::string(1, plan::letter_of(element.minus)));
        entry.text("ct", std::string(1, plan::letter_of(element.ct)));
        entries.push_back(std::move(entry));
    }
    if (!entries.empty()) table.tables("elements", entries);
}
}  // namespace

TableText point_text(plan::MeteringPoint const& point) {
    TableText table;
    table.text("id", point.id);
    if (point.name != point.id) table.text("name", point.name);
    table.text("panel", point.panel);
    table.text_unless_empty("way", point.way);
    table.text_unless_empty("parent", point.parent);
    if (!point.installed) table.flag("installed", false);
    table.text("service", plan::code_of(point.service));
    write_load(table, point);
    write_word(table, "rotation", point.rotation);
    write_options(table, point.model_options);
    write_elements(table, point.elements);
    write_part(table, "ct", point.to_choose.ct, ct_text(point.ct));
    if (point.vt_made) table.table("vt", voltage_transformer_text(*point.vt_made));
    if (point.lead) table.table("lead", lead_text(*point.lead));
    if (point.tap) table.table("tap", tap_text(*point.tap));
    write_part(table, "meter", point.to_choose.meter, meter_text(point));
    if (point.supply) table.table("supply", feed_text(*point.supply));
    write_part(table, "address", point.to_choose.address, address_text(point.address));
    std::vector<TableText> overruled;
    for (auto const& one : point.overruled) {
        TableText entry;
        entry.text("what", one.what);
        entry.text("reason", one.reason);
        entry.text_unless_empty("by", one.by);
        overruled.push_back(std::move(entry));
    }
    if (!overruled.empty()) table.tables("overruled", overruled);
    if (!point.extra.empty()) {
        std::vector<TableText> columns;
        for (auto const& column : point.extra) {
            TableText entry;
            entry.text("column", column.column);
            entry.text("text", column.text);
            columns.push_back(std::move(entry));
        }
        table.tables("extra", columns);
    }
    return table;
}

}  // namespace phasewright::commands
