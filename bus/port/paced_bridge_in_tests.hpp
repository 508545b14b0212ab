// For tests: two pseudo-terminals with a line between them that takes a line's time. Each byte is handed on when its last
// bit would have arrived (a character's bits at the bit rate), whoever sits at the two ends. It can hear itself as some
// adapters do, hold answers back, and tear them apart.
#pragma once
#include <algorithm>
#include <array>
#include <atomic>
#include <deque>

#include "bus/port/pty_in_tests.hpp"

namespace phasewright::port {

class PacedBridge {
public:
    using Clock = std::chrono::steady_clock;

    explicit PacedBridge(plan::SerialFormat const& format, bool echoes = false)
        : near_(format), far_(format), character_(to_clock(plan::character_s(format))), echoes_(echoes) {
        thread_ = std::thread([this] { run(); });
    }
    PacedBridge(PacedBridge const&) = delete;
    PacedBridge& operator=(PacedBridge const&) = delete;
    ~PacedBridge() {
        stop_ = true;
        thread_.join();
    }

    [[nodiscard]] std::string const& near_device() const { return near_.device(); }  // the program's adapter
    [[nodiscard]] std::string const& far_device() const { return far_.device(); }    // the meters
    // What comes from the far end next is held back so long, and torn apart by `gap_s` after so many bytes.
    void hold_answers(double seconds) { hold_s_ = seconds; }
    void tear_answers(std::size_t after_bytes, double gap_s) {
        tear_after_ = after_bytes;
        gap_s_ = gap_s;
    }
    [[nodiscard]] std::size_t handed_on() const { return handed_on_; }  // bytes, both ways, without echoes

private:
    struct Due {
        Clock::time_point at;
        std::byte byte;
    };
    struct Way {
        std::deque<Due> queue;
        Clock::time_point busy_until;
        std::size_t in_run = 0;  // bytes since this way was idle
    };
    static Clock::duration to_clock(double seconds) {
        return std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(seconds));
    }

    void run() {
        while (!stop_) {
            auto const now = Clock::now();
            hand_on(to_far_, far_, now);
            hand_on(to_near_, near_, now);
            auto next = now + std::chrono::milliseconds(20);
            for (auto const* way : {&to_far_, &to_near_})
                if (!way->queue.empty()) next = std::min(next, way->queue.front().at);
            auto const left = std::max(next - Clock::now(), Clock::duration::zero());
            timespec const wait{.tv_sec = 0, .tv_nsec = std::chrono::nanoseconds(left).count()};
            std::array<pollfd, 2> ends{pollfd{.fd = near_.master(), .events = POLLIN, .revents = 0},
                                       pollfd{.fd = far_.master(), .events = POLLIN, .revents = 0}};
            if (::ppoll(ends.data(), ends.size(), &wait, nullptr) <= 0) continue;
            if (ends[0].revents != 0) take_question();
            if (ends[1].revents != 0) take_answer();
        }
    }
    static codec::Bytes taken_from(FarEnd const& end) {
        std::array<std::byte, 256> buffer{};
        auto const count = ::read(end.master(), buffer.data(), buffer.size());
        return {buffer.begin(), buffer.begin() + std::max<long>(count, 0)};
    }
    void queue(Way& way, std::byte byte, Clock::time_point earliest) const {
        way.busy_until = std::max(way.busy_until, earliest) + character_;
        way.queue.push_back({way.busy_until, byte});
    }
    void take_question() {
        auto const now = Clock::now();
        for (auto const byte : taken_from(near_)) {
            queue(to_far_, byte, now);
            if (echoes_) to_near_.queue.push_back(to_far_.queue.back());
        }
    }
    void take_answer() {
        auto const now = Clock::now();
        if (to_near_.busy_until < now) to_near_.in_run = 0;
        for (auto const byte : taken_from(far_)) {
            double wait_s = to_near_.in_run == 0 ? hold_s_.load() : 0.0;
            if (to_near_.in_run > 0 && to_near_.in_run == tear_after_) wait_s += gap_s_;
            ++to_near_.in_run;
            queue(to_near_, byte, std::max(now, to_near_.busy_until) + to_clock(wait_s));
        }
    }
    void hand_on(Way& way, FarEnd const& end, Clock::time_point now) {
        while (!way.queue.empty() && way.queue.front().at <= now) {
            end.send({&way.queue.front().byte, 1});
            way.queue.pop_front();
            ++handed_on_;
        }
    }

    FarEnd near_;
    FarEnd far_;
    Clock::duration character_;
    bool echoes_;
    Way to_far_;
    Way to_near_;
    std::atomic<double> hold_s_ = 0.0;
    std::atomic<std::size_t> tear_after_ = 0;
    std::atomic<double> gap_s_ = 0.0;
    std::atomic<std::size_t> handed_on_ = 0;
    std::atomic<bool> stop_ = false;
    std::thread thread_;
};

}  // namespace phasewright::port
