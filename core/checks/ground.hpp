// What the rules stand on: the plan with everything looked up once, so that no rule searches. Two thousand
// points are checked in well under a second only because each rule walks its list once.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "core/checks/limits.hpp"
#include "core/plan/meter_hardware.hpp"
#include "core/plan/site.hpp"

namespace phasewright::checks {

// What is known of a kind of meter; pointers live as long as the check.
struct MeterFacts {
    plan::MeterHardware const* hardware = nullptr;
    plan::TerminalNames const* terminals = nullptr;
    std::vector<plan::Service> services;  // that it can be set to; empty: not known
};
// By the name of its profile; empty where nothing is known of its hardware.
using MeterLibrary = std::function<std::optional<MeterFacts>(std::string const& profile)>;

struct AtPoint {
    plan::MeteringPoint const* point = nullptr;
    plan::Panel const* panel = nullptr;  // null: the plan has no such panel
    plan::Way const* way = nullptr;      // null: not on the panel's map
    MeterFacts const* meter = nullptr;   // null: to be chosen, or nothing is known of it
    plan::SerialLine const* line = nullptr;
    plan::ControlSupply const* supply = nullptr;  // null: none, not said, or the voltages that it measures
    plan::ServiceModel model;

    [[nodiscard]] bool has_ct() const { return !point->to_choose.ct; }
    [[nodiscard]] plan::MeterHardware const* hardware() const {
        return meter == nullptr ? nullptr : meter->hardware;
    }
};

// The meter joins one pole of its supply with the common of its bus: the plan says so, else its profile.
[[nodiscard]] bool is_tied_to_common(AtPoint const& at);

struct OnLine {
    plan::SerialLine const* line = nullptr;
    std::vector<AtPoint const*> meters;       // by their position along the line, those without one last
    [[nodiscard]] int last_position() const;  // 0: not known
};
struct OnSupply {
    plan::ControlSupply const* supply = nullptr;
    std::vector<AtPoint const*> meters;
};
struct InPanel {
    plan::Panel const* panel = nullptr;
    std::vector<AtPoint const*> points;
};

class Ground {
public:
    // All three must outlive it.
    Ground(plan::Site const& whole, MeterLibrary const& meters, Limits const& set);
    Ground(Ground const&) = delete;
    Ground& operator=(Ground const&) = delete;
    Ground(Ground&&) = delete;
    Ground& operator=(Ground&&) = delete;
    ~Ground() = default;

    plan::Site const& site;
    Limits const& limits;
    std::vector<AtPoint> points;
    std::vector<OnLine> lines;
    std::vector<OnSupply> supplies;
    std::vector<InPanel> panels;

    [[nodiscard]] AtPoint const* point(std::string_view id) const;
    [[nodiscard]] plan::Panel const* panel(std::string_view id) const;
    [[nodiscard]] std::optional<std::size_t> panel_index(std::string_view id) const;  // in `panels`
    [[nodiscard]] bool has_rule_text(std::string_view id) const;                      // the region goes by it
    [[nodiscard]] std::string const& name(plan::Conductor conductor) const;  // as the region calls it

private:
    std::unordered_map<std::string, std::optional<MeterFacts>> facts_;
    std::unordered_map<std::string_view, std::size_t> points_by_id_;
    std::unordered_map<std::string_view, std::size_t> panels_by_id_;
};

}  // namespace phasewright::checks
