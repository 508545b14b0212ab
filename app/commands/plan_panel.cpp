#include "app/commands/plan_panel.hpp"

#include "app/commands/plan_entries.hpp"

namespace phasewright::commands {

namespace {
using tables::Range;
using tables::Table;

constexpr Range rated_voltage{1.0, 1000.0};

std::vector<plan::Conductor> read_conductors(Table const& table) {
    std::vector<plan::Conductor> conductors;
    for (auto const& letter : table.texts("conductors")) {
        auto const conductor = plan::conductor_of(letter);
        if (!conductor) table.refuse("conductors", "a conductor of the list is not known", "a, b, c, n");
        else if (!conductors.empty() && conductors.back() == plan::Conductor::n)
            table.refuse("conductors", "the neutral stands before another conductor", "n last");
        else if (std::ranges::find(conductors, *conductor) != conductors.end())
            table.refuse("conductors", "a conductor stands in the list twice", "each once");
        else conductors.push_back(*conductor);
    }
    if (conductors.size() == 1 && conductors.front() == plan::Conductor::n)
        table.refuse("conductors", "the way has a neutral and no phase", "one of a, b, c before it");
    return conductors;
}

std::vector<plan::Way> read_ways(Table const& panel) {
    std::vector<plan::Way> ways;
    Places places{"the way has been named before"};
    for (auto const& table : panel.tables("ways")) {
        table.only({"way", "conductors", "breaker_a", "name"});
        plan::Way way{.id = table.needed_text("way"), .conductors = read_conductors(table), .breaker_a = {}, .name = {}};
        way.breaker_a = table.number("breaker_a", positive);
        way.name = table.text("name").value_or("");
        places.take(table, "way", way.id, "each way once");
        ways.push_back(std::move(way));
    }
    return ways;
}

plan::Enclosure read_enclosure(Table const& table) {
    table.only({"stands", "protection", "cable_entry", "temperature_c", "humidity_percent", "condensation"});
    plan::Enclosure enclosure;
    enclosure.stands = read_word<plan::Whereabouts>(table, "stands");
    enclosure.protection = table.text("protection").value_or("");
    for (auto const& word : table.texts("cable_entry")) {
        auto const entry = plan::meant_by<plan::CableEntry>(word);
        if (entry) enclosure.entries.push_back(*entry);
        else table.refuse("cable_entry", "a word of the list is not known", "top, bottom, side, back");
    }
    if (auto const pair = table.numbers("temperature_c", 2, {-80.0, 120.0}); pair.size() == 2) {
        enclosure.temperature_c = plan::DegreesCelsius{pair[0], pair[1]};
        if (pair[0] > pair[1]) table.refuse("temperature_c", "the lowest is above the highest", "[lowest, highest]");
    }
    enclosure.humidity_percent = table.number("humidity_percent", {0.0, 100.0});
    enclosure.condensation = table.flag("condensation");
    return enclosure;
}

void check_colours(Table const& table, plan::Region const& region) {
    auto const id = table.text("colours");
    if (!id || std::ranges::any_of(region.colour_sets, [&](auto const& set) { return set.id == *id; })) return;
    std::vector<std::string> ids;
    for (auto const& set : region.colour_sets) ids.push_back(set.id);
    table.refuse("colours", "the region has no such set of colours", quantity::joined(ids, ", "));
}
}  // namespace

plan::Room read_room(Table const& table) {
    table.only({"id", "name", "floor"});
    plan::Room room{.id = read_id(table), .name = {}, .floor = {}};
    room.name = table.text("name").value_or(room.id);
    room.floor = table.text("floor").value_or("");
    return room;
}

plan::Cable read_cable(Table const& table) {
    table.only({"size", "diameter_mm", "metal", "strands", "colours"});
    plan::Cable cable;
    cable.size = read_size(table, "size");
    cable.diameter_mm = table.number("diameter_mm", {0.0, 500.0, true});
    cable.metal = read_word<plan::Metal>(table, "metal");
    cable.strands = read_word<plan::Strands>(table, "strands");
    cable.colours = table.texts("colours");
    return cable;
}

plan::Panel read_panel(Table const& table, plan::Site const& site) {
    table.only({"id", "name", "room", "place_m", "v_ln", "v_ll", "hz", "service", "fed_from", "fed_from_way", "breaker_a",
                "fault_ka", "feeder", "numbering", "ways", "enclosure", "colours"});
    plan::Panel panel{.id = read_id(table), .name = {}, .nominal = {}};
    panel.name = table.text("name").value_or(panel.id);
    panel.room = named_entry(table, "room", site.rooms, "room");
    if (auto const place = table.numbers("place_m", 3, {-10'000.0, 10'000.0}); place.size() == 3)
        panel.place = plan::PlaceInBuilding{place[0], place[1], place[2]};
    panel.nominal.v_ln = table.number("v_ln", rated_voltage).value_or(0.0);
    panel.nominal.v_ll = table.number("v_ll", rated_voltage).value_or(0.0);
    panel.nominal.hz = table.needed_number("hz", {40.0, 70.0});
    if (!table.has("v_ln") && !table.has("v_ll"))
        table.refuse("v_ln", "the panel has neither v_ln nor v_ll", "at least one rated voltage");
    std::vector<std::string> codes;
    for (auto const service : plan::all_services) codes.emplace_back(plan::code_of(service));
    if (auto const code = table.word("service", codes)) panel.service = plan::service_of(*code);
    panel.fed_from = named_entry(table, "fed_from", site.panels, "panel before this one");
    panel.fed_from_way = table.text("fed_from_way").value_or("");
    if (table.has("fed_from_way") && !table.has("fed_from"))
        table.refuse("fed_from_way", "a way is named without its panel", "fed_from as well");
    panel.breaker_a = table.number("breaker_a", positive);
    panel.fault_ka = table.number("fault_ka", {0.0, 1000.0, true});
    if (auto const feeder = table.table("feeder")) panel.feeder = read_cable(*feeder);
    panel.numbering = read_word<plan::PoleNumbering>(table, "numbering");
    panel.ways = read_ways(table);
    if (auto const enclosure = table.table("enclosure")) panel.enclosure = read_enclosure(*enclosure);
    check_colours(table, site.region);
    panel.colours = table.text("colours").value_or("");
    return panel;
}

plan::CableRun read_run(Table const& table, plan::Site const& site) {
    table.only({"from", "to", "length_m"});
    plan::CableRun run;
    for (auto const* field : {"from", "to"}) {
        if (!table.has(field)) table.refuse(field, "the field is missing", "the id of a panel");
        (field == std::string_view{"from"} ? run.from : run.to) = named_entry(table, field, site.panels, "panel");
    }
    run.length_m = table.needed_number("length_m", {0.0, 100'000.0});
    if (!table.fault() && run.from == run.to) table.refuse("to", "the run leads back to where it begins", "another panel");
    return run;
}

}  // namespace phasewright::commands
