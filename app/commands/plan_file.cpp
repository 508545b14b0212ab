#include "app/commands/plan_file.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "app/commands/plan_bus.hpp"
#include "app/commands/plan_entries.hpp"
#include "bus/tables/table.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {
using tables::Range;
using tables::Table;

constexpr Range positive{0.0, std::numeric_limits<double>::infinity(), true};
constexpr Range rated_voltage{1.0, 1000.0};

template <class Enums>
std::vector<std::string> names_of(Enums const& values) {
    std::vector<std::string> names;
    names.reserve(values.size());
    for (auto const value : values) names.emplace_back(plan::name_of(value));
    return names;
}
constexpr std::array load_kinds{plan::LoadKind::resistive,  plan::LoadKind::motor,
                                plan::LoadKind::electronic, plan::LoadKind::mixed,
                                plan::LoadKind::generation, plan::LoadKind::capacitive};
constexpr std::array flows{plan::Flow::import_only, plan::Flow::export_only, plan::Flow::both};
constexpr std::array outputs{plan::CtOutput::five_amperes, plan::CtOutput::one_ampere,
                             plan::CtOutput::millivolts, plan::CtOutput::milliamperes, plan::CtOutput::coil};
constexpr std::array sequences{plan::Sequence::abc, plan::Sequence::acb};

std::vector<std::string> service_codes() {
    std::vector<std::string> codes;
    codes.reserve(plan::all_services.size());
    for (auto const service : plan::all_services) codes.emplace_back(plan::code_of(service));
    return codes;
}

// "+05:30": minutes ahead of UTC.
std::optional<int> read_time_zone(Table const& table, std::string_view field) {
    auto const text = table.text(field);
    if (!text) return std::nullopt;
    auto const digit = [&](std::size_t at) { return text->at(at) - '0'; };
    auto const is_digit = [&](std::size_t at) { return text->at(at) >= '0' && text->at(at) <= '9'; };
    bool const shaped = text->size() == 6 && (text->at(0) == '+' || text->at(0) == '-') && text->at(3) == ':' &&
                        is_digit(1) && is_digit(2) && is_digit(4) && is_digit(5);
    int const minutes = shaped ? 60 * (10 * digit(1) + digit(2)) + 10 * digit(4) + digit(5) : -1;
    if (!shaped || minutes > 14 * 60 || 10 * digit(4) + digit(5) > 59) {
        table.refuse(field, "this is no offset from UTC", R"("+01:00", at most 14 hours)");
        return std::nullopt;
    }
    return text->at(0) == '-' ? -minutes : minutes;
}

void read_site(Table const& root, plan::Site& site) {
    if (!root.has("site")) root.refuse("site", "the table is missing", "a table [site]");
    auto const table = root.table("site");
    if (!table) return;
    table->only({"name", "place", "region", "stage", "meter_time_zone"});
    site.name = table->needed_text("name");
    site.place = table->text("place").value_or("");
    site.region = *plan::region_of(table->word("region", {"iec", "north-america"}).value_or("iec"));
    site.utc_offset_min = read_time_zone(*table, "meter_time_zone");
    site.first_commissioning = table->word("stage", {"first-commissioning", "in-service"}) != "in-service";
}

plan::Panel read_panel(Table const& table) {
    table.only({"id", "name", "v_ln", "v_ll", "hz"});
    plan::Panel panel{.id = read_id(table), .name = {}, .nominal = {}};
    panel.name = table.text("name").value_or(panel.id);
    panel.nominal.v_ln = table.number("v_ln", rated_voltage).value_or(0.0);
    panel.nominal.v_ll = table.number("v_ll", rated_voltage).value_or(0.0);
    panel.nominal.hz = table.needed_number("hz", {40.0, 70.0});
    if (!table.has("v_ln") && !table.has("v_ll"))
        table.refuse("v_ln", "the panel has neither v_ln nor v_ll", "at least one rated voltage");
    return panel;
}

plan::CurrentTransformer read_ct(Table const& table) {
    table.only({"ratio", "output", "class"});
    plan::CurrentTransformer ct;
    if (!table.has("ratio"))
        table.refuse("ratio", "the field is missing", "[primary, secondary], such as [200, 5]");
    auto const pair = table.numbers("ratio", 2, positive);
    if (pair.size() == 2) {
        ct.ratio = {pair[0], pair[1]};
        if (pair[0] <= pair[1])
            table.refuse("ratio", "the primary is not greater than the secondary",
                         "[primary, secondary], such as [200, 5]");
    }
    if (auto const output = table.word("output", names_of(outputs))) ct.output = *plan::ct_output_of(*output);
    double const rated = ct.output == plan::CtOutput::five_amperes ? 5.0 : 1.0;
    bool const is_rated =
        ct.output == plan::CtOutput::five_amperes || ct.output == plan::CtOutput::one_ampere;
    if (is_rated && pair.size() == 2 && std::abs(pair[1] - rated) > 1e-9)
        table.refuse(
            "ratio", "the secondary does not fit the output",
            "a secondary of " + quantity::shortest(rated) + " for " + std::string{plan::name_of(ct.output)});
    ct.accuracy_class = table.text("class").value_or("");
    return ct;
}

plan::ModelOptions read_model_options(Table const& table, plan::Service service) {
    plan::ModelOptions options;
    std::vector<std::string> const phases{"a", "b", "c"};
    if (table.has("high_leg") && service != plan::Service::high_leg_delta)
        table.refuse("high_leg", "only the service 3P4W-HL has a high leg", "no such field here");
    if (auto const leg = table.word("high_leg", phases)) options.high_leg = *plan::conductor_of(*leg);
    if (table.has("branches") && service != plan::Service::one_phase_two_wire)
        table.refuse("branches", "only the service 1P2W has branches", "no such field here");
    for (auto const& branch : table.tables("branches")) {
        branch.only({"id", "phase"});
        auto const id = read_id(branch);
        refuse_twice(branch, options.branches, id);
        options.branches.push_back({id, *plan::conductor_of(branch.needed_word("phase", phases))});
    }
    if (options.branches.size() > 3)
        table.refuse("branches", "there are more than three branches", "at most three");
    return options;
}

void check_voltages(Table const& table, plan::MeteringPoint const& point, plan::Panel const& panel) {
    auto const model = plan::model_of(point.service, point.model_options);
    auto const why = [&](std::string const& field) {
        return "the service " + std::string{plan::code_of(point.service)} + " needs " + field +
               ", and panel \"" + panel.id + "\" has none";
    };
    if (model.has_neutral && panel.nominal.v_ln <= 0.0)
        table.refuse("service", why("v_ln"), "v_ln of the panel");
    if (!model.line_pairs.empty() && panel.nominal.v_ll <= 0.0)
        table.refuse("service", why("v_ll"), "v_ll of the panel");
}

Table table_or_refusal(Table const& parent, std::string_view field) {
    if (!parent.has(field)) parent.refuse(field, "the table is missing", "a table");
    return parent.table(field).value_or(parent);
}

plan::MeteringPoint read_point(Table const& table, plan::Site const& site) {
    table.only({"id", "name", "panel", "way", "service", "purpose", "load", "flow", "breaker_a", "usual_a",
                "cables_per_phase", "rotation", "high_leg", "branches", "ct", "meter", "address"});
    plan::MeteringPoint point{.id = read_id(table)};
    point.name = table.text("name").value_or(point.id);
    auto const* const panel = entry_of(table, "panel", site.panels, "panel");
    point.panel = panel == nullptr ? std::string{} : panel->id;
    point.way = table.text("way").value_or("");
    point.service = *plan::service_of(table.needed_word("service", service_codes()));
    point.purpose = table.text("purpose").value_or("");
    if (auto const load = table.word("load", names_of(load_kinds)))
        point.load_kind = plan::load_kind_of(*load);
    if (auto const flow = table.word("flow", names_of(flows))) point.flow = plan::flow_of(*flow);
    point.breaker_a = table.number("breaker_a", positive);
    point.usual_a = table.number("usual_a", positive);
    point.cables_per_phase = static_cast<int>(table.whole("cables_per_phase", {1.0, 12.0}).value_or(1));
    if (auto const rotation = table.word("rotation", names_of(sequences)))
        point.rotation = plan::sequence_of(*rotation);
    point.model_options = read_model_options(table, point.service);
    if (panel != nullptr) check_voltages(table, point, *panel);
    if (table.fault()) return point;

    auto const ct = table_or_refusal(table, "ct");
    auto const meter = table_or_refusal(table, "meter");
    auto const address = table_or_refusal(table, "address");
    if (table.fault()) return point;
    point.ct = read_ct(ct);
    meter.only({"profile", "serial", "vt", "demand_interval_min"});
    if (auto const pair = meter.numbers("vt", 2, positive); pair.size() == 2) {
        point.vt = quantity::TransformerRatio{pair[0], pair[1]};
        if (pair[0] < pair[1]) meter.refuse("vt", "the primary is below the secondary", "[primary, secondary] in V");
    }
    point.demand_interval_min = meter.number("demand_interval_min", positive);
    point.meter_profile = meter.needed_text("profile");
    point.meter_serial = meter.text("serial").value_or("");
    point.address = read_address(address, site);
    return point;
}

void read_points(Table const& root, plan::Site& site) {
    std::map<std::string, std::string> places;
    for (auto const& table : root.tables("point")) {
        auto point = read_point(table, site);
        if (root.fault()) return;
        refuse_twice(table, site.points, point.id);
        auto const [other, is_new] = places.emplace(place_of(point), point.id);
        if (!is_new)
            table.refuse("address",
                         "the point \"" + other->second + "\" has the same place on the bus: " + other->first,
                         "another unit, port or host for each");
        site.points.push_back(std::move(point));
    }
}
}  // namespace

std::expected<plan::Site, quantity::Fault> read_plan(std::string_view text, std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"site", "panel", "gateway", "serial_line", "point"});
    plan::Site site;
    read_site(*root, site);
    for (auto const& table : root->tables("panel")) {
        auto panel = read_panel(table);
        refuse_twice(table, site.panels, panel.id);
        site.panels.push_back(std::move(panel));
    }
    for (auto const& table : root->tables("gateway")) {
        auto gateway = read_gateway(table);
        refuse_twice(table, site.gateways, gateway.id);
        site.gateways.push_back(std::move(gateway));
    }
    for (auto const& table : root->tables("serial_line")) {
        auto line = read_serial_line(table);
        refuse_twice(table, site.serial_lines, line.id);
        site.serial_lines.push_back(std::move(line));
    }
    if (site.panels.empty()) root->refuse("panel", "the plan has no panel", "one or more [[panel]]");
    if (!root->fault()) read_points(*root, site);
    if (!root->fault() && site.points.empty())
        root->refuse("point", "the plan has no point", "one or more [[point]]");
    if (root->fault()) return std::unexpected(*root->fault());
    return site;
}

}  // namespace phasewright::commands
