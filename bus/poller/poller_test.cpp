#include "bus/poller/poller.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <map>
#include <mutex>
#include <thread>

#include "bus/poller/event_queue.hpp"
#include "bus/poller/meter_reader.hpp"
#include "bus/profile/sunspec.hpp"
#include "core/readings/check.hpp"

using namespace phasewright;
using namespace phasewright::poller;
using codec::FaultKind;

namespace {

// What a test does to a line while a poller uses it. The line answers from register images, at once.
struct World {
    std::mutex mutex;
    std::condition_variable changed;
    std::map<int, profile::RegisterImage> units;
    bool plugged = true;
    bool in_use = false;
    std::map<int, bool> silent;
    int opened = 0;
    int asked = 0;
    bool hangs = false;  // an answer never comes: only cancel() ends the wait
};

class FakeLine final : public port::Line {
public:
    explicit FakeLine(World& world) : world_(world) {}
    std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t unit, codec::BytesView question) override {
        std::unique_lock lock(world_.mutex);
        ++world_.asked;
        world_.changed.notify_all();
        if (world_.hangs) world_.changed.wait(lock, [&] { return cancelled_; });
        if (cancelled_) return fault(FaultKind::cancelled);
        if (!world_.plugged) return fault(FaultKind::closed);
        if (world_.silent[unit] || !world_.units.contains(unit)) return fault(FaultKind::no_answer);
        auto const asked = std::get<codec::ReadRegisters>(*codec::parse_question(question));
        auto const registers = profile::serve(world_.units[unit], asked);
        if (!registers) return codec::exception_pdu(3, registers.error());
        return codec::registers_pdu(asked, *registers);
    }
    std::string place() const override { return "a line in a test"; }
    void cancel() noexcept override {
        std::lock_guard const guard(world_.mutex);
        cancelled_ = true;
        world_.changed.notify_all();
    }

private:
    static std::unexpected<codec::Fault> fault(FaultKind kind) {
        return std::unexpected(codec::Fault{kind, "as the test says", {}, {}});
    }
    World& world_;
    bool cancelled_ = false;
};

LineOpener opener(World& world) {
    return
        [&world](std::function<bool()> const&) -> std::expected<std::unique_ptr<port::Line>, codec::Fault> {
            std::lock_guard const guard(world.mutex);
            ++world.opened;
            world.changed.notify_all();
            if (world.in_use)
                return std::unexpected(codec::Fault{FaultKind::line_in_use, "a master was heard", {}, {}});
            if (!world.plugged)
                return std::unexpected(codec::Fault{FaultKind::unreachable, "no such port", {}, {}});
            return std::make_unique<FakeLine>(world);
        };
}

readings::Snapshot shown() {
    readings::Snapshot snapshot;
    snapshot.v = {230.1, 231.2, 229.3};
    snapshot.i = {10.0, 11.0, 12.0};
    snapshot.p = {2000.0, 2100.0, 2200.0};
    snapshot.hz = 50.01;
    return snapshot;
}

PolledMeter sunspec_meter(std::string point, int unit) {
    return {
        std::move(point), read_by_sunspec(static_cast<std::uint8_t>(unit), plan::Service::four_wire_wye), {}};
}

// Takes events in and lets a test wait for what it expects; a minute is far more than any of it takes.
class Heard {
public:
    Listener listener() {
        return [this](Event const& event) {
            std::lock_guard const guard(mutex_);
            events_.push_back(event);
            came_.notify_all();
        };
    }
    bool wait_for(std::function<bool(std::vector<Event> const&)> const& enough) {
        std::unique_lock lock(mutex_);
        return came_.wait_for(lock, std::chrono::minutes(1), [&] { return enough(events_); });
    }
    int notes(NoteKind kind) {
        std::lock_guard const guard(mutex_);
        return count(events_, kind);
    }
    static int count(std::vector<Event> const& events, NoteKind kind) {
        return static_cast<int>(std::ranges::count_if(events, [&](Event const& event) {
            auto const* const note = std::get_if<Note>(&event);
            return note != nullptr && note->kind == kind;
        }));
    }
    static int readings(std::vector<Event> const& events, std::string const& point) {
        return static_cast<int>(std::ranges::count_if(events, [&](Event const& event) {
            auto const* const one = std::get_if<Reading>(&event);
            return one != nullptr && one->point == point;
        }));
    }

private:
    std::mutex mutex_;
    std::condition_variable came_;
    std::vector<Event> events_;
};

PollerSettings quick() {
    return {.schedule = {.interval_s = 0.02, .longest_wait_s = 0.05},
            .sanity = {},
            .first_backoff_s = 0.01,
            .longest_backoff_s = 0.02};
}

}  // namespace

TEST_CASE("two lines are read at once, every reading with its point, its line and its time") {
    World first, second;
    first.units[1] = profile::sunspec_image(203, shown(), {});
    first.units[2] = profile::sunspec_image(213, shown(), {});
    second.units[1] = profile::sunspec_image(203, shown(), {});
    Heard heard;
    Poller poller({{"line-1", opener(first), {sunspec_meter("a", 1), sunspec_meter("b", 2)}},
                   {"line-2", opener(second), {sunspec_meter("c", 1)}}},
                  quick(), heard.listener());
    poller.start();
    std::vector<Event> seen;
    REQUIRE(heard.wait_for([&](auto const& events) {
        seen = events;
        return Heard::readings(events, "a") >= 3 && Heard::readings(events, "b") >= 3 &&
               Heard::readings(events, "c") >= 3;
    }));
    poller.stop();
    double last_s = 0.0;
    for (auto const& event : seen) {
        auto const* const one = std::get_if<Reading>(&event);
        if (one == nullptr || one->point != "a") continue;
        CHECK(one->line == "line-1");
        CHECK(one->at_s > last_s);
        CHECK(one->took_s >= 0.0);
        CHECK(readings::seconds_of(one->time).value_or(0.0) > 1.7e9);
        REQUIRE(one->snapshot.v.size() == 3);
        CHECK(*one->snapshot.v[1] == doctest::Approx(231.2));
        last_s = one->at_s;
    }
    CHECK(first.opened == 1);
}

TEST_CASE("a SunSpec meter is looked for once and then read in one question") {
    World world;
    world.units[1] = profile::sunspec_image(203, shown(), {});
    Heard heard;
    Poller poller({{"line-1", opener(world), {sunspec_meter("a", 1)}}}, quick(), heard.listener());
    poller.start();
    REQUIRE(heard.wait_for([](auto const& events) { return Heard::readings(events, "a") >= 11; }));
    poller.stop();
    // Marker, two headers and two models the first time; one question each time after.
    CHECK(world.asked <= 5 + 20);
}

TEST_CASE("a line that is unplugged is told once, and carries on once it is plugged in again") {
    World world;
    world.units[1] = profile::sunspec_image(203, shown(), {});
    Heard heard;
    Poller poller({{"line-1", opener(world), {sunspec_meter("a", 1)}}}, quick(), heard.listener());
    poller.start();
    REQUIRE(heard.wait_for([](auto const& events) { return Heard::readings(events, "a") >= 2; }));
    {
        std::lock_guard const guard(world.mutex);
        world.plugged = false;
    }
    REQUIRE(
        heard.wait_for([](auto const& events) { return Heard::count(events, NoteKind::line_lost) == 1; }));
    {  // it is tried again and again, and not told again
        std::unique_lock lock(world.mutex);
        REQUIRE(world.changed.wait_for(lock, std::chrono::minutes(1), [&] { return world.opened >= 5; }));
    }
    CHECK(heard.notes(NoteKind::line_lost) == 1);
    int before = 0;
    (void)heard.wait_for([&](auto const& events) {
        before = Heard::readings(events, "a");
        return true;
    });
    {
        std::lock_guard const guard(world.mutex);
        world.plugged = true;
    }
    REQUIRE(heard.wait_for([&](auto const& events) { return Heard::readings(events, "a") > before; }));
    CHECK(heard.notes(NoteKind::line_back) == 1);
    CHECK(heard.notes(NoteKind::meter_silent) == 0);
    poller.stop();
}

TEST_CASE("a line with another master is told and not asked; when the master is gone it is read") {
    World world;
    world.units[1] = profile::sunspec_image(203, shown(), {});
    world.in_use = true;
    Heard heard;
    Poller poller({{"line-1", opener(world), {sunspec_meter("a", 1)}}}, quick(), heard.listener());
    poller.start();
    REQUIRE(
        heard.wait_for([](auto const& events) { return Heard::count(events, NoteKind::line_lost) == 1; }));
    {
        std::lock_guard const guard(world.mutex);
        CHECK(world.asked == 0);
        world.in_use = false;
    }
    CHECK(heard.wait_for([](auto const& events) { return Heard::readings(events, "a") >= 1; }));
    poller.stop();
}

TEST_CASE("listening that was ended is no lost line") {
    std::atomic<int> opened = 0;
    auto const ended =
        [&](std::function<bool()> const&) -> std::expected<std::unique_ptr<port::Line>, codec::Fault> {
        ++opened;
        return std::unexpected(codec::Fault{FaultKind::cancelled, "the listening was ended", {}, {}});
    };
    Heard heard;
    Poller poller({{"line-1", ended, {sunspec_meter("a", 1)}}}, quick(), heard.listener());
    poller.start();
    while (opened < 2) std::this_thread::yield();
    poller.stop();
    CHECK(heard.notes(NoteKind::line_lost) == 0);
}

TEST_CASE("a line that takes long to open is not late with its first round") {
    World world;
    world.units[1] = profile::sunspec_image(203, shown(), {});
    auto const listening_first = [&](std::function<bool()> const& stopped) {
        std::this_thread::sleep_for(std::chrono::milliseconds(1200));
        return opener(world)(stopped);
    };
    auto settings = quick();
    settings.schedule.interval_s = 0.5;
    Heard heard;
    Poller poller({{"line-1", listening_first, {sunspec_meter("a", 1)}}}, settings, heard.listener());
    poller.start();
    REQUIRE(heard.wait_for([](auto const& events) { return Heard::readings(events, "a") >= 1; }));
    poller.stop();
    CHECK(heard.notes(NoteKind::round_too_long) == 0);
}

TEST_CASE("a silent meter is told once, does not keep the others, and is told when it is back") {
    World world;
    world.units[1] = profile::sunspec_image(203, shown(), {});
    world.units[2] = profile::sunspec_image(203, shown(), {});
    world.silent[2] = true;
    Heard heard;
    Poller poller({{"line-1", opener(world), {sunspec_meter("a", 1), sunspec_meter("b", 2)}}}, quick(),
                  heard.listener());
    poller.start();
    REQUIRE(heard.wait_for([](auto const& events) { return Heard::readings(events, "a") >= 12; }));
    CHECK(heard.notes(NoteKind::meter_silent) == 1);
    {
        std::lock_guard const guard(world.mutex);
        world.silent[2] = false;
    }
    CHECK(heard.wait_for([](auto const& events) { return Heard::readings(events, "b") >= 1; }));
    CHECK(heard.notes(NoteKind::meter_back) == 1);
    CHECK(heard.notes(NoteKind::line_lost) == 0);
    poller.stop();
}

TEST_CASE("stopping ends a wait for an answer that never comes") {
    World world;
    world.hangs = true;
    Heard heard;
    Poller poller({{"line-1", opener(world), {sunspec_meter("a", 1)}}}, quick(), heard.listener());
    poller.start();
    {
        std::unique_lock lock(world.mutex);
        REQUIRE(world.changed.wait_for(lock, std::chrono::minutes(1), [&] { return world.asked > 0; }));
    }
    poller.stop();  // else this test never ends
    CHECK(heard.notes(NoteKind::meter_silent) == 0);
}

TEST_CASE("stopping ends the wait for the next interval, and a poller that was never started stops too") {
    World world;
    world.units[1] = profile::sunspec_image(203, shown(), {});
    Heard heard;
    auto settings = quick();
    settings.schedule.interval_s = 3600.0;
    Poller poller({{"line-1", opener(world), {sunspec_meter("a", 1)}}}, settings, heard.listener());
    poller.start();
    REQUIRE(heard.wait_for([](auto const& events) { return Heard::readings(events, "a") == 1; }));
    poller.stop();
    Poller idle({{"line-1", opener(world), {sunspec_meter("a", 1)}}}, settings, heard.listener());
    idle.stop();
}

TEST_CASE("a queue that is full drops its oldest events and says how many") {
    EventQueue queue(3);
    for (int k = 0; k < 5; ++k)
        queue.push(Reading{.line = "l", .point = std::to_string(k), .time = {}, .at_s = 1.0 * k});
    auto const told = queue.pop(0.0);
    REQUIRE(told);
    REQUIRE(std::holds_alternative<Note>(*told));
    CHECK(std::get<Note>(*told).kind == NoteKind::events_dropped);
    CHECK(std::get<Note>(*told).says.starts_with("2 events"));
    CHECK(std::get<Note>(*told).at_s == 2.0);
    for (auto const* const point : {"2", "3", "4"})
        CHECK(std::get<Reading>(queue.pop(0.0).value()).point == point);
    CHECK_FALSE(queue.pop(0.0));
    CHECK_FALSE(queue.finished());
    queue.close();
    CHECK(queue.finished());
    CHECK_FALSE(queue.pop(60.0));  // does not wait for what cannot come
}

TEST_CASE("a listener that waits is woken by what comes and by the end") {
    EventQueue queue(8);
    std::atomic<int> taken = 0;
    std::thread listener([&] {
        while (!queue.finished())
            if (queue.pop(60.0)) ++taken;
    });
    for (int k = 0; k < 4; ++k) queue.push(Note{});
    queue.close();
    listener.join();
    CHECK(taken == 4);
}
