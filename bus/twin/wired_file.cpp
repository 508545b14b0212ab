#include "bus/twin/wired_file.hpp"

#include <cmath>
#include <numbers>

#include "bus/tables/table.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::twin {

namespace {
using tables::Range;
using tables::Table;

constexpr Range share{0.0, 1.0};
constexpr Range positive{0.0, std::numeric_limits<double>::infinity(), true};

plan::Conductor conductor_named(std::string const& letter) {
    return plan::conductor_of(letter).value_or(plan::Conductor::a);
}

std::vector<std::string> letters_of(std::string_view letters) {
    std::vector<std::string> words;
    for (char const letter : letters) words.emplace_back(1, letter);
    return words;
}

Supply read_supply(Table const& table, plan::Panel const& panel) {
    table.only({"kind", "v", "high_leg", "hz", "rotation", "fifth", "seventh"});
    Supply supply;
    auto const kind = table.word("kind", {"wye", "split-phase", "high-leg"}).value_or("wye");
    supply.kind = kind == "wye" ? SupplyKind::wye
                                : (kind == "split-phase" ? SupplyKind::split_phase : SupplyKind::high_leg);
    std::size_t const conductors = supply.kind == SupplyKind::split_phase ? 2 : 3;
    if (!table.has("v"))
        table.refuse("v", "the field is missing",
                     "a list of " + std::to_string(conductors) + " rms voltages");
    supply.v = table.numbers("v", conductors, {0.0, 1000.0});
    supply.v.resize(conductors);
    if (table.has("high_leg") && supply.kind != SupplyKind::high_leg)
        table.refuse("high_leg", "only a supply of the kind high-leg has a high leg", "no such field here");
    supply.high_leg = conductor_named(table.word("high_leg", letters_of("abc")).value_or("b"));
    supply.hz = table.number("hz", {40.0, 70.0}).value_or(panel.nominal.hz);
    auto const rotation = table.word("rotation", {"abc", "acb"});
    if (rotation) supply.rotation = *plan::sequence_of(*rotation);
    supply.fifth = table.number("fifth", {0.0, 0.2}).value_or(supply.fifth);
    supply.seventh = table.number("seventh", {0.0, 0.2}).value_or(supply.seventh);
    return supply;
}

std::vector<std::string> branches_of(Supply const& supply) {
    if (supply.kind == SupplyKind::split_phase) return {"an", "bn", "ab"};
    return {"an", "bn", "cn", "ab", "bc", "ca", "abc"};
}

Load read_load(Table const& table, Supply const& supply) {
    table.only({"between", "amps", "pf", "current", "energy", "third", "fifth", "seventh"});
    Load load;
    auto const between = table.needed_word("between", branches_of(supply));
    if (between.size() == 2)
        load.between = {conductor_named(between.substr(0, 1)), conductor_named(between.substr(1, 1))};
    load.amps = table.needed_number("amps", {0.0});
    double const pf = table.number("pf", share).value_or(1.0);
    bool const leads = table.word("current", {"lags", "leads"}) == "leads";
    bool const out = table.word("energy", {"in", "out"}) == "out";
    double const turn = std::acos(pf) * 180.0 / std::numbers::pi;
    load.lag_deg = (leads ? -turn : turn) + (out ? 180.0 : 0.0);
    load.third = table.number("third", share).value_or(0.0);
    load.fifth = table.number("fifth", share).value_or(0.0);
    load.seventh = table.number("seventh", share).value_or(0.0);
    return load;
}

Landing read_landing(Table const& taps, std::string const& terminal, Supply const& supply) {
    auto const conductors = letters_of(supply.kind == SupplyKind::split_phase ? "abn" : "abcn");
    if (!taps.is_table(terminal)) return conductor_named(taps.needed_word(terminal, conductors));
    auto const lead = *taps.table(terminal);
    lead.only({"lead", "ghost_v", "copy_of"});
    (void)lead.needed_word("lead", {"touches nothing"});
    LooseLead loose;
    loose.ghost_v = lead.number("ghost_v", positive);
    loose.copy_of = conductor_named(lead.word("copy_of", conductors).value_or("a"));
    if (lead.has("copy_of") && !lead.has("ghost_v"))
        lead.refuse("copy_of", "there is no ghost voltage that could copy it", "copy_of only beside ghost_v");
    return loose;
}

void read_taps(Table const& taps, plan::ServiceModel const& model, Supply const& supply, WiredPoint& wired) {
    std::vector<std::string> known;
    known.reserve(model.terminals.size() + 1);
    for (std::size_t k = 0; k < model.terminals.size(); ++k) known.push_back("V" + std::to_string(k + 1));
    for (std::size_t k = 0; k < known.size(); ++k)
        if (taps.has(known[k])) wired.taps[k] = read_landing(taps, known[k], supply);
    if (model.has_neutral) {
        known.emplace_back("N");
        if (taps.has("N")) wired.neutral = read_landing(taps, "N", supply);
    }
    taps.only(known);
}

std::optional<quantity::TransformerRatio> read_ratio(Table const& table, std::string_view field) {
    auto const pair = table.numbers(field, 2, positive);
    if (pair.size() != 2) return std::nullopt;
    return quantity::TransformerRatio{pair[0], pair[1]};
}

FittedCt read_ct(Table const& table, Supply const& supply, int cables, FittedCt planned) {
    table.only({"round", "cables_in_window", "p1_faces", "s1_on", "links", "ratio", "programmed"});
    auto places = letters_of(supply.kind == SupplyKind::split_phase ? "abn" : "abcn");
    places.emplace_back("nothing");
    if (auto const round = table.word("round", places)) planned.round = plan::conductor_of(*round);
    // Cables in parallel are alike and share the current equally.
    if (auto const inside = table.whole("cables_in_window", {1.0, static_cast<double>(cables)}))
        planned.window_share = static_cast<double>(*inside) / static_cast<double>(cables);
    planned.p1_faces_source = table.word("p1_faces", {"source", "load"}).value_or("source") == "source";
    planned.s1_on_s1 = table.word("s1_on", {"S1", "S2"}).value_or("S1") == "S1";
    planned.links_closed = table.word("links", {"open", "closed"}).value_or("open") == "closed";
    planned.ratio = read_ratio(table, "ratio").value_or(planned.ratio);
    planned.programmed = read_ratio(table, "programmed").value_or(planned.programmed);
    return planned;
}

plan::MeteringPoint const* point_of(plan::Site const& site, std::string const& id) {
    for (auto const& point : site.points)
        if (point.id == id) return &point;
    return nullptr;
}

void read_point(Table const& table, plan::MeteringPoint const& point, Supply const& supply,
                WiredPoint& wired) {
    table.only({"id", "numbers", "loads", "taps", "cts", "wander", "noise"});
    auto const model = plan::model_of(point.service, point.model_options);
    if (supply.kind == SupplyKind::split_phase)
        for (auto const conductor : model.live)
            if (conductor == plan::Conductor::c)
                table.refuse("id",
                             "the service of the point needs a conductor c, and its supply is split phase",
                             "a supply of another kind for panel " + point.panel);
    wired.float_numbers = table.word("numbers", {"integer", "float"}).value_or("integer") == "float";
    for (auto const& load : table.tables("loads")) wired.loads.push_back(read_load(load, supply));
    if (auto const taps = table.table("taps")) read_taps(*taps, model, supply, wired);
    if (table.has("cts")) {
        auto const cts = table.tables("cts");
        if (cts.size() != wired.cts.size())
            table.refuse("cts", "the number of CTs is not that of the meter's current inputs",
                         "a list of " + std::to_string(wired.cts.size()) + " tables");
        else
            for (std::size_t k = 0; k < cts.size(); ++k)
                wired.cts[k] = read_ct(cts[k], supply, point.cables_per_phase, wired.cts[k]);
    }
    if (auto const wander = table.table("wander")) {
        wander->only({"amps_percent", "degrees"});
        wired.wander.amps_percent =
            wander->number("amps_percent", {0.0, 30.0}).value_or(wired.wander.amps_percent);
        wired.wander.degrees = wander->number("degrees", {0.0, 60.0}).value_or(wired.wander.degrees);
    }
    if (auto const noise = table.table("noise")) {
        noise->only({"volts", "amps"});
        wired.noise.volts = noise->number("volts", {0.0}).value_or(wired.noise.volts);
        wired.noise.amps = noise->number("amps", {0.0}).value_or(wired.noise.amps);
    }
}

void read_supplies(Table const& root, plan::Site const& site, WiredSite& wired) {
    auto const supplies = root.table("supply");
    std::vector<std::string> panels;
    for (auto const& panel : site.panels) {
        panels.push_back(panel.id);
        auto const table = supplies ? supplies->table(panel.id) : std::nullopt;
        if (table) wired.supplies[panel.id] = read_supply(*table, panel);
        if (!table && !root.fault())
            (supplies ? *supplies : root)
                .refuse(supplies ? panel.id : "supply", "the supply of panel \"" + panel.id + "\" is missing",
                        "a table [supply." + panel.id + "]");
    }
    if (supplies) supplies->only(panels);
}
}  // namespace

WiredPoint as_planned(plan::MeteringPoint const& point) {
    auto const model = plan::model_of(point.service, point.model_options);
    WiredPoint wired{.id = point.id};
    for (auto const terminal : model.terminals) wired.taps.emplace_back(terminal);
    if (model.has_neutral) wired.neutral = plan::Conductor::n;
    for (auto const conductor : model.current_inputs)
        wired.cts.push_back({.round = conductor, .ratio = point.ct.ratio, .programmed = point.ct.ratio});
    return wired;
}

std::expected<WiredSite, quantity::Fault> read_wired(std::string_view text, std::string const& file,
                                                     plan::Site const& site) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"seed", "supply", "point"});
    WiredSite wired;
    wired.seed = static_cast<std::uint64_t>(root->whole("seed", {0.0}).value_or(1));
    read_supplies(*root, site, wired);
    if (root->fault()) return std::unexpected(*root->fault());

    std::vector<std::string> ids;
    ids.reserve(site.points.size());
    for (auto const& point : site.points) ids.push_back(point.id);
    for (auto const& table : root->tables("point")) {
        auto const id = table.needed_text("id");
        auto const* const point = point_of(site, id);
        if (point == nullptr)
            table.refuse("id", "the plan has no such point", "the id of a point of the plan",
                         "did you mean \"" + quantity::nearest_word(id, ids) + "\"?");
        else if (wired.points.contains(id))
            table.refuse("id", "the point has been described before", "each point once");
        if (root->fault()) return std::unexpected(*root->fault());
        auto& as_wired = wired.points[id] = as_planned(*point);
        read_point(table, *point, wired.supplies.at(point->panel), as_wired);
    }
    for (auto const& id : ids)
        if (!wired.points.contains(id))
            root->refuse("point", "the point \"" + id + "\" is missing", "every point of the plan");
    if (root->fault()) return std::unexpected(*root->fault());
    return wired;
}

}  // namespace phasewright::twin
