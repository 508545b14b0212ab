// Tables of a plan: wires of a point, current transformers, materials.
#include <algorithm>
#include <cmath>
#include <map>

#include "core/quantity/text.hpp"
#include "core/report/plan_papers.hpp"

namespace phasewright::report {

namespace {

constexpr auto none = "\u2013";

constexpr double inch_pounds = 8.850746,
                 millimetres_in_an_inch = 25.4;  // of a newton metre: derived from 1 lb = 4.448222 N

bool imperial(plan::Region const& region) { return region.sizes == plan::SizeSystem::awg; }

std::string number_words(std::optional<double> value) { return value ? quantity::shortest(*value) : ""; }

}  // namespace

std::string torque_unit(plan::Region const& region) { return imperial(region) ? "lb\u00b7in" : "N\u00b7m"; }
std::string strip_unit(plan::Region const& region) { return imperial(region) ? "in" : "mm"; }

std::string torque_words(plan::Region const& region, plan::MeterHardware const& hardware, plan::WireUse use) {
    auto const* const wire = plan::wires_for(hardware, use);
    if (wire == nullptr || !wire->torque_nm) return {};
    auto const words = [&](double value) {
        return imperial(region) ? quantity::fixed(value * inch_pounds, 1) : quantity::shortest(value);
    };
    auto const& range = *wire->torque_nm;
    return range.least == range.most ? words(range.least) : words(range.least) + "\u2013" + words(range.most);
}

std::string strip_words(plan::Region const& region, plan::MeterHardware const& hardware, plan::WireUse use) {
    auto const* const wire = plan::wires_for(hardware, use);
    if (wire == nullptr || !wire->strip_mm) return {};
    return imperial(region) ? quantity::fixed(*wire->strip_mm / millimetres_in_an_inch, 2)
                            : quantity::shortest(*wire->strip_mm);
}

std::string site_and_place(plan::Site const& site) {
    return site.place.empty() ? site.name : site.name + ", " + site.place;
}

Paper wiring_paper(PointWiring const& wiring) {
    Paper paper{.file = wiring.id + "-wiring",
                .title = wiring.name + ": wiring",
                .lead =
                    "Small numbers on wires are those of the wiring schedule. A dot joins; lines that only "
                    "cross do not.",
                .panel = wiring.panel,
                .point = wiring.id,
                .content = wiring,
                .notes = wiring.notes};
    return paper;
}

Paper schedule_paper(plan::Region const& region, PointWiring const& wiring,
                     plan::MeterHardware const& hardware) {
    PaperTable table{.columns = {{"no.", 36, true},
                                 {"from", 100},
                                 {"to", 92},
                                 {"carries", 106},
                                 {"colour", 78},
                                 {"size", 72},
                                 {"length", 98},
                                 {"strip " + strip_unit(region), 42, true},
                                 {"torque " + torque_unit(region), 78, true},
                                 {"done", 42}}};
    for (auto const& wire : wiring.wires) {
        bool const at_meter = wire.to.device == Device::meter;
        bool const earth = wire.use == plan::WireUse::earth;
        table.rows.push_back({std::to_string(wire.number), joint_words(wire.from),
                              at_meter && wire.to.terminal.empty() ? "meter ____" : joint_words(wire.to),
                              wire.says,
                              wire.colour.empty() && wire.use == plan::WireUse::bus ? none : wire.colour,
                              wire.size, wire.length, at_meter ? strip_words(region, hardware, wire.use) : "",
                              at_meter ? torque_words(region, hardware, wire.use) : "", ""});
        if (earth && !at_meter) table.rows.back()[6] = none;
    }
    return {.file = wiring.id + "-schedule",
            .title = wiring.name + ": wiring schedule",
            .lead =
                "Every wire with both its ends. Strip length and torque are the meter's at its own "
                "terminals; what is blank "
                "is to be written in by the one who knows it.",
            .panel = wiring.panel,
            .point = wiring.id,
            .content = Tables{{std::move(table)}},
            .notes = {}};
}

Paper ct_schedule(plan::Site const& site, std::vector<PlannedPoint> const& points) {
    PaperTable table{.columns = {{"point", 102},
                                 {"CT", 58},
                                 {"ratio, class", 142},
                                 {"VA", 40, true},
                                 {"window mm", 66},
                                 {"round", 104},
                                 {"lead", 110},
                                 {"serial number", 122}}};
    for (auto const& [point, meter] : points) {
        auto const wiring = wiring_of(site, *point, meter);
        auto const& ct = point->ct;
        std::string window;
        if (ct.window)
            window = ct.window->round ? "\u00d8 " + quantity::shortest(ct.window->width_mm)
                                      : quantity::shortest(ct.window->width_mm) + " \u00d7 " +
                                            quantity::shortest(ct.window->height_mm);
        std::string cable = point->cable && point->cable->size ? size_words(point->cable->size) : "";
        if (point->cables_per_phase > 1)
            cable = std::to_string(point->cables_per_phase) + "\u00a0\u00d7\u00a0" +
                    (cable.empty() ? "cable" : cable);
        std::string lead;
        if (point->lead && point->lead->length_m > 0.0)
            lead = length_words(site.region, point->lead->length_m);
        if (point->lead && point->lead->size)
            lead += (lead.empty() ? "" : ", ") + size_words(point->lead->size);
        for (auto const& one : wiring.cts)
            table.rows.push_back({point->id, one.name, ct_words(*point),
                                  plan::is_current_loop(ct.output) ? number_words(ct.burden_va) : none,
                                  window, cable, lead, ""});
    }
    std::string const& p1 = site.region.primary_marks[0];
    return {.file = "ct-schedule",
            .title = "Current transformers",
            .lead = "One row a transformer. " + p1 +
                    " faces the source in every row. Serial numbers are written in as they are fitted.",
            .panel = "",
            .point = "",
            .content = Tables{{std::move(table)}},
            .notes = {"All conductors of a phase go through the same window, in the same direction.",
                      rule_words(site.region, "ct-marks")}};
}

namespace {

// Things of one kind, counted, with the points that want them.
class Materials {
public:
    explicit Materials(plan::Region const& region) : region_(region) {}
    // Metres, given in the region's unit.
    void add_length(std::string const& kind, std::string const& what, double metres,
                    std::string const& point) {
        bool const feet = imperial(region_);
        add(kind, what, feet ? metres / 0.3048 : metres, feet ? "ft" : "m", point);
    }
    void add(std::string const& kind, std::string const& what, double count, std::string const& unit,
             std::string const& point) {
        auto& item = items_[{kind, what, unit}];
        item.count += count;
        if (std::ranges::find(item.points, point) == item.points.end() && !point.empty())
            item.points.push_back(point);
    }
    [[nodiscard]] PaperTable table() const {
        PaperTable table{.columns = {{"part", 146},
                                     {"what", 240},
                                     {"number", 62, true},
                                     {"unit", 44},
                                     {"for", 200},
                                     {"here", 60}}};
        for (auto const& [key, item] : items_) {
            auto const& [kind, what, unit] = key;
            constexpr std::size_t most = 4;
            std::string where = quantity::joined(item.points, ", ");
            if (item.points.size() > most) where = std::to_string(item.points.size()) + " points";
            table.rows.push_back(
                {kind, what, quantity::shortest(std::ceil(item.count - 1e-6)), unit, where, ""});
        }
        return table;
    }

private:
    struct Item {
        double count = 0.0;
        std::vector<std::string> points;
    };
    plan::Region const& region_;
    std::map<std::tuple<std::string, std::string, std::string>, Item> items_;
};

void add_leads(Materials& all, plan::MeteringPoint const& point, PointWiring const& wiring) {
    auto const& lead = point.lead;
    auto const count = static_cast<double>(wiring.cts.size());
    double const ways = wiring.common_return ? count + 1.0 : 2.0 * count;
    if (lead && lead->length_m > 0.0)
        all.add_length("CT lead", size_words(lead->size).empty() ? "size: ________" : size_words(lead->size),
                       ways * lead->length_m, point.id);
    else
        all.add("CT lead", "length and size not said", ways, "wires", point.id);
    auto const taps = static_cast<double>(wiring.taps.size());
    if (point.tap && point.tap->length_m)
        all.add_length("tap wire",
                       size_words(point.tap->size).empty() ? "size: ________" : size_words(point.tap->size),
                       taps * *point.tap->length_m, point.id);
    else
        all.add("tap wire", "length and size not said", taps, "wires", point.id);
}

void add_point(Materials& all, plan::Site const& site, PlannedPoint const& planned) {
    auto const& point = *planned.point;
    auto const wiring = wiring_of(site, point, planned.meter);
    auto const cts = static_cast<double>(wiring.cts.size());
    all.add("meter",
            point.to_choose.meter              ? "to be chosen"
            : point.meter_profile == "sunspec" ? "with the SunSpec meter models"
            : planned.meter.name.empty()       ? "profile " + point.meter_profile
                                               : planned.meter.name,
            1, "", point.id);
    all.add("current transformer", ct_words(point) + (point.ct.model.empty() ? "" : ", " + point.ct.model),
            cts, "", point.id);
    if (wiring.block)
        all.add(wiring.block_title,
                std::to_string(wiring.common_return ? wiring.cts.size() + 1 : 2 * wiring.cts.size()) +
                    " terminals",
                1, "", point.id);
    if (point.vt)
        all.add(
            "voltage transformer",
            *wiring.vt_words +
                (point.vt_made && !point.vt_made->model.empty() ? ", " + point.vt_made->model : ""),
            wiring.vt_connection.ends_with("common") ? 2.0 : static_cast<double>(wiring.taps.size()) - 1.0,
            "", point.id);
    auto const fuses = std::ranges::count_if(wiring.taps, [](auto const& tap) { return tap.fused; });
    if (fuses > 0)
        all.add("fuse with holder", wiring.fuse_words.empty() ? "rating: ________" : wiring.fuse_words,
                static_cast<double>(fuses), "", point.id);
    add_leads(all, point, wiring);
    if (point.supply && !point.supply->supply.empty() && point.supply->length_m > 0.0)
        all.add_length(
            "supply wire",
            size_words(point.supply->size).empty() ? "size: ________" : size_words(point.supply->size),
            2.0 * point.supply->length_m, point.id);
}

void add_lines(Materials& all, plan::Site const& site, std::vector<PlannedPoint> const& points) {
    for (auto const& line : site.serial_lines) {
        bool const used = std::ranges::any_of(
            points, [&](auto const& one) { return one.point->address.serial_line == line.id; });
        if (!used) continue;
        if (line.length_m > 0.0)
            all.add_length("bus cable", line.cable.empty() ? "pair with common: ________" : line.cable,
                           line.length_m, line.id);
        all.add("terminator", "at the ends of a serial line", 2, "", line.id);
    }
    for (auto const& supply : site.supplies) {
        bool const used = std::ranges::any_of(points, [&](auto const& one) {
            return one.point->supply && one.point->supply->supply == supply.id;
        });
        if (!used) continue;
        std::string what = quantity::shortest(supply.volts) + " V " + std::string(plan::name_of(supply.kind));
        if (supply.available_va)
            what += ", " + quantity::shortest(*supply.available_va) +
                    (supply.kind == plan::CurrentKind::dc ? " W" : " VA");
        all.add("control supply", what, 1, "", supply.id);
    }
}

}  // namespace

Paper bill_of_materials(plan::Site const& site, std::vector<PlannedPoint> const& points) {
    Materials all(site.region);
    for (auto const& point : points) add_point(all, site, point);
    add_lines(all, site, points);
    return {
        .file = "materials",
        .title = "Materials",
        .lead =
            "Counted from the plan, without waste or spares. Lengths are those of single wires, as planned.",
        .panel = "",
        .point = "",
        .content = Tables{{all.table()}},
        .notes = {}};
}

}  // namespace phasewright::report
