// The turn ruler: one straight scale per element from -180 to 180 degrees, the angle by which the element's
// current lags its own voltage. The load angles that are believed possible are a hatched stretch; a wrong
// pairing or a reversed current shows the same stretch elsewhere, because the current of conductor m stands
// where its own voltage puts it:
//     lag seen = lag + arg U(planned conductor) - arg U(m)        and 180 degrees more when it is turned
//     round
// Those copies are dotted and named, turned ones above the scale, the others below it. No mark says hit or
// miss: the number beside each ruler is the probability that the element is paired right and the right way
// round.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/report/job_report.hpp"
#include "print/sheet/svg.hpp"

namespace phasewright::sheet {

struct RulerCopy {
    double offset_deg = 0.0;  // from the expected angle
    std::string name;         // "reversed", "L2 current", "L2 reversed"
    std::string short_name;   // "reversed", "L2", "L2 rev."
    std::string tiny_name;    // "rev.", "L2", "L2 rev."
    bool turned = false;      // drawn above the scale
};
struct RulerElement {
    std::string letter;  // "L1", "L1-L2"
    Pattern pattern = Pattern::solid;
    std::optional<double> lag_deg;
    std::optional<double> expected_deg;
    double half_width_deg = 0.0;
    std::optional<double> right;  // probability
    std::vector<RulerCopy> copies;
};

[[nodiscard]] std::vector<RulerElement> ruler_elements(report::PointSheet const& sheet,
                                                       plan::Region const& region);

enum class DrawingSize { full, small };  // small: for a phone, and readable at a width of 40 mm
[[nodiscard]] Drawing turn_ruler(std::vector<RulerElement> const& elements, DrawingSize size);
[[nodiscard]] std::string turn_ruler_svg(report::PointSheet const& sheet, plan::Region const& region,
                                         DrawingSize size);

}  // namespace phasewright::sheet
