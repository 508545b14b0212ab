// The plain phasor diagram: what each element sees, voltages long and thin, currents short and thick, the
// letter at the tip, no sectors. The first voltage points up and a phasor that leads is turned anticlockwise.
// Lengths are in proportion within the voltages and within the currents, not between them.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/report/job_report.hpp"
#include "print/sheet/svg.hpp"

namespace phasewright::sheet {

struct PhasorElement {
    std::string v_name, i_name;  // "V L1", "I L1"
    Pattern pattern = Pattern::solid;
    std::optional<double> v, i;          // rms
    std::optional<double> v_deg, i_deg;  // against the first voltage, leading positive
};
struct PhasorSet {
    std::vector<PhasorElement> elements;
    std::string note;  // "the meter told no voltage angles; the nominal ones are drawn"; empty otherwise
};

[[nodiscard]] PhasorSet phasor_set(report::PointSheet const& sheet, plan::Region const& region);
[[nodiscard]] Drawing phasors(PhasorSet const& set);
[[nodiscard]] std::string phasors_svg(PhasorSet const& set);

}  // namespace phasewright::sheet
