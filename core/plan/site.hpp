// What was planned, before anyone drilled: a site, its panels, its metering points, and for each point the load, the
// current transformers, the meter and its place on the bus. docs/reference/plan.md is the file format.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/plan/serial_line.hpp"
#include "core/plan/service.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::plan {

enum class LoadKind { resistive, motor, electronic, mixed, generation, capacitive };
enum class Flow { import_only, export_only, both };  // which way energy can go: import is from source to load
enum class CtOutput { five_amperes, one_ampere, millivolts, milliamperes, coil, unknown };

[[nodiscard]] std::string_view name_of(LoadKind kind);      // "motor"
[[nodiscard]] std::optional<LoadKind> load_kind_of(std::string_view name);
[[nodiscard]] std::string_view name_of(Flow flow);          // "import"
[[nodiscard]] std::optional<Flow> flow_of(std::string_view name);
[[nodiscard]] std::string_view name_of(CtOutput output);    // "5A"
[[nodiscard]] std::optional<CtOutput> ct_output_of(std::string_view name);
[[nodiscard]] std::string_view name_of(Sequence sequence);  // "abc"
[[nodiscard]] std::optional<Sequence> sequence_of(std::string_view name);

// A CT whose secondary is a current loop drives its current through whatever it finds: opened under load it is a
// hazard. An unknown output counts as one.
[[nodiscard]] constexpr bool is_current_loop(CtOutput output) {
    return output == CtOutput::five_amperes || output == CtOutput::one_ampere || output == CtOutput::unknown;
}

struct CurrentTransformer {
    quantity::TransformerRatio ratio{100.0, 5.0};  // secondary in A, or in V for voltage outputs
    CtOutput output = CtOutput::unknown;
    std::string accuracy_class;  // "0.5", "0.5S", "1"; empty when unknown
};

// How the point's meter is reached: over Modbus TCP, or on a serial line.
struct BusAddress {
    std::string host;  // empty for a meter on a serial line
    int port = 502;    // 0: chosen when it starts, and not known yet
    int unit = 1;
    std::string gateway;      // id of the gateway that host and port belong to; empty for a meter with its own
    std::string serial_line;  // id of a serial line; empty for a meter that is reached over TCP
    int position = 0;         // its place along that line, 1 nearest to the head; 0 when not known
};

struct MeteringPoint {
    std::string id;     // short, unique in the site: "tenant-3"
    std::string name;   // for people: "Tenant 3"
    std::string panel;  // id of a panel
    std::string way;    // the breaker's place, as written on the panel schedule
    std::string purpose;  // what the metered circuit does, for people
    Service service = Service::four_wire_wye;
    ModelOptions model_options;
    std::optional<LoadKind> load_kind;
    std::optional<Flow> flow;
    std::optional<double> breaker_a;
    std::optional<double> usual_a;     // current per phase expected on an ordinary day
    int cables_per_phase = 1;
    std::optional<Sequence> rotation;  // at the source
    CurrentTransformer ct;
    std::string meter_profile;  // name of a file in profiles/, or "sunspec"
    std::string meter_serial;
    std::optional<quantity::TransformerRatio> vt;  // V/V; empty: the voltages are connected directly
    std::optional<double> demand_interval_min;
    BusAddress address;
};

struct Panel {
    std::string id;
    std::string name;
    Nominal nominal;
};

// A host that answers for several meters, each with its own unit id.
struct Gateway {
    std::string id;
    std::string name;
    std::string host;
    int port = 502;
};

// The letters that the region paints on its conductors, and the marks on its CTs.
struct Region {
    std::string name = "iec";                                   // "iec" or "north-america"
    std::array<std::string, 4> conductors{"L1", "L2", "L3", "N"};
    std::array<std::string, 2> primary_marks{"P1", "P2"};
    std::array<std::string, 2> secondary_marks{"S1", "S2"};
};
[[nodiscard]] std::optional<Region> region_of(std::string_view name);

struct Site {
    std::string name;
    std::string place;
    Region region;
    std::optional<int> utc_offset_min;  // what the meters' local time is ahead of UTC; they keep no summer time
    bool first_commissioning = true;  // false: the meters are in service, other mistakes are usual
    std::vector<Panel> panels;
    std::vector<Gateway> gateways;
    std::vector<SerialLine> serial_lines;
    std::vector<MeteringPoint> points;
};

// A meter's own names, as its profile gives them: the words of a repair.
struct TerminalNames {
    std::vector<std::string> voltage;   // one a voltage terminal: "V1", "V2", "V3"
    std::string neutral = "N";
    struct CurrentPair {
        std::string s1;  // where S1 (X1) lands
        std::string s2;
    };
    std::vector<CurrentPair> current;   // one a current input
};
[[nodiscard]] TerminalNames default_terminals(ServiceModel const& model);  // "V1".. "N", "I1 S1", "I1 S2" ..

}  // namespace phasewright::plan
