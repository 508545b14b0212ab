#include "core/diagnosis/newer.hpp"

#include <algorithm>

#include "core/readings/check.hpp"

namespace phasewright::diagnosis {

namespace {
// What tells of CTs, cables and the source rather than of leads: no move of a lead changes it.
bool outlives_a_move(std::string_view kind) {
    return kind == "nameplate" || kind == "turns_in_window" || kind == "cables_in_window" ||
           kind == "bill_pf" || kind == "rotation_at_source";
}

// The moment that a reading must have passed, and what it was.
struct Moment {
    std::string time, what;
    double seconds = 0.0;
};

enum class Order { later, not_later, unknown };

Order order_of(std::optional<std::string> const& time, Moment const& moment) {
    auto const seconds = time ? readings::seconds_of(*time) : std::nullopt;
    if (!seconds || tells_offset(*time) != tells_offset(moment.time)) return Order::unknown;
    return *seconds > moment.seconds ? Order::later : Order::not_later;
}

std::optional<Moment> moment_of(std::optional<std::string> const& time, std::string const& what) {
    auto const seconds = time ? readings::seconds_of(*time) : std::nullopt;
    if (!seconds) return std::nullopt;
    return Moment{*time, what, *seconds};
}

// Against every moment that is known; the first one that is not passed decides.
struct Passed {
    Order order = Order::later;
    Moment const* at = nullptr;
};
Passed passed(std::optional<std::string> const& time, std::vector<Moment> const& moments) {
    for (auto const& moment : moments)
        if (auto const order = order_of(time, moment); order != Order::later) return {order, &moment};
    return {};
}

// A live load never holds every number to the last digit.
bool held(readings::Snapshot const& before, readings::Snapshot const& after) {
    constexpr std::size_t enough = 6;
    std::size_t numbers = 0;
    for (auto const* const column : {&before.v, &before.i, &before.p, &before.q})
        numbers += static_cast<std::size_t>(
            std::ranges::count_if(*column, [](auto const& value) { return value && *value != 0.0; }));
    return numbers >= enough && before.v == after.v && before.i == after.i && before.p == after.p &&
           before.q == after.q && before.p_total == after.p_total && before.v_angle == after.v_angle;
}

void keep_newer(readings::ReadingSet const& after, std::vector<Moment> const& moments, NewPart& part) {
    part.set.snapshots.clear();
    for (auto const& snapshot : after.snapshots)
        if (passed(snapshot.time, moments).order == Order::later) part.set.snapshots.push_back(snapshot);
    auto const older = after.snapshots.size() - part.set.snapshots.size();
    if (older > 0)
        part.left_out.push_back(std::to_string(older) + " of " + std::to_string(after.snapshots.size()) +
                                " snapshots, not shown to be newer than " + moments.front().what);
    if (older > 0 && !after.steps.empty()) {
        part.set.steps.clear();
        part.left_out.emplace_back("the load steps between snapshots, some of which are older");
    }
    part.set.tests.clear();
    for (auto const& test : after.tests) {
        bool const counts = outlives_a_move(test.kind) || passed(test.time, moments).order == Order::later;
        if (counts)
            part.set.tests.push_back(test);
        else
            part.left_out.push_back("the answer to " + test.kind + (test.at.empty() ? "" : " at " + test.at) +
                                    ", not shown to be newer than " + moments.front().what);
    }
}
}  // namespace

bool tells_offset(std::string_view iso_time) {
    auto const clock = iso_time.find_first_of("Tt ");
    return clock != std::string_view::npos && iso_time.find_first_of("Zz+-", clock) != std::string_view::npos;
}

NewPart newer_part(readings::ReadingSet const& before, readings::ReadingSet const& after,
                   std::optional<std::string> const& moved_at) {
    NewPart part{.set = after};
    auto const& last_before = before.snapshots.back();
    auto const& last = after.snapshots.back();
    auto const move = moment_of(moved_at, "the move");
    auto const read_before = moment_of(last_before.time, "the reading before the move");
    if (moved_at && !move) {
        part.why = "the moment of the move is not a time: " + *moved_at;
        return part;
    }
    std::vector<Moment> moments;
    if (move) moments.push_back(*move);
    if (read_before) moments.push_back(*read_before);
    if (moments.empty()) {
        part.why =
            "neither the move nor the reading before it has a time, so nothing shows that this reading is "
            "newer";
        return part;
    }
    if (move && read_before && order_of(move->time, *read_before) != Order::later) {
        part.why = "the move (" + move->time + ") is not shown to be later than the reading before it (" +
                   read_before->time + "), so that reading may show the wiring after it";
        return part;
    }
    if (!last.time) {
        part.why =
            "the new reading has no time, so nothing shows that it is newer than " + moments.front().what;
        return part;
    }
    auto const last_passed = passed(last.time, moments);
    if (last_passed.order == Order::unknown) {
        part.why = "of " + *last.time + " and " + last_passed.at->time +
                   " only one tells its offset from UTC, so the two cannot be put in order";
        return part;
    }
    part.age = Age::not_newer;
    if (last_passed.order == Order::not_later) {
        part.why = "the reading of " + *last.time + " is not newer than " + last_passed.at->what + " (" +
                   last_passed.at->time + "): it may show the old wiring";
        return part;
    }
    if (held(last_before, last)) {
        part.why =
            "every number stands to the last digit as it did before the move, as no live load does: the "
            "meter "
            "or what lies between may have held an old answer";
        return part;
    }
    part.age = Age::newer;
    keep_newer(after, moments, part);
    return part;
}

}  // namespace phasewright::diagnosis
