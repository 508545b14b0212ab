#include "print/sheet/building.hpp"

#include <algorithm>

#include "core/quantity/text.hpp"

namespace phasewright::sheet {

using report::PointState;

namespace {

constexpr double panel_width = 350.0;
constexpr double row = 50.0;
constexpr double head = 62.0;
constexpr double bus_x = 14.0;
constexpr double box_x = 44.0;
constexpr double box_side = 28.0;

void draw_state(Drawing& drawing, Box const& box, PointState state) {
    switch (state) {
        case PointState::done: draw_solid(drawing, box); break;
        case PointState::doubtful:
            draw_hatch(drawing, box, 7.0);
            draw_frame(drawing, box);
            break;
        case PointState::wrong:
            draw_hatch(drawing, box, 7.0, true);
            draw_frame(drawing, box);
            break;
        case PointState::not_yet: draw_frame(drawing, box, {1.8, Pattern::dotted}); break;
    }
}

// A hand's pointer from the right edge towards the point, with its word.
void draw_next(Drawing& drawing, double middle) {
    double const x = panel_width - 58.0;
    draw_polygon(drawing, {{x, middle}, {x + 14.0, middle - 9.0}, {x + 14.0, middle + 9.0}}, Ink::accent);
    draw_text(drawing, {x + 18.0, middle + 5.0}, "next", {15.0, Anchor::start, true, Ink::accent});
}

void draw_point(Drawing& drawing, BuildingPoint const& point, double middle) {
    draw_line(drawing, {bus_x, middle}, {box_x, middle});
    draw_state(drawing, {box_x, middle - box_side / 2.0, box_x + box_side, middle + box_side / 2.0},
               point.state);
    double const x = box_x + box_side + 12.0;
    double const room = panel_width - x - (point.next ? 68.0 : 4.0);
    drawing.body += "<a href=\"#" + escaped(point.anchor) + "\">";
    draw_text(drawing, {x, middle - 3.0}, shortened(point.name, 17.0, room), {17.0});
    drawing.body += "</a>";
    std::string const second = point.way.empty() ? "" : "way " + shortened(point.way, 15.0, 70.0) + " · ";
    auto const state = second + std::string(report::word_of(point.state));
    draw_text(drawing, {x, middle + 16.0}, state, {15.0});
    if (point.stop)
        draw_text(drawing, {x + text_width(state, 15.0) + 8.0, middle + 16.0}, "STOP",
                  {15.0, Anchor::start, true});
    if (point.next) draw_next(drawing, middle - 9.0);
}

std::string supply_words(plan::Nominal const& nominal) {
    if (nominal.v_ln <= 0.0 && nominal.v_ll <= 0.0) return {};
    auto const volts = [](double v) { return quantity::fixed(v, 0); };
    std::string text = nominal.v_ln > 0.0 ? volts(nominal.v_ln) : "";
    if (nominal.v_ll > 0.0) text += (text.empty() ? "" : "/") + volts(nominal.v_ll);
    text += " V";
    if (nominal.hz > 0.0) text += ", " + volts(nominal.hz) + " Hz";
    return typeset(text);
}

}  // namespace

std::string anchor_of(std::size_t sheet) { return "point-" + std::to_string(sheet + 1); }

std::vector<BuildingPanel> building_panels(report::JobReport const& report) {
    std::vector<BuildingPanel> panels;
    std::vector<std::string> ids;
    for (auto const& panel : report.site.panels) {
        ids.push_back(panel.id);
        panels.push_back({panel.name.empty() ? panel.id : panel.name, supply_words(panel.nominal), {}});
    }
    auto const next = report::next_to_work_on(report);
    for (std::size_t k = 0; k < report.sheets.size(); ++k) {
        auto const& sheet = report.sheets[k];
        auto at = static_cast<std::size_t>(std::ranges::find(ids, sheet.point.panel) - ids.begin());
        if (at == ids.size()) {
            ids.push_back(sheet.point.panel);
            panels.push_back({sheet.point.panel.empty() ? "without a panel" : sheet.point.panel, {}, {}});
        }
        panels[at].points.push_back({sheet.point.name.empty() ? sheet.point.id : sheet.point.name,
                                     sheet.point.way, anchor_of(k), report::state_of(sheet),
                                     report::has_stop(sheet), next == k});
    }
    std::erase_if(panels, [](auto const& panel) { return panel.points.empty(); });
    return panels;
}

Drawing panel_drawing(BuildingPanel const& panel) {
    auto const count = static_cast<double>(panel.points.size());
    Drawing drawing{.width = panel_width, .height = head + row * count};
    draw_text(drawing, {4.0, 18.0}, shortened(panel.name, 18.0, panel_width - 8.0),
              {18.0, Anchor::start, true});
    if (!panel.supply.empty()) draw_text(drawing, {4.0, 38.0}, panel.supply, {15.0});
    double const last = head + row * (count - 0.5);
    draw_line(drawing, {bus_x, head - 14.0}, {bus_x, last}, {4.0});
    double middle = head + row / 2.0;
    for (auto const& point : panel.points) {
        draw_point(drawing, point, middle);
        middle += row;
    }
    return drawing;
}

std::string building_svgs(report::JobReport const& report) {
    std::string all;
    for (auto const& panel : building_panels(report))
        all += svg_of(panel_drawing(panel), "Panel " + panel.name + " and its metering points", "panel");
    return all;
}

std::string legend_svg() {
    Drawing drawing{.width = panel_width, .height = 26.0};
    double x = 1.0;
    for (auto const state :
         {PointState::done, PointState::doubtful, PointState::wrong, PointState::not_yet}) {
        draw_state(drawing, {x, 4.0, x + 18.0, 22.0}, state);
        auto const word = report::word_of(state);
        draw_text(drawing, {x + 24.0, 18.0}, word, {14.0});
        x += 24.0 + text_width(word, 14.0) + 14.0;
    }
    return svg_of(drawing, "The fills: done solid, doubtful one-way hatch, wrong cross-hatch, not yet dotted",
                  "legend");
}

}  // namespace phasewright::sheet
