// Papers of the bus, and all papers of a plan in their order.
#include <algorithm>
#include <set>

#include "core/quantity/text.hpp"
#include "core/report/plan_papers.hpp"

namespace phasewright::report {

namespace {

std::string panel_and_way(plan::Site const& site, plan::MeteringPoint const& point) {
    auto const* const panel = panel_of(site, point.panel);
    std::string const words = panel == nullptr || panel->name.empty() ? point.panel : panel->name;
    return point.way.empty() ? words : "way " + point.way + ", " + words;
}

std::string metres(plan::Region const& region, std::optional<double> value) {
    return value ? length_words(region, *value) : "";
}

std::vector<plan::MeteringPoint const*> along(plan::Site const& site, plan::SerialLine const& line) {
    std::vector<plan::MeteringPoint const*> points;
    for (auto const& point : site.points)
        if (point.address.serial_line == line.id) points.push_back(&point);
    // Those without a place come last.
    std::ranges::stable_sort(points, [](auto const* one, auto const* other) {
        auto const place = [](auto const* point) {
            return point->address.position > 0 ? point->address.position : 1000;
        };
        return place(one) < place(other);
    });
    return points;
}

std::string pair_words(plan::SerialLine const& line) {
    return line.labels ? "D1 printed " + line.labels->d1 + ", D0 printed " + line.labels->d0 : "";
}

}  // namespace

Paper bus_paper(plan::Site const& site, plan::SerialLine const& line) {
    BusRun run{.name = line.name.empty() ? line.id : line.name, .stations = {}};
    auto const terminated = [&](int position) -> std::optional<bool> {
        if (!line.terminators) return std::nullopt;
        return std::ranges::find(*line.terminators, position) != line.terminators->end();
    };
    auto const biased = [&](int position) -> std::optional<bool> {
        return line.bias_at ? std::optional{*line.bias_at == position} : std::nullopt;
    };
    run.stations.push_back({.position = "0",
                            .name = "head",
                            .place = pair_words(line),
                            .address = "\u2013",
                            .cable = "\u2013",
                            .drop = "\u2013",
                            .terminator = terminated(0),
                            .bias = biased(0)});
    for (auto const* const point : along(site, line)) {
        auto const& at = point->address;
        BusStation one{.position = at.position > 0 ? std::to_string(at.position) : "",
                       .name = point->name.empty() ? point->id : point->name,
                       .place = panel_and_way(site, *point),
                       .address = point->to_choose.address ? "" : std::to_string(at.unit),
                       .cable = metres(site.region, at.distance_m),
                       .drop = metres(site.region, at.drop_m)};
        if (at.position > 0) {
            one.terminator = terminated(at.position);
            one.bias = biased(at.position);
        }
        run.stations.push_back(std::move(one));
    }
    std::string lead = "The bus as its cable runs: " + plan::words_of(line.format);
    if (line.length_m > 0.0) lead += "; trunk " + length_words(site.region, line.length_m);
    lead += "; cable: " + (line.cable.empty() ? "________________" : line.cable);
    std::string const earth = earth_word(site.region);
    std::string const spec = " (MODBUS over Serial Line, V1.02, ";
    return {.file = "bus-" + line.id,
            .title = run.name,
            .lead = std::move(lead),
            .panel = "",
            .point = "",
            .content = std::move(run),
            .notes = {"The order here is the order of the cable: one trunk from meter to meter, no star" +
                          spec + "3.4.2).",
                      "The common is a third wire along the whole line, connected to " + earth +
                          " at one place only; the shield at one end" + spec + "3.4.4).",
                      "A terminator at each end of the trunk, and nowhere else" + spec +
                          "3.4.5). Bias at one place only" + spec + "3.4.6).",
                      "D1 is the wire that measures positive while the line is idle, whatever letter stands "
                      "beside it. Idle V is D1 against D0, written in at each place."}};
}

Paper network_paper(plan::Site const& site) {
    PaperTable table{.columns = {{"meter", 150},
                                 {"way, panel", 176},
                                 {"reached over", 180},
                                 {"port", 56, true},
                                 {"unit", 44, true},
                                 {"seen to answer", 110}}};
    for (auto const& point : site.points) {
        auto const& at = point.address;
        if (!at.serial_line.empty() || !point.installed) continue;
        std::string over = at.host;
        int port = at.port;
        for (auto const& gateway : site.gateways)
            if (gateway.id == at.gateway) {
                over = (gateway.name.empty() ? gateway.id : gateway.name) + ", " + gateway.host;
                port = gateway.port;
            }
        bool const open = point.to_choose.address;
        table.rows.push_back({point.name.empty() ? point.id : point.name, panel_and_way(site, point),
                              open ? "" : over, port == 0 || open ? "" : std::to_string(port),
                              open ? "" : std::to_string(at.unit), ""});
    }
    return {.file = "network",
            .title = "Meters on Ethernet and behind gateways",
            .lead =
                "Behind a gateway runs a serial line: one trunk, a terminator at each of its two ends, bias "
                "once, a common along all of it.",
            .panel = "",
            .point = "",
            .content = Tables{{std::move(table)}},
            .notes = {}};
}

std::vector<Paper> plan_papers(plan::Site const& site, std::vector<PlannedPoint> const& points) {
    std::vector<Paper> papers;
    std::set<std::string> panels, lines;
    bool network = false;
    for (auto const& planned : points) {
        panels.insert(planned.point->panel);
        lines.insert(planned.point->address.serial_line);
        network = network || planned.point->address.serial_line.empty();
    }
    std::string const marked = points.size() == 1 ? points.front().point->id : "";
    for (auto const& panel : site.panels)
        if (panels.contains(panel.id)) papers.push_back(one_line_paper(site, panel, marked));
    for (auto const& panel : site.panels)
        if (panels.contains(panel.id)) papers.push_back(panel_schedule(site, panel));
    for (auto const& planned : points) {
        auto const wiring = wiring_of(site, *planned.point, planned.meter);
        papers.push_back(wiring_paper(wiring));
        papers.push_back(schedule_paper(site.region, wiring, planned.meter.hardware));
        papers.push_back(checklist_paper(site, *planned.point, wiring, planned.meter));
        papers.push_back(label_paper(site, *planned.point, wiring));
    }
    papers.push_back(ct_schedule(site, points));
    for (auto const& line : site.serial_lines)
        if (lines.contains(line.id)) papers.push_back(bus_paper(site, line));
    if (network) papers.push_back(network_paper(site));
    papers.push_back(bill_of_materials(site, points));
    return papers;
}

}  // namespace phasewright::report
