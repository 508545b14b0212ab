// What a check of a plan has to say: one finding, at one place, by one rule.
//   stop   must not be built, energised or touched like this: people or equipment can come to harm
//   mend   the figures would be wrong or unproven, the meter would not live or not be heard
//   mind   look at it, or say what the plan leaves open
// A limit that was written down from memory makes a *mind* at most until a user has held it against the
// edition in force, unless physics alone makes the thing dangerous whatever any edition says. No finding says
// that a thing is safe, and a plan without findings is no proof that it is: docs/reference/plan-checks.md.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/chain/citation.hpp"
#include "core/plan/words.hpp"

namespace phasewright::checks {

enum class Severity { stop, mend, mind };
[[nodiscard]] constexpr auto word_table(Severity) {
    return plan::Words<Severity, 3>{
        {{Severity::stop, "stop"}, {Severity::mend, "mend"}, {Severity::mind, "mind"}}};
}

enum class PlaceKind { site, panel, point, line, supply, gateway, sum, profile };
[[nodiscard]] constexpr auto word_table(PlaceKind) {
    return plan::Words<PlaceKind, 8>{{{PlaceKind::site, "site"},
                                      {PlaceKind::panel, "panel"},
                                      {PlaceKind::point, "point"},
                                      {PlaceKind::line, "line"},
                                      {PlaceKind::supply, "supply"},
                                      {PlaceKind::gateway, "gateway"},
                                      {PlaceKind::sum, "sum"},
                                      {PlaceKind::profile, "profile"}}};
}

struct Place {
    PlaceKind kind = PlaceKind::site;
    std::string id;
    friend bool operator==(Place const&, Place const&) = default;
};
[[nodiscard]] std::string words_of(Place const& place);  // "point tenant-3"

struct Finding {
    std::string rule;  // "tap.breaking"
    Severity severity = Severity::mind;
    std::vector<Place> places;    // the first is where it is to be mended; the others belong to it
    std::string what;             // a sentence without a full stop
    std::optional<double> value;  // as planned
    std::optional<double> limit;  // what it is held against
    std::string unit;             // of both
    chain::Citation source;       // of the limit
    std::string remedy;
    std::string caution;  // of every stop
};

// "IEC 60364-4-43, 433.2.2, edition in force"; "derived"; "the meter's profile".
[[nodiscard]] std::string words_of_source(chain::Citation const& source);

struct Counts {
    std::size_t stop = 0, mend = 0, mind = 0;
};
[[nodiscard]] Counts counted(std::vector<Finding> const& findings);

}  // namespace phasewright::checks
