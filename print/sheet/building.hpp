// The first screen of a job: each panel as its bus with the metering points branching off, every point in its
// state by word and fill, and one mark where the hand goes next.
#pragma once
#include <string>
#include <vector>

#include "core/report/job_report.hpp"
#include "print/sheet/svg.hpp"

namespace phasewright::sheet {

struct BuildingPoint {
    std::string name, way, anchor;  // anchor: id of the point's sheet on the page
    report::PointState state = report::PointState::not_yet;
    bool stop = false;
    bool next = false;
};
struct BuildingPanel {
    std::string name, supply;
    std::vector<BuildingPoint> points;
};

[[nodiscard]] std::vector<BuildingPanel> building_panels(report::JobReport const& report);
[[nodiscard]] Drawing panel_drawing(BuildingPanel const& panel);
[[nodiscard]] std::string building_svgs(report::JobReport const& report);  // one SVG a panel
[[nodiscard]] std::string legend_svg();

// Where a sheet is found on the page: "point-3", from its place in the report.
[[nodiscard]] std::string anchor_of(std::size_t sheet);

}  // namespace phasewright::sheet
