// What lands under which screw: sizes against the range of the meter's terminals, ferrules on flexible
// strands.
#include <array>
#include <set>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {
using plan::ConductorSize;
using plan::WireUse;

struct Landed {
    WireUse use = WireUse::voltage;
    std::string_view words;
    std::optional<ConductorSize> size;
    std::optional<plan::Strands> strands;
};
std::vector<Landed> landed_at(AtPoint const& at) {
    std::vector<Landed> all;
    if (auto const& tap = at.point->tap)
        all.push_back({WireUse::voltage, "voltage tap", tap->size, tap->strands});
    if (auto const& lead = at.point->lead)
        all.push_back({WireUse::current, "lead of the current transformer", lead->size, lead->strands});
    if (auto const& feed = at.point->supply)
        all.push_back({WireUse::supply, "supply wire", feed->size, std::nullopt});
    return all;
}

struct Range {
    double least_mm2 = 0.0, most_mm2 = 0.0;
    std::string words;
};
// In the unit of the wire where the profile says it in that unit: nobody converts a 12 AWG terminal to mm2 by
// hand.
std::optional<Range> range_for(plan::WireRange const& terminal, ConductorSize const& size) {
    auto const awg = [](std::string const& text) {
        return plan::conductor_size_of(text, plan::SizeUnit::awg);
    };
    auto const thin = awg(terminal.thinnest_awg);
    auto const thick = awg(terminal.thickest_awg);
    bool const in_awg = thin && thick && (size.unit != plan::SizeUnit::mm2 || !terminal.mm2);
    if (in_awg)
        return Range{plan::area_mm2(*thin), plan::area_mm2(*thick),
                     plan::text_of(*thin) + " to " + plan::text_of(*thick)};
    if (!terminal.mm2) return std::nullopt;
    return Range{terminal.mm2->least, terminal.mm2->most,
                 figure(terminal.mm2->least) + " mm2 to " + figure(terminal.mm2->most) + " mm2"};
}

void look_at_sizes(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const hardware = at.hardware();
        if (hardware == nullptr) continue;
        for (auto const& wire : landed_at(at)) {
            auto const* const terminal = plan::wires_for(*hardware, wire.use);
            if (!wire.size || terminal == nullptr) continue;
            auto const range = range_for(*terminal, *wire.size);
            double const area = plan::area_mm2(*wire.size);
            if (!range || (area >= range->least_mm2 * 0.999 && area <= range->most_mm2 * 1.001)) continue;
            notes.add({.places = places_of(at),
                       .what = std::string(wire.words) + " of " + plan::text_of(*wire.size) +
                               " for a terminal of " + at.point->meter_profile + " that takes " +
                               range->words,
                       .value = area,
                       .limit = area < range->least_mm2 ? range->least_mm2 : range->most_mm2,
                       .unit = "mm2"});
        }
    }
}

// Every panel once, with the strip lengths of its meters.
void look_at_ferrules(Ground const& ground, Notes& notes) {
    for (auto const& panel : ground.panels) {
        std::vector<Place> places{at_panel(*panel.panel)};
        std::vector<std::string> ids;
        std::set<std::string> lengths;
        for (auto const* at : panel.points) {
            bool flexible = false;
            for (auto const& wire : landed_at(*at)) {
                if (wire.strands != plan::Strands::flexible) continue;
                flexible = true;
                auto const* const hardware = at->hardware();
                auto const* const terminal =
                    hardware == nullptr ? nullptr : plan::wires_for(*hardware, wire.use);
                bool const known = terminal != nullptr && terminal->strip_mm;
                lengths.insert(known ? figure(*terminal->strip_mm) + " mm at " + at->point->meter_profile
                                     : "as the sheet of " + at->point->meter_profile + " says");
            }
            if (!flexible) continue;
            ids.push_back(at->point->id);
            places.push_back(at_point(*at));
        }
        if (ids.empty()) continue;
        notes.add({.places = std::move(places),
                   .what = "flexible strands want ferrules at " + named(ids) + "; stripped " +
                           named(std::vector<std::string>(lengths.begin(), lengths.end()))});
    }
}

constexpr std::array rules{
    Rule{.id = "terminal.size",
         .title = "a conductor is too thin or too thick for the meter's terminal",
         .source = {"the meter's profile", "", "wires", plan::Footing::seen},
         .remedy = "a conductor within the range, or terminals between the two",
         .look = look_at_sizes},
    Rule{.id = "terminal.ferrule",
         .title = "flexible strands want ferrules",
         .severity = Severity::mind,
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "put ferrules and strip length on the wiring sheet",
         .look = look_at_ferrules},
};
}  // namespace

std::span<Rule const> terminal_rules() { return rules; }

}  // namespace phasewright::checks
