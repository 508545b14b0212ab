#include "app/commands/plan_file.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "app/commands/plan_bus.hpp"
#include "app/commands/plan_entries.hpp"
#include "app/commands/plan_installed.hpp"
#include "app/commands/plan_instruments.hpp"
#include "app/commands/plan_panel.hpp"
#include "app/commands/region_file.hpp"
#include "bus/tables/table.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {
using tables::Table;

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

void choose_in_region(Table const& table, plan::Region& region) {
    std::vector<std::string> names;
    std::vector<std::string> colours;
    for (auto const& set : region.phase_names) names.push_back(set.id);
    for (auto const& set : region.colour_sets) colours.push_back(set.id);
    if (auto const id = table.word("phase_names", names)) (void)plan::use_names(region, *id);
    region.colours = table.word("colours", colours).value_or("");
}

void read_site(Table const& root, std::string const& file, plan::Site& site) {
    if (!root.has("site")) root.refuse("site", "the table is missing", "a table [site]");
    auto const table = root.table("site");
    if (!table) return;
    table->only({"name", "place", "region", "phase_names", "colours", "stage", "meter_time_zone"});
    site.name = table->needed_text("name");
    site.place = table->text("place").value_or("");
    auto const regions = regions_beside(file);
    auto const name = table->text("region").value_or("iec");
    auto const region = region_named(regions, name);
    if (!region && region.error().what.empty())
        (void)table->word("region", names_of_regions(regions));
    else if (!region)
        table->refuse("region", "the file of this region is refused: " + quantity::to_sentence(region.error()),
                      "docs/reference/regions.md");
    else
        site.region = *region;
    choose_in_region(*table, site.region);
    site.utc_offset_min = read_time_zone(*table, "meter_time_zone");
    site.first_commissioning = table->word("stage", {"first-commissioning", "in-service"}) != "in-service";
}

// How much of a plan must stand in it.
enum class Wanted { all, as_far_as_chosen };

plan::Branch read_branch(Table const& table, Wanted wanted) {
    table.only({"id", "phase", "way"});
    plan::Branch branch{.id = read_id(table)};
    branch.way = table.text("way").value_or("");
    std::vector<std::string> words{"a", "b", "c"};
    if (wanted == Wanted::as_far_as_chosen) words.emplace_back(to_choose);
    auto const word = table.needed_word("phase", words);
    branch.to_choose = word == to_choose;
    if (!branch.to_choose) branch.phase = *plan::conductor_of(word);
    return branch;
}

plan::ModelOptions read_model_options(Table const& table, plan::Service service, Wanted wanted) {
    plan::ModelOptions options;
    std::vector<std::string> const phases{"a", "b", "c"};
    if (table.has("high_leg") && service != plan::Service::high_leg_delta)
        table.refuse("high_leg", "only the service 3P4W-HL has a high leg", "no such field here");
    if (auto const leg = table.word("high_leg", phases)) options.high_leg = *plan::conductor_of(*leg);
    if (table.has("branches") && service != plan::Service::one_phase_two_wire)
        table.refuse("branches", "only the service 1P2W has branches", "no such field here");
    Places places;
    for (auto const& branch : table.tables("branches")) {
        options.branches.push_back(read_branch(branch, wanted));
        places.take(branch, "id", options.branches.back().id);
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

// The table of a part of the point; none where the part is still to be chosen, or after a refusal.
std::optional<Table> chosen_part(Table const& point, std::string_view field, Wanted wanted, bool& is_to_choose) {
    if (!point.has(field)) point.refuse(field, "the table is missing", "a table, or \"to-choose\"");
    is_to_choose = point.has(field) && !point.is_table(field) && point.text(field) == to_choose;
    if (!is_to_choose) return point.table(field);
    if (wanted == Wanted::all)
        point.refuse(field, "this part of the point is still to be chosen", "a table",
                     "a command that reads or serves meters needs the whole of it");
    return std::nullopt;
}

void read_meter(Table const& meter, plan::MeteringPoint& point) {
    meter.only({"profile", "serial", "vt", "demand_interval_min"});
    if (auto const pair = meter.numbers("vt", 2, positive); pair.size() == 2) {
        point.vt = quantity::TransformerRatio{pair[0], pair[1]};
        if (pair[0] < pair[1]) meter.refuse("vt", "the primary is below the secondary", "[primary, secondary] in V");
    }
    point.demand_interval_min = meter.number("demand_interval_min", positive);
    point.meter_profile = meter.needed_text("profile");
    point.meter_serial = meter.text("serial").value_or("");
}

std::vector<plan::ElementConnection> read_elements(Table const& point, Wanted wanted) {
    if (point.has("elements") && wanted == Wanted::all)
        point.refuse("elements", "the meter is planned to be connected otherwise than its service wants", "no such field here",
                     "what such a meter shows is known to plan commands only; leave it to the service, or say installed = false");
    std::vector<plan::ElementConnection> elements;
    for (auto const& table : point.tables("elements")) {
        table.only({"plus", "minus", "ct"});
        auto const conductor = [&](std::string_view field, std::vector<std::string> const& allowed) {
            return *plan::conductor_of(table.needed_word(field, allowed));
        };
        elements.push_back({.plus = conductor("plus", {"a", "b", "c"}),
                            .minus = conductor("minus", {"a", "b", "c", "n"}),
                            .ct = conductor("ct", {"a", "b", "c"})});
        if (elements.back().plus == elements.back().minus)
            table.refuse("minus", "the element's voltage begins and ends at one conductor, in " + table.place_of("plus"),
                         "two conductors");
    }
    if (elements.size() > 3) point.refuse("elements", "there are more than three elements", "at most three");
    return elements;
}

std::vector<plan::ExtraColumn> read_extra(Table const& point) {
    std::vector<plan::ExtraColumn> columns;
    Places places{"the column has been named before"};
    for (auto const& table : point.tables("extra")) {
        table.only({"column", "text"});
        columns.push_back({table.needed_text("column"), table.needed_text("text")});
        places.take(table, "column", columns.back().column, "each column once");
    }
    return columns;
}

void read_load(Table const& table, plan::MeteringPoint& point) {
    point.load_kind = read_word<plan::LoadKind>(table, "load");
    point.flow = read_word<plan::Flow>(table, "flow");
    point.breaker_a = table.number("breaker_a", positive);
    point.least_a = table.number("least_a", not_negative);
    point.usual_a = table.number("usual_a", positive);
    point.most_a = table.number("most_a", positive);
    point.power_factor = table.number("power_factor", {0.0, 1.0, true});
    point.purpose_kind = read_word<plan::PurposeKind>(table, "purpose_kind");
    point.accuracy_percent = table.number("accuracy_percent", {0.0, 100.0, true});
    point.cables_per_phase = static_cast<int>(table.whole("cables_per_phase", {1.0, 12.0}).value_or(1));
    if (auto const cable = table.table("cable")) point.cable = read_cable(*cable);
    auto const ordered = [&](std::string const& lower, std::optional<double> low, std::string const& upper,
                             std::optional<double> high) {
        if (low && high && *low > *high)
            table.refuse(lower, "this is above " + upper + ", in " + table.place_of(upper),
                         "at most " + quantity::shortest(*high));
    };
    ordered("least_a", point.least_a, "usual_a", point.usual_a);
    ordered("usual_a", point.usual_a, "most_a", point.most_a);
    ordered("least_a", point.least_a, "most_a", point.most_a);
}

plan::MeteringPoint read_point(Table const& table, plan::Site const& site, Wanted wanted) {
    table.only({"id", "name", "panel", "way", "parent", "installed", "service", "purpose", "purpose_kind", "load", "flow", "breaker_a",
                "least_a", "usual_a", "most_a", "power_factor", "accuracy_percent", "cables_per_phase", "cable", "rotation",
                "high_leg", "branches", "elements", "ct", "vt", "lead", "tap", "meter", "supply", "address", "overruled", "extra"});
    plan::MeteringPoint point{.id = read_id(table)};
    point.name = table.text("name").value_or(point.id);
    auto const* const panel = entry_of(table, "panel", site.panels, "panel");
    point.panel = panel == nullptr ? std::string{} : panel->id;
    point.way = table.text("way").value_or("");
    point.parent = table.text("parent").value_or("");
    point.installed = table.flag("installed").value_or(true);
    if (!point.installed) wanted = Wanted::as_far_as_chosen;
    point.service = *plan::service_of(table.needed_word("service", service_codes()));
    point.purpose = table.text("purpose").value_or("");
    read_load(table, point);
    point.rotation = read_word<plan::Sequence>(table, "rotation");
    point.model_options = read_model_options(table, point.service, wanted);
    point.elements = read_elements(table, wanted);
    if (panel != nullptr) check_voltages(table, point, *panel);
    if (table.fault()) return point;

    if (auto const ct = chosen_part(table, "ct", wanted, point.to_choose.ct)) point.ct = read_ct(*ct);
    if (auto const meter = chosen_part(table, "meter", wanted, point.to_choose.meter)) read_meter(*meter, point);
    if (auto const address = chosen_part(table, "address", wanted, point.to_choose.address))
        point.address = read_address(*address, site);
    if (auto const vt = table.table("vt")) {
        point.vt_made = read_voltage_transformer(*vt);
        if (!point.vt && !table.fault())
            table.refuse("vt", "voltage transformers are described here, and no ratio stands in " + table.place_of("meter"),
                         "vt = [primary, secondary] in meter");
    }
    if (auto const lead = table.table("lead")) point.lead = read_lead(*lead);
    if (auto const tap = table.table("tap")) point.tap = read_tap(*tap);
    if (auto const supply = table.table("supply")) point.supply = read_supply_feed(*supply, site);
    for (auto const& overruled : table.tables("overruled")) {
        overruled.only({"what", "reason", "by"});
        point.overruled.push_back({overruled.needed_text("what"), overruled.needed_text("reason"),
                                   overruled.text("by").value_or("")});
    }
    point.extra = read_extra(table);
    return point;
}

void read_points(Table const& root, plan::Site& site, Wanted wanted) {
    Places ids;
    std::map<std::string, std::pair<std::string, std::string>> places;
    for (auto const& table : root.tables("point")) {
        auto point = read_point(table, site, wanted);
        if (root.fault()) return;
        ids.take(table, "id", point.id);
        if (!point.to_choose.address) {
            auto const [other, is_new] = places.emplace(place_of(point), std::pair{point.id, table.place_of("address")});
            if (!is_new)
                table.refuse("address",
                             "the point \"" + other->second.first + "\" has the same place on the bus: " + other->first +
                                 ", in " + other->second.second,
                             "another unit, port or host for each");
        }
        site.points.push_back(std::move(point));
    }
}

// Parents may stand anywhere in the file, so they are looked at when all points are there.
void check_parents(Table const& root, std::vector<plan::MeteringPoint> const& points) {
    auto const tables = root.tables("point");
    std::map<std::string, Table> by_id;
    for (std::size_t k = 0; k < points.size() && k < tables.size(); ++k) {
        by_id.emplace(points[k].id, tables[k]);
        if (tables[k].has("parent")) (void)named_entry(tables[k], "parent", points, "point");
    }
    auto const ring = plan::ring_of_parents(points);
    if (root.fault() || ring.empty()) return;
    std::vector<std::string> others;
    for (std::size_t k = 1; k < ring.size(); ++k) others.push_back(by_id.at(ring[k]).place_of("parent"));
    by_id.at(ring.front())
        .refuse("parent",
                others.empty() ? "a point stands under itself"
                               : "the parents lead back to this point, by way of " + quantity::joined(others, ", "),
                "a tree: the point's parent, or none");
}

void read_sums(Table const& root, plan::Site& site) {
    Places ids;
    std::vector<plan::Sum> known;  // what a sum may be made of: points, and the sums before it
    for (auto const& point : site.points) known.push_back({.id = point.id, .name = {}, .plus = {}, .minus = {}});
    for (auto const& table : root.tables("sum")) {
        table.only({"id", "name", "plus", "minus", "compared_with"});
        plan::Sum sum{.id = read_id(table), .name = {}, .plus = table.texts("plus"), .minus = table.texts("minus")};
        sum.name = table.text("name").value_or(sum.id);
        if (std::ranges::any_of(site.points, [&](auto const& point) { return point.id == sum.id; }))
            table.refuse("id", "a point has this id", "another id for each");
        ids.take(table, "id", sum.id);
        std::set<std::string> used;
        for (auto const* field : {"plus", "minus"})
            for (auto const& id : field == std::string_view{"plus"} ? sum.plus : sum.minus) {
                if (std::ranges::find(known, id, &plan::Sum::id) == known.end())
                    table.refuse(field, "the plan has no such point, and no such sum before this one: \"" + id + "\"",
                                 "ids of points, and of sums that stand before this one");
                if (!used.insert(id).second)
                    table.refuse(field, "\"" + id + "\" is counted twice in this sum", "each point or sum once");
            }
        if (sum.plus.empty() && sum.minus.empty()) table.refuse("plus", "the sum adds nothing up", "one id or more");
        sum.compared_with = named_entry(table, "compared_with", site.points, "point");
        known.push_back({.id = sum.id, .name = {}, .plus = {}, .minus = {}});
        site.sums.push_back(std::move(sum));
    }
}

// Every entry of a list of tables that carry an id.
template <class Entry, class Read>
void read_list(Table const& root, std::string_view field, std::vector<Entry>& entries, Read const& read) {
    Places ids;
    for (auto const& table : root.tables(field)) {
        entries.push_back(read(table));
        if (!root.fault()) ids.take(table, "id", entries.back().id);
    }
}

std::expected<plan::Site, quantity::Fault> read_as(Wanted wanted, std::string_view text, std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"site", "room", "panel", "supply", "gateway", "serial_line", "run", "point", "sum"});
    plan::Site site;
    read_site(*root, file, site);
    read_list(*root, "room", site.rooms, read_room);
    read_list(*root, "panel", site.panels, [&](Table const& table) { return read_panel(table, site); });
    read_list(*root, "supply", site.supplies, [&](Table const& table) { return read_control_supply(table, site); });
    read_list(*root, "gateway", site.gateways, read_gateway);
    read_list(*root, "serial_line", site.serial_lines,
              [&](Table const& table) { return read_serial_line(table, site); });
    for (auto const& table : root->tables("run")) site.runs.push_back(read_run(table, site));
    if (site.panels.empty()) root->refuse("panel", "the plan has no panel", "one or more [[panel]]");
    if (!root->fault()) read_points(*root, site, wanted);
    if (!root->fault() && site.points.empty()) root->refuse("point", "the plan has no point", "one or more [[point]]");
    if (!root->fault()) check_parents(*root, site.points);
    if (!root->fault()) read_sums(*root, site);
    if (root->fault()) return std::unexpected(*root->fault());
    return site;
}
}  // namespace

std::expected<plan::Site, quantity::Fault> read_plan(std::string_view text, std::string const& file) {
    auto site = read_as(Wanted::all, text, file);
    if (!site) return site;
    keep_what_is_installed(*site);
    if (site->points.empty())
        return std::unexpected(quantity::Fault{"every point of the plan is planned for later", file, {},
                                               "one or more without installed = false", {}});
    return site;
}

std::expected<plan::Site, quantity::Fault> read_draft(std::string_view text, std::string const& file) {
    return read_as(Wanted::as_far_as_chosen, text, file);
}

}  // namespace phasewright::commands
