// Papers of a panel: its schedule, and itself on one line with its meters marked.
#include <algorithm>
#include <charconv>
#include <map>

#include "core/quantity/text.hpp"
#include "core/report/plan_papers.hpp"
#include "core/report/plan_ways.hpp"

namespace phasewright::report {

namespace {

std::string name_of(plan::Panel const& panel) { return panel.name.empty() ? panel.id : panel.name; }

std::string amperes(std::optional<double> value) { return value ? quantity::shortest(*value) + " A" : ""; }

std::string cts_of(plan::Site const& site, plan::MeteringPoint const& point) {
    auto const wiring = wiring_of(site, point, {});
    return std::to_string(wiring.cts.size()) + " \u00d7 " + ct_words(point);
}

std::string metered_words(PlannedWay const& way) {
    if (way.point == nullptr) return "\u2013";
    return way.point->id + (way.branch.empty() ? "" : " " + way.branch);
}

std::optional<int> pole_of(std::string_view way) {
    int pole = 0;
    auto const [end, error] = std::from_chars(way.data(), way.data() + way.size(), pole);
    if (error != std::errc{} || end != way.data() + way.size() || pole < 1 || pole > 200) return std::nullopt;
    return pole;
}

// Odd poles on the left, even ones on the right, as they stand in the panel.
PaperTable by_sides(plan::Site const& site, plan::Panel const& panel, std::vector<PlannedWay> const& ways) {
    PaperTable table{.columns = {{"feeds", 154},
                                 {"metered by", 92},
                                 {"A", 38, true},
                                 {"pole", 42, true, true},
                                 {"", 46},
                                 {"pole", 42, true, true},
                                 {"A", 38, true},
                                 {"feeds", 154},
                                 {"metered by", 92}}};
    struct Pole {
        PlannedWay const* way = nullptr;
        bool first = false;
    };
    std::map<int, Pole> poles;
    int last = 0;
    bool const split = panel.service == plan::Service::split_phase_three_wire;
    for (auto const& way : ways) {
        auto const first = *pole_of(way.way);
        auto const live = static_cast<int>(
            std::ranges::count_if(way.conductors, [](auto one) { return one != plan::Conductor::n; }));
        for (int k = 0; k < std::max(1, live); ++k) {
            poles[first + 2 * k] = {&way, k == 0};
            last = std::max(last, first + 2 * k);
        }
    }
    for (int odd = 1; odd <= last; odd += 2) {
        std::vector<std::string> row(9);
        auto const conductor = plan::conductor_of_pole(odd, plan::PoleNumbering::odd_left, split ? 2 : 3);
        row[4] = site.region.conductors[static_cast<std::size_t>(conductor)];
        for (int side = 0; side < 2; ++side) {
            auto const found = poles.find(odd + side);
            auto const at = [&](int left, int right) -> std::string& {
                return row[static_cast<std::size_t>(side == 0 ? left : right)];
            };
            at(3, 5) = std::to_string(odd + side);
            if (found == poles.end()) continue;
            bool const first = found->second.first;
            at(0, 7) = first ? found->second.way->name : "\u2033";
            at(1, 8) = first ? metered_words(*found->second.way) : "\u2013";
            at(2, 6) =
                first
                    ? (found->second.way->breaker_a ? quantity::shortest(*found->second.way->breaker_a) : "")
                    : "\u2013";
        }
        table.rows.push_back(std::move(row));
    }
    return table;
}

PaperTable in_a_list(plan::Site const& site, std::vector<PlannedWay> const& ways) {
    PaperTable table{.columns = {{"way", 52, false, true},
                                 {"conductors", 96},
                                 {"A", 48, true},
                                 {"feeds", 244},
                                 {"metered by", 134},
                                 {"CTs", 170}}};
    for (auto const& way : ways)
        table.rows.push_back({way.way, conductors_words(site.region, way.conductors),
                              way.breaker_a ? quantity::shortest(*way.breaker_a) : "", way.name,
                              metered_words(way),
                              way.point == nullptr ? "\u2013" : cts_of(site, *way.point)});
    return table;
}

std::string feed_words(plan::Site const& site, plan::Panel const& panel) {
    if (panel.fed_from.empty()) return "from the site's supply";
    auto const* const from = panel_of(site, panel.fed_from);
    std::string words = "from " + (from == nullptr ? panel.fed_from : name_of(*from));
    if (!panel.fed_from_way.empty()) words += ", way " + panel.fed_from_way;
    return words;
}

std::string supply_line(plan::Panel const& panel) {
    std::string words = nominal_words(panel.nominal);
    if (panel.service) words += ", " + std::string(plan::words_of(*panel.service));
    return words;
}

}  // namespace

std::string conductors_words(plan::Region const& region, std::vector<plan::Conductor> const& conductors) {
    std::string words;
    for (auto const conductor : conductors) {
        if (!words.empty()) words += " ";
        words += region.conductors[static_cast<std::size_t>(conductor)];
    }
    return words;
}

Paper panel_schedule(plan::Site const& site, plan::Panel const& panel) {
    auto const ways = ways_of(site, panel, nullptr);
    bool const sides =
        panel.numbering == plan::PoleNumbering::odd_left && !ways.empty() &&
        std::ranges::all_of(ways, [](auto const& way) { return pole_of(way.way).has_value(); });
    PaperTable facts{
        .columns = {
            {"supply", 190}, {"fed", 200}, {"breaker in front", 100}, {"fault current", 96}, {"room", 158}}};
    std::string room = panel.room;
    for (auto const& one : site.rooms)
        if (one.id == panel.room) room = one.name + (one.floor.empty() ? "" : ", " + one.floor);
    facts.rows.push_back({supply_line(panel), feed_words(site, panel), amperes(panel.breaker_a),
                          panel.fault_ka ? quantity::shortest(*panel.fault_ka) + " kA" : "", room});
    Paper paper{
        .file = "panel-" + panel.id,
        .title = name_of(panel) + ": panel schedule",
        .lead =
            sides ? "Odd poles left, even poles right; the letter between them is the phase of both." : "",
        .panel = name_of(panel),
        .point = "",
        .content = Tables{{std::move(facts), sides ? by_sides(site, panel, ways) : in_a_list(site, ways)}},
        .notes = {}};
    if (sides)
        paper.notes.emplace_back(
            "The phase of a pole is counted, not measured: some gear counts otherwise. Measure before it is "
            "relied upon.");
    return paper;
}

Paper one_line_paper(plan::Site const& site, plan::Panel const& panel, std::string_view marked_point) {
    auto const* const incoming = incoming_point(site, panel);
    OneLine line{.panel = name_of(panel),
                 .supply = supply_line(panel),
                 .feed = feed_words(site, panel),
                 .breaker = amperes(panel.breaker_a)};
    if (incoming != nullptr) {
        line.incoming_cts = cts_of(site, *incoming);
        line.incoming_point = incoming->id;
        if (line.breaker.empty()) line.breaker = amperes(incoming->breaker_a);
    }
    for (auto const& way : ways_of(site, panel, incoming)) {
        OneLineWay one{.way = way.way,
                       .name = way.feeds.empty() ? way.name : way.feeds,
                       .breaker = amperes(way.breaker_a),
                       .conductors = conductors_words(site.region, way.conductors)};
        one.feeds = way.feeds.empty() ? "" : "panel";
        if (way.point != nullptr) {
            one.cts = cts_of(site, *way.point);
            one.point = metered_words(way);
            one.marked = way.point->id == marked_point;
            if (!way.point->installed) one.feeds = "planned for later";
        }
        line.ways.push_back(std::move(one));
    }
    return {.file = "one-line-" + panel.id,
            .title = name_of(panel) + ": one-line",
            .lead =
                "Energy runs down and then to the right. A ring is a set of current transformers, a frame "
                "with an M the meter that it serves.",
            .panel = name_of(panel),
            .point = std::string(marked_point),
            .content = std::move(line),
            .notes = {}};
}

}  // namespace phasewright::report
