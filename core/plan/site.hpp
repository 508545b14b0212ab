// What was planned, before anyone drilled: a site, its rooms, panels and metering points, the supplies and the bus that
// they share, and the sums of their energy. docs/reference/plan.md is the file format.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/plan/metering_point.hpp"
#include "core/plan/panel.hpp"
#include "core/plan/region.hpp"
#include "core/plan/serial_line.hpp"
#include "core/plan/service.hpp"
#include "core/plan/sums.hpp"
#include "core/plan/supply.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::plan {

// A host that answers for several meters, each with its own unit id.
struct Gateway {
    std::string id;
    std::string name;
    std::string host;
    int port = 502;
    friend bool operator==(Gateway const&, Gateway const&) = default;
};

struct Site {
    std::string name;
    std::string place;
    Region region;
    std::optional<int> utc_offset_min;  // what the meters' local time is ahead of UTC; they keep no summer time
    bool first_commissioning = true;    // false: the meters are in service, other mistakes are usual
    std::vector<Panel> panels;
    std::vector<Gateway> gateways;
    std::vector<SerialLine> serial_lines;
    std::vector<MeteringPoint> points;
    std::vector<Room> rooms;
    std::vector<ControlSupply> supplies;
    std::vector<Sum> sums;
    std::vector<CableRun> runs;
    friend bool operator==(Site const&, Site const&) = default;
};

// A meter's own names, as its profile gives them: the words of a repair.
struct TerminalNames {
    std::vector<std::string> voltage;  // one a voltage terminal: "V1", "V2", "V3"
    std::string neutral = "N";
    struct CurrentPair {
        std::string s1;  // where S1 (X1) lands
        std::string s2;
    };
    std::vector<CurrentPair> current;  // one a current input
};
[[nodiscard]] TerminalNames default_terminals(ServiceModel const& model);  // "V1".. "N", "I1 S1", "I1 S2" ..

}  // namespace phasewright::plan
