// One metering point as it was planned: where it is fed from, what load is behind it, its instrument transformers, its
// meter and the meter's place on the bus. A part that is still to be chosen says so; what is not known is empty.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/instruments.hpp"
#include "core/plan/panel.hpp"
#include "core/plan/serial_line.hpp"
#include "core/plan/service.hpp"
#include "core/plan/supply.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::plan {

enum class LoadKind { resistive, motor, electronic, mixed, generation, capacitive };
enum class Flow { import_only, export_only, both };  // which way energy can go: import is from source to load
[[nodiscard]] constexpr auto word_table(LoadKind) {
    return Words<LoadKind, 6>{{{LoadKind::resistive, "resistive"},
                               {LoadKind::motor, "motor"},
                               {LoadKind::electronic, "electronic"},
                               {LoadKind::mixed, "mixed"},
                               {LoadKind::generation, "generation"},
                               {LoadKind::capacitive, "capacitive"}}};
}
[[nodiscard]] constexpr auto word_table(Flow) {
    return Words<Flow, 3>{{{Flow::import_only, "import"}, {Flow::export_only, "export"}, {Flow::both, "both"}}};
}
[[nodiscard]] constexpr auto word_table(Sequence) {
    return Words<Sequence, 2>{{{Sequence::abc, "abc"}, {Sequence::acb, "acb"}}};
}

[[nodiscard]] std::string_view name_of(LoadKind kind);  // "motor"
[[nodiscard]] std::optional<LoadKind> load_kind_of(std::string_view name);
[[nodiscard]] std::string_view name_of(Flow flow);  // "import"
[[nodiscard]] std::optional<Flow> flow_of(std::string_view name);
[[nodiscard]] std::string_view name_of(Sequence sequence);  // "abc"
[[nodiscard]] std::optional<Sequence> sequence_of(std::string_view name);

// What the figures are for; it decides how much error is too much.
enum class PurposeKind { billing, allocation, monitoring, check, generation, temporary };
[[nodiscard]] constexpr auto word_table(PurposeKind) {
    return Words<PurposeKind, 6>{{{PurposeKind::billing, "billing"},
                                  {PurposeKind::allocation, "allocation"},
                                  {PurposeKind::monitoring, "monitoring"},
                                  {PurposeKind::check, "check"},
                                  {PurposeKind::generation, "generation"},
                                  {PurposeKind::temporary, "temporary"}}};
}

// How the point's meter is reached: over Modbus TCP, or on a serial line.
struct BusAddress {
    std::string host;  // empty for a meter on a serial line
    int port = 502;    // 0: chosen when it starts, and not known yet
    int unit = 1;
    std::string gateway;      // id of the gateway that host and port belong to; empty for a meter with its own
    std::string serial_line;  // id of a serial line; empty for a meter that is reached over TCP
    int position = 0;         // its place along that line, 1 nearest to the head; 0 when not known
    std::optional<double> distance_m;  // of cable from the position before it, or from the head
    std::optional<double> drop_m;      // of cable from the trunk to it
    std::optional<PairLabels> labels;  // as the meter prints them
    friend bool operator==(BusAddress const&, BusAddress const&) = default;
};

// Parts of a point that nobody has chosen yet. What stands in their place in the point means nothing.
struct ToChoose {
    bool ct = false;
    bool meter = false;
    bool address = false;
    [[nodiscard]] bool any() const { return ct || meter || address; }
    friend bool operator==(ToChoose const&, ToChoose const&) = default;
};

// How one element of the meter is connected: its voltage from `plus` to `minus`, its current from the CT round `ct`.
struct ElementConnection {
    Conductor plus = Conductor::a;
    Conductor minus = Conductor::n;
    Conductor ct = Conductor::a;
    friend bool operator==(ElementConnection const&, ElementConnection const&) = default;
};

// A column of somebody's own schedule, kept and given back.
struct ExtraColumn {
    std::string column;
    std::string text;
    friend bool operator==(ExtraColumn const&, ExtraColumn const&) = default;
};

// What somebody chose against a proposal, and why. It is kept; nobody proposes it again.
struct Overruled {
    std::string what;  // the part: "ct", "meter", "vt", "tap", "supply", "address", "position", "lead"
    std::string reason;
    std::string by;  // who said so; may be empty
    friend bool operator==(Overruled const&, Overruled const&) = default;
};

struct MeteringPoint {
    std::string id;       // short, unique in the site: "tenant-3"
    std::string name;     // for people: "Tenant 3"
    std::string panel;    // id of a panel
    std::string way;      // the breaker's place, as written on the panel schedule
    std::string purpose;  // what the metered circuit does, for people
    Service service = Service::four_wire_wye;
    ModelOptions model_options;
    std::vector<ElementConnection> elements;  // where they are planned otherwise than the service wants; empty: as it wants
    std::optional<LoadKind> load_kind;
    std::optional<Flow> flow;
    std::optional<double> breaker_a;
    std::optional<double> usual_a;  // current per phase expected on an ordinary day
    int cables_per_phase = 1;
    std::optional<Sequence> rotation;  // at the source
    CurrentTransformer ct;
    std::string meter_profile;  // name of a file in profiles/, or "sunspec"
    std::string meter_serial;
    std::optional<quantity::TransformerRatio> vt;  // V/V; empty: the voltages are connected directly
    std::optional<double> demand_interval_min;
    BusAddress address;
    bool installed = true;  // false: planned for later; nobody reads, serves or programs its meter
    std::string parent;  // id of the point whose meter sees this one's load too; empty: none, or not said
    std::optional<PurposeKind> purpose_kind;
    std::optional<double> least_a;           // current per phase while anything runs
    std::optional<double> most_a;            // the highest that is expected
    std::optional<double> power_factor;      // usual, magnitude
    std::optional<double> accuracy_percent;  // wanted of active energy at the usual load
    std::optional<Cable> cable;              // that the CTs embrace
    std::optional<VoltageTransformer> vt_made;
    std::optional<Lead> lead;
    std::optional<VoltageTap> tap;
    std::optional<SupplyFeed> supply;
    ToChoose to_choose;
    std::vector<ExtraColumn> extra;
    std::vector<Overruled> overruled;
    friend bool operator==(MeteringPoint const&, MeteringPoint const&) = default;
};

}  // namespace phasewright::plan
