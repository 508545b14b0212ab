#include "core/plan/region.hpp"

#include <algorithm>

namespace phasewright::plan {

namespace {
// The same data as regions/iec.toml and regions/north-america.toml; a test holds them together.
Region iec() {
    Region region;
    region.title = "IEC practice";
    region.names_in_use = "l1-l2-l3";
    region.phase_names = {{"l1-l2-l3", {"L1", "L2", "L3"}, "N", "PE"},
                          {"u-v-w", {"U", "V", "W"}, "N", "PE"},
                          {"r-y-b", {"R", "Y", "B"}, "N", "E"},
                          {"a-b-c", {"A", "B", "C"}, "N", "PE"}};
    region.colour_sets = {{.id = "iec-60445",
                           .title = "IEC 60445",
                           .phases = {"brown", "black", "grey"},
                           .neutral = "blue",
                           .earth = "green-yellow",
                           .source = "IEC 60445 (which took up IEC 60446)",
                           .footing = Footing::seen}};
    region.rules = {
        {"ct-marks", "P1 faces the source; P1 and S1 have the same polarity at the same instant.", "IEC 61869-2", "2012",
         "6.13.2.2", Footing::memory},
        {"conductor-colours", "Neutral blue, protective conductor green-yellow.", "IEC 60445", "", "", Footing::seen},
        {"tap-fault-energy", "The let-through energy I2t of the device in front does not exceed k2S2 of the conductor.",
         "IEC 60364-4-43", "", "434.5.2", Footing::memory},
        {"tap-length",
         "The protection may sit up to 3 m behind the tap where the run has no branch, its risk of a short circuit is kept "
         "small and nothing that burns is near.",
         "IEC 60364-4-43", "", "433.2.2, 434.2.1", Footing::memory},
        {"breaker-and-conductor", "Load current, rated current of the device, current-carrying capacity: each not above the next.",
         "IEC 60364-4-43", "", "433.1", Footing::memory},
        {"measurement-category",
         "Category III for circuits of the building's distribution, category IV at the source of the installation.",
         "IEC 61010-2-030", "", "", Footing::memory}};
    return region;
}

Region north_america() {
    Region region;
    region.name = "north-america";
    region.title = "United States practice";
    region.conductors = {"A", "B", "C", "N"};
    region.primary_marks = {"H1", "H2"};
    region.secondary_marks = {"X1", "X2"};
    region.earth = "G";
    region.sizes = SizeSystem::awg;
    region.names_in_use = "a-b-c";
    region.phase_names = {{"a-b-c", {"A", "B", "C"}, "N", "G"}, {"l1-l2-l3", {"L1", "L2", "L3"}, "N", "G"}};
    region.colour_sets = {{.id = "us-up-to-240",
                           .title = "United States, 120/208 V and 120/240 V",
                           .phases = {"black", "red", "blue"},
                           .neutral = "white",
                           .earth = "green",
                           .high_leg = "orange",
                           .most_ll_v = 300.0,
                           .source = "common practice; the orange high leg: NEC 110.15, 230.56",
                           .footing = Footing::practice},
                          {.id = "us-above-240",
                           .title = "United States, 277/480 V",
                           .phases = {"brown", "orange", "yellow"},
                           .neutral = "gray",
                           .earth = "green",
                           .least_ll_v = 300.0,
                           .source = "common practice; white or gray neutral: NEC 200.6",
                           .footing = Footing::practice}};
    region.rules = {
        {"ct-marks", "H1 faces the source; current into H1 flows out of X1.", "IEEE C57.13", "", "", Footing::memory},
        {"high-leg-marking", "The high leg is orange, or marked as well as that, wherever the neutral is also present.", "NEC",
         "", "110.15, 230.56", Footing::seen},
        {"phase-arrangement",
         "A, B, C front to back, top to bottom, left to right from the front; B is the high leg. Old gear and many meter "
         "sockets have it elsewhere.",
         "NEC", "", "408.3(E)", Footing::seen},
        {"ct-secondary-earth",
         "Secondaries of current and voltage transformers are grounded, at one point, where the primary is 300 V or more to "
         "ground, and in switchboards at any voltage.",
         "NEC", "", "250.170", Footing::seen},
        {"tap-10-ft", "A tap of up to 10 ft that leaves the enclosure carries a tenth of the rating of the device in front.", "NEC",
         "", "240.21(B)(1)", Footing::seen},
        {"tap-25-ft", "A tap of up to 25 ft carries a third of the rating of the device in front, and ends in one device.", "NEC",
         "", "240.21(B)(2)", Footing::seen},
        {"instrument-overcurrent", "Instruments and voltage transformers in switchboards and panelboards: 15 A at most.", "NEC", "",
         "408.52", Footing::memory},
        {"wiring-space", "Monitoring equipment in a panel: conductors, splices, taps and equipment fill at most 75 percent.", "NEC",
         "2017 and later", "312.8(B)", Footing::seen}};
    return region;
}
}  // namespace

std::optional<Region> region_of(std::string_view name) {
    if (name == "iec") return iec();
    if (name == "north-america") return north_america();
    return std::nullopt;
}

bool use_names(Region& region, std::string_view id) {
    auto const names = std::ranges::find(region.phase_names, id, &PhaseNames::id);
    if (names == region.phase_names.end()) return false;
    region.names_in_use = names->id;
    region.conductors = {names->phases[0], names->phases[1], names->phases[2], names->neutral};
    region.earth = names->earth;
    return true;
}

ColourSet const* colours_for(Region const& region, std::string_view named, double v_ll) {
    auto const by_id = [&](std::string_view id) -> ColourSet const* {
        auto const found = std::ranges::find(region.colour_sets, id, &ColourSet::id);
        return id.empty() || found == region.colour_sets.end() ? nullptr : &*found;
    };
    if (auto const* const set = by_id(named)) return set;
    if (auto const* const set = by_id(region.colours)) return set;
    for (auto const& set : region.colour_sets) {
        bool const fits = (!set.least_ll_v || v_ll >= *set.least_ll_v) && (!set.most_ll_v || v_ll <= *set.most_ll_v);
        if (v_ll <= 0.0 || fits) return &set;
    }
    return nullptr;
}

RuleText const* rule_of(Region const& region, std::string_view id) {
    auto const found = std::ranges::find(region.rules, id, &RuleText::id);
    return found == region.rules.end() ? nullptr : &*found;
}

bool same_colour(std::string_view one, std::string_view other) {
    auto const plain = [](std::string_view text) {
        std::string all;
        for (char const c : text) {
            if (c >= 'A' && c <= 'Z') all += static_cast<char>(c - 'A' + 'a');
            else all += c == ' ' || c == '/' ? '-' : c;
        }
        if (auto const at = all.find("gray"); at != std::string::npos) all.replace(at, 4, "grey");
        return all == "yellow-green" ? std::string{"green-yellow"} : all;
    };
    return plain(one) == plain(other);
}

}  // namespace phasewright::plan
