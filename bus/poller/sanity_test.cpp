#include "bus/poller/sanity.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace phasewright;
using namespace phasewright::poller;

namespace {

plan::MeteringPoint four_wire() {
    plan::MeteringPoint point;
    point.id = "tenant-1";
    point.breaker_a = 63.0;
    return point;
}
constexpr plan::Nominal nominal{230.0, 400.0, 50.0};

Sanity usual() { return Sanity(expected_of(four_wire(), nominal)); }

Reading reading(double at_s, double wander = 0.0) {
    Reading one{.line = "line-1", .point = "tenant-1", .time = utc_text(at_s), .at_s = at_s, .took_s = 0.1};
    one.snapshot.v = {230.0 + wander, 231.0, 229.0};
    one.snapshot.i = {10.0, 11.0, 12.0};
    one.snapshot.pf = {0.9, 0.95, -1.0};
    one.snapshot.hz = 50.01;
    return one;
}
Reading with_energy(double at_s, double value) {
    auto one = reading(at_s, at_s / 100.0);
    one.counters = {{"import", value, {.wrap = 1e9, .step = 1.0}}};
    return one;
}

std::vector<NoteKind> kinds(std::vector<Event> const& events) {
    std::vector<NoteKind> found;
    for (auto const& event : events)
        if (auto const* const note = std::get_if<Note>(&event)) found.push_back(note->kind);
    return found;
}
std::vector<double> times(std::vector<Event> const& events) {
    std::vector<double> found;
    for (auto const& event : events)
        if (auto const* const one = std::get_if<Reading>(&event)) found.push_back(one->at_s);
    return found;
}
using Kinds = std::vector<NoteKind>;
using Times = std::vector<double>;

}  // namespace

TEST_CASE("what each element is rated for follows from the service") {
    CHECK(expected_of(four_wire(), nominal).v == std::vector<double>{230.0, 230.0, 230.0});
    auto point = four_wire();
    point.service = plan::Service::three_wire_two_element;
    auto const two = expected_of(point, {0.0, 400.0, 50.0});
    REQUIRE(two.v.size() == 2);
    CHECK(two.v[0] == doctest::Approx(400.0).epsilon(1e-3));
    point.service = plan::Service::three_wire_three_ct;
    CHECK(expected_of(point, {0.0, 400.0, 50.0}).v[1] ==
          doctest::Approx(400.0 / std::sqrt(3.0)).epsilon(1e-3));
    CHECK(expected_of(four_wire(), {}).v.empty());
}

TEST_CASE("an ordinary reading passes without a note") {
    auto sanity = usual();
    for (int k = 0; k < 20; ++k) {
        auto const events = sanity.judge(reading(5.0 * k, 0.1 * k));
        CHECK(times(events) == Times{5.0 * k});
        CHECK(kinds(events).empty());
    }
}

TEST_CASE("a number that cannot be is told once, and again only after it was good") {
    auto sanity = usual();
    auto wrong = reading(0.0);
    wrong.snapshot.v[1] = 398.0;  // a lead between two phases
    CHECK(kinds(sanity.judge(wrong)) == Kinds{NoteKind::out_of_range});
    wrong.at_s = 5.0;
    wrong.snapshot.v[1] = 399.0;
    CHECK(kinds(sanity.judge(wrong)).empty());
    CHECK(kinds(sanity.judge(reading(10.0))) == Kinds{NoteKind::voltage_step});
    wrong.at_s = 15.0;
    CHECK(kinds(sanity.judge(wrong)) == Kinds{NoteKind::out_of_range, NoteKind::voltage_step});
}

TEST_CASE("frequency, power factor and current have their ranges") {
    auto sanity = usual();
    auto wrong = reading(0.0);
    wrong.snapshot.hz = 500.1;  // a scale that is ten times too high
    wrong.snapshot.pf[0] = 90.0;
    wrong.snapshot.i[2] = 240.0;
    auto const events = sanity.judge(wrong);
    CHECK(kinds(events) == Kinds{NoteKind::out_of_range, NoteKind::out_of_range, NoteKind::over_current});
    CHECK(std::get<Note>(events.back()).says == "element 3 carries 240 A behind a breaker of 63 A");
    CHECK(std::get<Note>(events.back()).point == "tenant-1");
}

TEST_CASE("one reading of zero between equals is dropped and told") {
    auto sanity = usual();
    CHECK(times(sanity.judge(reading(0.0))) == Times{0.0});
    auto zero = reading(5.0);
    zero.snapshot.v = {0.0, 0.0, 0.0};
    zero.snapshot.i = {0.0, 0.0, 0.0};
    zero.snapshot.hz = 0.0;
    CHECK(sanity.judge(zero).empty());
    auto const events = sanity.judge(reading(10.0, 1.0));
    CHECK(times(events) == Times{10.0});
    REQUIRE(kinds(events) == Kinds{NoteKind::zero_glitch});
    auto const& note = std::get<Note>(events[0]);
    CHECK(note.at_s == 5.0);
    CHECK(note.says ==
          "the voltage of element 1, the voltage of element 2, the voltage of element 3 and the frequency "
          "read zero once, between two readings that agree; this reading is dropped");
}

TEST_CASE("a zero that stays is passed on with the reading that confirms it") {
    auto sanity = usual();
    (void)sanity.judge(reading(0.0));
    auto dark = reading(5.0);
    dark.snapshot.v[2] = 0.0;
    CHECK(sanity.judge(dark).empty());
    dark.at_s = 10.0;
    auto const events = sanity.judge(dark);
    CHECK(times(events) == Times{5.0, 10.0});
    CHECK(kinds(events) == Kinds{NoteKind::voltage_step});
    // Back again: a step, no glitch.
    CHECK(kinds(sanity.judge(reading(15.0))) == Kinds{NoteKind::voltage_step});
}

TEST_CASE("a zero that nothing comes after is passed on at the end") {
    auto sanity = usual();
    (void)sanity.judge(reading(0.0));
    auto dark = reading(5.0);
    dark.snapshot.v[0] = 0.0;
    CHECK(sanity.judge(dark).empty());
    auto const last = sanity.flush();
    CHECK(times(last) == Times{5.0});
    CHECK(kinds(last) == Kinds{NoteKind::voltage_step});
    CHECK(sanity.flush().empty());
}

TEST_CASE("a load that switches off is no glitch") {
    auto sanity = usual();
    (void)sanity.judge(reading(0.0));
    auto off = reading(5.0);
    off.snapshot.i = {0.0, 0.0, 0.0};
    CHECK(times(sanity.judge(off)) == Times{5.0});
}

TEST_CASE("an energy register that reads zero once is a glitch, one that goes on from zero was reset") {
    auto sanity = usual();
    (void)sanity.judge(with_energy(0.0, 500000.0));
    CHECK(sanity.judge(with_energy(5.0, 0.0)).empty());
    auto const back = sanity.judge(with_energy(10.0, 500020.0));
    CHECK(kinds(back) == Kinds{NoteKind::zero_glitch});
    CHECK(times(back) == Times{10.0});

    CHECK(sanity.judge(with_energy(15.0, 0.0)).empty());
    auto const reset = sanity.judge(with_energy(20.0, 10.0));
    CHECK(times(reset) == Times{15.0, 20.0});
    CHECK(kinds(reset) == Kinds{NoteKind::counter_reset});
}

TEST_CASE("an energy register that wraps, goes back or jumps is told with its name") {
    auto sanity = usual();
    (void)sanity.judge(with_energy(0.0, 1e9 - 20.0));
    auto const wrapped = sanity.judge(with_energy(5.0, 15.0));
    CHECK(kinds(wrapped) == Kinds{NoteKind::counter_wrapped});
    CHECK(std::get<Note>(wrapped.back()).says.starts_with("the register import ran over its end"));
    (void)sanity.judge(with_energy(10.0, 40.0));
    // 63 A behind 690 V for 5 s is 60 Wh; twice that is believed.
    CHECK(kinds(sanity.judge(with_energy(15.0, 40.0 + 110.0))).empty());
    CHECK(kinds(sanity.judge(with_energy(20.0, 150.0 + 200.0))) == Kinds{NoteKind::counter_jumped});
    (void)sanity.judge(with_energy(25.0, 400.0));
    CHECK(kinds(sanity.judge(with_energy(30.0, 300.0))) == Kinds{NoteKind::counter_went_back});
}

TEST_CASE(
    "numbers that never change are told once they have stood still for long, and when they move again") {
    auto sanity = usual();
    Kinds all;
    for (int k = 0; k <= 100; ++k) {
        auto const found = kinds(sanity.judge(reading(5.0 * k)));
        if (!found.empty()) CHECK(5.0 * k == 300.0);
        all.insert(all.end(), found.begin(), found.end());
    }
    CHECK(all == Kinds{NoteKind::stale});
    CHECK(kinds(sanity.judge(reading(600.0, 0.3))) == Kinds{NoteKind::changing_again});
}

TEST_CASE("a value that the meter does not give is no zero and no fault") {
    auto sanity = usual();
    (void)sanity.judge(reading(0.0));
    auto empty = reading(5.0);
    empty.snapshot.v = {std::nullopt, std::nullopt, std::nullopt};
    empty.snapshot.hz.reset();
    CHECK(times(sanity.judge(empty)) == Times{5.0});
    CHECK(kinds(sanity.judge(reading(10.0))).empty());
}

TEST_CASE("a moment is written in UTC with milliseconds") {
    // 2026-05-20T08:00:00Z is 1779264000 s after 1970 (date -u -d @1779264000).
    CHECK(utc_text(1779264000.25) == "2026-05-20T08:00:00.250Z");
    CHECK(utc_text(1779263999.9996) == "2026-05-20T08:00:00.000Z");
    CHECK(utc_text(-0.001) == "1969-12-31T23:59:59.999Z");
}
