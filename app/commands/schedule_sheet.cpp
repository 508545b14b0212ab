#include "app/commands/schedule_sheet.hpp"

#include <algorithm>

#include "app/commands/plan_entries.hpp"
#include "app/commands/schedule_columns.hpp"

namespace phasewright::commands {

namespace {
using workbook::Cell;

Cell text(std::string_view said) { return {.text = std::string{said}}; }
Cell number(std::optional<double> value) {
    return value ? Cell{.text = quantity::shortest(*value), .is_number = true} : Cell{};
}
template <plan::HasWords Enum>
Cell word(std::optional<Enum> const& value) {
    return value ? text(plan::name_of(*value)) : Cell{};
}
Cell size(std::optional<plan::ConductorSize> const& value) { return value ? text(plan::text_of(*value)) : Cell{}; }

Cell ratio(plan::MeteringPoint const& point) {
    if (point.to_choose.ct) return text("to choose");
    auto const& pair = point.ct.ratio;
    bool const in_volts = point.ct.output == plan::CtOutput::millivolts || point.ct.output == plan::CtOutput::coil;
    bool const in_amperes = is_current_loop(point.ct.output);
    return text(quantity::shortest(pair.primary) + (in_amperes ? "/" : ":") + quantity::shortest(pair.secondary) +
                (in_volts ? " V" : in_amperes ? "" : " A"));
}

Cell load_cell(plan::MeteringPoint const& point, Column column) {
    switch (column) {
        case Column::purpose: return text(point.purpose);
        case Column::use: return word(point.purpose_kind);
        case Column::load: return word(point.load_kind);
        case Column::flow: return word(point.flow);
        case Column::breaker: return number(point.breaker_a);
        case Column::least: return number(point.least_a);
        case Column::usual: return number(point.usual_a);
        case Column::most: return number(point.most_a);
        case Column::power_factor: return number(point.power_factor);
        case Column::accuracy: return number(point.accuracy_percent);
        case Column::cables_per_phase: return number(point.cables_per_phase);
        case Column::cable: return point.cable ? size(point.cable->size) : Cell{};
        case Column::cable_diameter: return point.cable ? number(point.cable->diameter_mm) : Cell{};
        default: return {};
    }
}

Cell instrument_cell(plan::MeteringPoint const& point, Column column) {
    auto const& ct = point.ct;
    bool const chosen = !point.to_choose.ct;
    switch (column) {
        case Column::ct_ratio: return ratio(point);
        case Column::ct_output: return chosen ? text(plan::name_of(ct.output)) : Cell{};
        case Column::ct_class: return chosen ? text(ct.accuracy_class) : Cell{};
        case Column::ct_model: return chosen ? text(ct.model) : Cell{};
        case Column::ct_burden: return chosen ? number(ct.burden_va) : Cell{};
        case Column::lead_length: return point.lead ? number(point.lead->length_m) : Cell{};
        case Column::lead_size: return point.lead ? size(point.lead->size) : Cell{};
        case Column::tap_size: return point.tap ? size(point.tap->size) : Cell{};
        case Column::tap_fuse: return point.tap ? number(point.tap->fuse_a) : Cell{};
        case Column::meter: return text(point.to_choose.meter ? "to choose" : point.meter_profile);
        case Column::serial_number: return text(point.to_choose.meter ? "" : point.meter_serial);
        case Column::supply:
            return point.supply ? text(point.supply->supply.empty() ? "voltage-inputs" : point.supply->supply) : Cell{};
        default: return load_cell(point, column);
    }
}

Cell bus_cell(plan::MeteringPoint const& point, Column column) {
    auto const& address = point.address;
    bool const own_host = address.serial_line.empty() && address.gateway.empty();
    if (point.to_choose.address) return {};
    switch (column) {
        case Column::serial_line: return text(address.serial_line);
        case Column::gateway: return text(address.gateway);
        case Column::host: return own_host ? text(address.host) : Cell{};
        case Column::port: return own_host ? number(address.port) : Cell{};
        case Column::unit: return number(address.unit);
        case Column::position: return address.position > 0 ? number(address.position) : Cell{};
        default: return {};
    }
}

Cell cell_of(plan::MeteringPoint const& point, Column column) {
    switch (column) {
        case Column::id: return text(point.id);
        case Column::name: return text(point.name);
        case Column::panel: return text(point.panel);
        case Column::way: return text(point.way);
        case Column::parent: return text(point.parent);
        case Column::installed: return text(point.installed ? "yes" : "no");
        case Column::service: return text(plan::code_of(point.service));
        case Column::serial_line:
        case Column::gateway:
        case Column::host:
        case Column::port:
        case Column::unit:
        case Column::position: return bus_cell(point, column);
        default: return instrument_cell(point, column);
    }
}
}  // namespace

workbook::Sheet schedule_of(plan::Site const& site) {
    std::vector<std::string> own;  // columns of somebody's own, in the order in which they first come
    for (auto const& point : site.points)
        for (auto const& extra : point.extra)
            if (std::ranges::find(own, extra.column) == own.end()) own.push_back(extra.column);

    workbook::Sheet sheet{.name = "Metering schedule", .rows = {workbook::Row{}}};
    sheet.rows.resize(site.points.size() + 1);
    for (auto const& head : all_columns()) {
        std::vector<Cell> cells;
        for (auto const& point : site.points) cells.push_back(cell_of(point, head.column));
        if (std::ranges::all_of(cells, [](Cell const& cell) { return cell.text.empty(); })) continue;
        sheet.rows[0].push_back(text(header_text(head)));
        for (std::size_t k = 0; k < cells.size(); ++k) sheet.rows[k + 1].push_back(std::move(cells[k]));
    }
    for (auto const& column : own) {
        sheet.rows[0].push_back(text(column));
        for (std::size_t k = 0; k < site.points.size(); ++k) {
            auto const& extra = site.points[k].extra;
            auto const found = std::ranges::find(extra, column, &plan::ExtraColumn::column);
            sheet.rows[k + 1].push_back(found == extra.end() ? Cell{} : text(found->text));
        }
    }
    return sheet;
}

}  // namespace phasewright::commands
