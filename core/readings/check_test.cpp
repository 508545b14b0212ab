#include "core/readings/check.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using readings::check;
using readings::Column;
using readings::ReadingSet;
using readings::seconds_of;
using readings::Snapshot;

namespace {
// 8.76 + 8.15 + 9.39 kW at PF 0.92 lagging on a 400/230 V wye.
Snapshot steady() {
    Snapshot snapshot;
    snapshot.v = {231.0, 229.0, 232.0};
    snapshot.i = {41.2, 38.7, 44.0};
    snapshot.p = {8756.0, 8153.0, 9391.0};
    snapshot.q = {3730.0, 3473.0, 4001.0};
    snapshot.hz = 50.01;
    return snapshot;
}
ReadingSet set_of(std::vector<Snapshot> snapshots) {
    ReadingSet set;
    set.id = "t";
    set.nominal = {230.0, 400.0, 50.0};
    set.ct_planned = {{200.0, 5.0}};
    set.snapshots = std::move(snapshots);
    return set;
}
void scale(Column& column, double factor) {
    for (auto& value : column) value = *value * factor;
}
std::string field_of(ReadingSet const& set) {
    auto const fault = check(set);
    return fault ? fault->where : "";
}
}  // namespace

TEST_CASE("sound readings pass, whichever wiring mistake they show") {
    CHECK(field_of(set_of({steady()})) == "");
    auto reversed = steady();
    reversed.p[1] = -*reversed.p[1];
    CHECK(field_of(set_of({reversed})) == "");
    auto no_power = steady();
    no_power.p.clear();
    no_power.q.clear();
    CHECK(field_of(set_of({no_power})) == "");
}

TEST_CASE("amperes of the secondary beside watts of the primary are refused, with vars and without") {
    auto snapshot = steady();
    scale(snapshot.i, 5.0 / 200.0);
    CHECK(field_of(set_of({snapshot})) == "snapshots[0].i");
    snapshot.q.clear();
    CHECK(field_of(set_of({snapshot})) == "snapshots[0].i");
    snapshot.p[1] = -*snapshot.p[1];  // a reversed CT does not hide it
    CHECK(field_of(set_of({snapshot})) == "snapshots[0].i");
    auto secondary = set_of({snapshot});
    secondary.side = quantity::Side::secondary;
    CHECK(field_of(secondary) == "");
}

TEST_CASE("a light load whose watts agree with its amperes is no secondary reading") {
    auto snapshot = steady();
    for (auto* const column : {&snapshot.i, &snapshot.p, &snapshot.q}) scale(*column, 5.0 / 200.0);
    CHECK(field_of(set_of({snapshot})) == "");
}

TEST_CASE("kilowatts in the place of watts are refused on elements and on totals") {
    auto snapshot = steady();
    scale(snapshot.p, 1e-3);
    scale(snapshot.q, 1e-3);
    CHECK(field_of(set_of({snapshot})) == "snapshots[0].p");
    snapshot.q.clear();
    CHECK(field_of(set_of({snapshot})) == "snapshots[0].p");
    auto totals = steady();
    totals.p_total = 26.3;
    CHECK(field_of(set_of({totals})) == "snapshots[0].p_total");
    totals.p_total = 26300.0;
    CHECK(field_of(set_of({totals})) == "");
}

TEST_CASE("a capacitor bank takes a thousandth of its volt-amperes and is not refused for it") {
    auto bank = steady();
    for (std::size_t k = 0; k < 3; ++k) {
        bank.p[k] = *bank.v[k] * *bank.i[k] * 0.0009;
        bank.q[k] = -*bank.v[k] * *bank.i[k];
    }
    CHECK(field_of(set_of({bank})) == "");
    bank.q.clear();
    auto set = set_of({bank});
    set.load_kind.whole = plan::LoadKind::capacitive;
    CHECK(field_of(set) == "");
}

TEST_CASE("crossed current transformers whose watts cancel are not taken for kilowatts") {
    auto crossed = steady();
    crossed.q.clear();
    crossed.p = {-4758.0, 9.4, 9391.0};  // one element near a right angle, the others far from it
    CHECK(field_of(set_of({crossed})) == "");
    crossed.p = {0.0, 0.0, 0.0};
    CHECK(field_of(set_of({crossed})) == "");
}

TEST_CASE("fifty and sixty hertz are not exchanged in silence") {
    auto snapshot = steady();
    snapshot.hz = 59.98;
    CHECK(field_of(set_of({snapshot})) == "snapshots[0].hz");
    auto set = set_of({steady()});
    set.nominal.hz = 60.0;
    CHECK(field_of(set) == "snapshots[0].hz");
    snapshot.hz = 46.9;  // a generator that runs slow is a finding, not a slip of the pen
    CHECK(field_of(set_of({snapshot})) == "");
    snapshot.hz = 0.0;  // a meter without volts
    CHECK(field_of(set_of({snapshot})) == "");
}

TEST_CASE("registers that never move are refused, a steady but living load is not") {
    CHECK(field_of(set_of({steady(), steady(), steady()})) == "snapshots");
    CHECK(field_of(set_of({steady(), steady()})) == "");
    auto first = steady();
    auto second = steady();
    first.time = "2026-05-20T10:00:00+02:00";
    second.time = "2026-05-20T10:05:00+02:00";
    CHECK(field_of(set_of({first, second})) == "snapshots");
    second.i[0] = 41.3;
    CHECK(field_of(set_of({first, second})) == "");
    CHECK(field_of(set_of({first, second, first})) == "");
}

TEST_CASE("an unloaded meter with a coarse display may show the same thrice") {
    Snapshot idle;
    idle.v = {231.0, 229.0, 232.0};
    idle.i = {0.0, 0.0, 0.0};
    auto set = set_of({idle, idle, idle});
    set.resolution.v = 1.0;
    CHECK(field_of(set) == "");
    set.resolution.v = 0.1;
    CHECK(field_of(set) == "snapshots");
}

TEST_CASE("a reading taken before the last test confirms nothing") {
    auto snapshot = steady();
    snapshot.time = "2026-05-20T10:00:00+02:00";
    auto set = set_of({snapshot});
    readings::TestAnswer test;
    test.kind = "ct_shorted";
    test.time = "2026-05-20T08:01:00Z";  // one minute later
    set.tests = {test};
    CHECK(field_of(set) == "snapshots[0].time");
    set.tests[0].time = "2026-05-20T07:59:00Z";
    CHECK(field_of(set) == "");
    set.tests[0].kind = "clamp_primary";
    set.tests[0].time = "2026-05-20T08:10:00Z";  // a measurement a few minutes later still belongs to it
    CHECK(field_of(set) == "");
    set.tests[0].time = "2026-05-20T09:10:00Z";
    CHECK(field_of(set) == "snapshots[0].time");
    set.tests[0].kind = "nameplate";
    CHECK(field_of(set) == "");
}

// Values from ISO 8601 by hand: 1970-01-01 is zero, 2000-02-29 exists, 2026-02-29 does not.
TEST_CASE("times are read with and without an offset") {
    CHECK(seconds_of("1970-01-01T00:00:00Z") == 0.0);
    CHECK(seconds_of("1970-01-01T01:00+01:00") == 0.0);
    CHECK(seconds_of("1970-01-02T00:00:00.25-0030") == 86400.0 + 1800.0 + 0.25);
    CHECK(seconds_of("2000-02-29T12:00:00") == 951825600.0);
    for (auto const* const wrong : {"2026-02-29T12:00:00Z", "10:00", "2026-05-20", "2026-05-20T25:00:00Z",
                                    "2026-05-20T10:00:00+2", "2026-05-20T10:00:00 CEST", ""})
        CHECK_FALSE(seconds_of(wrong));
}
