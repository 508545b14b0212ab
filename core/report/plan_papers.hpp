// The papers of a plan as values: what the crew pins to the panel door before anyone drills. The print room
// sets them. A cell that is empty is a fact that nobody has said; on paper it is a line to write on. "\u2013"
// in a cell means: there is none. Every limit carries its standard, edition and clause. No sentence here says
// that anything is free of danger: absence of voltage is proved by a person with a tester, at the place of
// work.
#pragma once
#include <string>
#include <variant>
#include <vector>

#include "core/report/plan_wiring.hpp"

namespace phasewright::report {

struct Column {
    std::string title;
    double share = 1.0;   // of the sheet's width
    bool number = false;  // stands to the right
    bool even = false;    // terminals, in a face whose letters are equally wide
};
struct PaperTable {
    std::string caption;
    std::vector<Column> columns;
    std::vector<std::vector<std::string>> rows;
};
struct Tables {
    std::vector<PaperTable> tables;
};

// A sticker: what stands on it, and the same text in its square code.
struct Label {
    std::string head;  // "CT L1"
    std::vector<std::string> lines;
    std::string code;  // what a reader of the code gets
};
struct LabelSheet {
    std::vector<Label> labels;
};

struct Checklist {
    std::vector<std::string> cautions;  // stand first
    struct Section {
        std::string title;
        std::vector<std::string> steps;
    };
    std::vector<Section> sections;
};

// A serial line as it runs: its head, then the meters in order.
struct BusStation {
    std::string position;  // "3"; empty: not said
    std::string name;      // "Tenant 3"
    std::string place;     // "panel, way"
    std::string address;   // empty: to be chosen
    std::string cable;     // from the one before: "12 m"; empty: not said
    std::string drop;      // "0.5 m"
    std::optional<bool> terminator, bias;
};
struct BusRun {
    std::string name;
    std::vector<BusStation> stations;  // the head first
};

// A panel on one line: its feed, its ways, and where a meter stands.
struct OneLineWay {
    std::string way, name;
    std::string breaker;     // "63 A"; empty: not said
    std::string conductors;  // "L1 L2 L3"
    std::string cts;         // of the metering point; empty: no meter here
    std::string point;       // its id
    std::string feeds;       // under its name: "panel", "planned for later"
    bool marked = false;     // this paper's own point
};
struct OneLine {
    std::string panel, supply, feed, breaker, incoming_cts, incoming_point;
    std::vector<OneLineWay> ways;
};

struct Paper {
    std::string file;          // "tenant-3-wiring", without its ending
    std::string title;         // "Wiring: Tenant 3"
    std::string lead;          // under the title
    std::string panel, point;  // for the title block
    std::variant<PointWiring, Tables, LabelSheet, Checklist, BusRun, OneLine> content;
    std::vector<std::string> notes;
};

// A point that gets papers, with what its meter's profile says.
struct PlannedPoint {
    plan::MeteringPoint const* point = nullptr;
    MeterFacts meter;
};

// All papers of these points, with those of their panels and lines. Points stand in the order of the plan.
[[nodiscard]] std::vector<Paper> plan_papers(plan::Site const& site, std::vector<PlannedPoint> const& points);

// One by one.
[[nodiscard]] Paper wiring_paper(PointWiring const& wiring);
[[nodiscard]] Paper schedule_paper(plan::Region const& region, PointWiring const& wiring,
                                   plan::MeterHardware const& hardware);
[[nodiscard]] Paper label_paper(plan::Site const& site, plan::MeteringPoint const& point,
                                PointWiring const& wiring);
[[nodiscard]] Paper checklist_paper(plan::Site const& site, plan::MeteringPoint const& point,
                                    PointWiring const& wiring, MeterFacts const& meter);
[[nodiscard]] Paper ct_schedule(plan::Site const& site, std::vector<PlannedPoint> const& points);
[[nodiscard]] Paper bill_of_materials(plan::Site const& site, std::vector<PlannedPoint> const& points);
[[nodiscard]] Paper bus_paper(plan::Site const& site, plan::SerialLine const& line);
[[nodiscard]] Paper network_paper(plan::Site const& site);  // meters on Ethernet and behind gateways
[[nodiscard]] Paper one_line_paper(plan::Site const& site, plan::Panel const& panel,
                                   std::string_view marked_point);
[[nodiscard]] Paper panel_schedule(plan::Site const& site, plan::Panel const& panel);

// In the region's units: N·m and mm, or lb·in and in. Empty: the profile does not say.
[[nodiscard]] std::string torque_words(plan::Region const& region, plan::MeterHardware const& hardware,
                                       plan::WireUse use);
[[nodiscard]] std::string strip_words(plan::Region const& region, plan::MeterHardware const& hardware,
                                      plan::WireUse use);
[[nodiscard]] std::string torque_unit(plan::Region const& region);  // "N·m", "lb·in"
[[nodiscard]] std::string strip_unit(plan::Region const& region);   // "mm", "in"
// "L1 L2 L3": the conductors that a way or a point takes.
[[nodiscard]] std::string conductors_words(plan::Region const& region,
                                           std::vector<plan::Conductor> const& conductors);
[[nodiscard]] std::string site_and_place(plan::Site const& site);
// Two cells that differ only by their numbers sort by those: "9" before "10".
[[nodiscard]] bool ways_in_order(std::string_view one, std::string_view other);

}  // namespace phasewright::report
