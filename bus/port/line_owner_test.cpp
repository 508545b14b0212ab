// One owner, many threads: on a line whose answers the test gives.
#include "bus/port/line_owner.hpp"

#include <doctest/doctest.h>

#include <atomic>
#include <condition_variable>
#include <mutex>
#include <vector>

#include "bus/port/server_in_tests.hpp"
#include "bus/port/tcp_line.hpp"

namespace phasewright::port {

namespace {
using codec::FaultKind;

// Answers with the unit; unit 99 only once it is cancelled.
class Puppet final : public Line {
public:
    std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t unit, codec::BytesView) override {
        CHECK_MESSAGE(++inside_ == 1, "two questions at once");
        std::unique_lock lock(mutex_);
        ++asked_;
        changed_.notify_all();
        if (unit == 99) changed_.wait(lock, [&] { return cancelled_; });
        bool const ended = cancelled_;
        --inside_;
        if (ended) return std::unexpected(codec::Fault{.kind = FaultKind::cancelled, .detail = {}, .exception = {}, .where = {}});
        return codec::Bytes{static_cast<std::byte>(unit)};
    }
    std::string place() const override { return "puppet"; }
    void cancel() noexcept override {
        std::scoped_lock const lock(mutex_);
        cancelled_ = true;
        changed_.notify_all();
    }
    void resume() noexcept override {
        std::scoped_lock const lock(mutex_);
        cancelled_ = false;
    }
    void wait_until_asked(int times) {
        std::unique_lock lock(mutex_);
        changed_.wait(lock, [&] { return asked_ >= times; });
    }

private:
    std::atomic<int> inside_ = 0;
    std::mutex mutex_;
    std::condition_variable changed_;
    bool cancelled_ = false;
    int asked_ = 0;
};

struct Owned {
    Puppet* puppet = new Puppet;  // the owner's, and alive as long as it
    LineOwner owner{std::unique_ptr<Line>(puppet)};

    auto ask(std::uint8_t unit) {
        return owner.hand_in([unit](Line& line) { return line.ask(unit, {}); });
    }
};
}  // namespace

TEST_CASE("jobs of many threads are done one at a time, and each gets its own result") {
    Owned owned;
    std::vector<std::thread> threads;
    std::atomic<int> right = 0;
    for (unsigned thread = 0; thread < 8; ++thread)
        threads.emplace_back([&, thread] {
            for (unsigned count = 0; count < 200; ++count) {
                auto const unit = static_cast<std::uint8_t>(1 + (thread * 31 + count) % 90);
                auto const came = owned.ask(unit).get();
                if (came && came->front() == static_cast<std::byte>(unit)) ++right;
            }
        });
    for (auto& thread : threads) thread.join();
    CHECK(right == 8 * 200);
}

TEST_CASE("a job may ask many questions and give any value, and jobs keep their order") {
    Owned owned;
    std::vector<int> order;
    auto first = owned.owner.hand_in([&](Line& line) -> std::expected<std::string, codec::Fault> {
        order.push_back(1);
        auto const a = line.ask(7, {});
        auto const b = line.ask(8, {});
        return std::to_string(codec::u8_at(*a, 0)) + std::to_string(codec::u8_at(*b, 0));
    });
    auto second = owned.owner.hand_in([&](Line&) -> std::expected<void, codec::Fault> {
        order.push_back(2);
        return {};
    });
    CHECK(second.get().has_value());
    CHECK(first.get() == "78");
    CHECK(order == std::vector{1, 2});
    CHECK(owned.owner.place() == "puppet");
}

TEST_CASE("a job whose turn has not come is taken back at once; those before and behind it are done") {
    Owned owned;
    auto running = owned.ask(99);
    owned.puppet->wait_until_asked(1);
    auto waiting = owned.ask(5);
    auto behind = owned.ask(6);
    CHECK(owned.owner.waiting() == 2);
    waiting.cancel();
    CHECK(waiting.get().error().kind == FaultKind::cancelled);
    CHECK_FALSE(running.ready_within(std::chrono::milliseconds(1)));
    CHECK_FALSE(behind.ready_within(std::chrono::milliseconds(1)));
    running.cancel();
    CHECK(running.get().error().kind == FaultKind::cancelled);
    CHECK(behind.get().value() == codec::Bytes{std::byte{6}});
    behind.cancel();  // long done
}

TEST_CASE("all jobs are taken back together, and the owner goes on with new ones") {
    Owned owned;
    auto running = owned.ask(99);
    owned.puppet->wait_until_asked(1);
    auto waiting = owned.ask(5);
    owned.owner.cancel_all();
    auto const taken = waiting.get();
    CHECK(taken.error().kind == FaultKind::cancelled);
    CHECK(taken.error().where == "puppet");
    CHECK(running.get().error().kind == FaultKind::cancelled);
    CHECK(owned.ask(7).get().value() == codec::Bytes{std::byte{7}});
}

TEST_CASE("the owner's end takes back what runs and what waits, and results outlive it") {
    auto owned = std::make_unique<Owned>();
    auto running = owned->ask(99);
    owned->puppet->wait_until_asked(1);
    auto waiting = owned->ask(5);
    owned.reset();  // would hang if it waited for unit 99
    CHECK(running.get().error().kind == FaultKind::cancelled);
    CHECK(waiting.get().error().kind == FaultKind::cancelled);
    waiting.cancel();  // there is nobody left to tell
}

TEST_CASE("what a job throws is thrown where its result is fetched, and the owner goes on") {
    Owned owned;
    auto broken = owned.owner.hand_in(
        [](Line&) -> std::expected<int, codec::Fault> { throw std::runtime_error("a mistake in the job"); });
    CHECK_THROWS_WITH((void)broken.get(), "a mistake in the job");
    CHECK(owned.ask(7).get().has_value());
}

TEST_CASE("a wait on a real line ends in time when its job is taken back") {
    std::atomic<bool> asked = false;
    Server const server([&](Peer const& peer, int) {
        asked = !peer.receive().empty();
        (void)peer.receive();
    });
    LineOwner owner(tcp_line({.host = "127.0.0.1", .port = server.port(), .answer_timeout_ms = 30000}));
    auto job = owner.hand_in([](Line& line) {
        return read_registers(line, 1, codec::Function::read_holding_registers, 0, 1);
    });
    while (!asked) std::this_thread::sleep_for(std::chrono::milliseconds(1));
    job.cancel();
    CHECK(job.ready_within(std::chrono::seconds(5)));
    CHECK(job.get().error().kind == FaultKind::cancelled);
}

}  // namespace phasewright::port
