// Is a reading newer than the move that it is to confirm? A meter's answer may have waited in a gateway, a
// file or a notebook since before the hand moved the lead, and then it shows the old wiring: a stale reading
// never confirms. Only times that both carry their offset from UTC, or both do not, can be put in order.
// Equal times are not newer: a meter tells its registers to the second, and a hand is not faster.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

enum class Age {
    newer,        // at least the last snapshot is newer than the move and than the reading before it
    not_newer,    // it is as old or older, or the registers have not moved since
    cannot_tell,  // a time is missing, or two times cannot be put in order
};

struct NewPart {
    Age age = Age::cannot_tell;
    std::string why;                    // when it is not newer, or cannot be told
    readings::ReadingSet set;           // of `after`, what is newer; whole when nothing is
    std::vector<std::string> left_out;  // what of it is older or has no time, in words
};

// `moved_at`: the moment of the last move, ISO 8601 with offset; without it the reading before the move
// stands for it.
[[nodiscard]] NewPart newer_part(readings::ReadingSet const& before, readings::ReadingSet const& after,
                                 std::optional<std::string> const& moved_at);

// "2026-05-20T10:00:00+02:00" and "...Z", not "2026-05-20T10:00:00".
[[nodiscard]] bool tells_offset(std::string_view iso_time);

}  // namespace phasewright::diagnosis
