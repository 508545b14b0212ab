#include "bus/poller/poller.hpp"

#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#include <fmt/format.h>

namespace phasewright::poller {

namespace {

using codec::Fault;
using codec::FaultKind;

double steady_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}
// The wall clock's reading at a moment of the clock that only moves forward.
std::string utc_at(double at_s) {
    double const wall_s =
        std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count();
    return utc_text(wall_s - (steady_s() - at_s));
}

// The line itself, not one meter on it.
bool of_the_line(FaultKind kind) {
    return kind == FaultKind::unreachable || kind == FaultKind::closed || kind == FaultKind::line_in_use;
}

// Lines speak to one listener one at a time.
struct Outlet {
    Listener listener;
    std::mutex mutex;
    void tell(Event const& event) {
        std::lock_guard const guard(mutex);
        listener(event);
    }
};

}  // namespace

class Poller::LineThread {
public:
    LineThread(PolledLine line, PollerSettings const& settings, std::shared_ptr<Outlet> outlet)
        : line_(std::move(line)),
          settings_(settings),
          outlet_(std::move(outlet)),
          backoff_(settings.first_backoff_s, settings.longest_backoff_s) {
        for (auto const& meter : line_.meters) meters_.emplace_back(Sanity(meter.expected, settings.sanity));
    }

    void start() {
        thread_ = std::thread([this] { run(); });
    }
    void ask_to_stop() {
        {
            std::lock_guard const guard(mutex_);
            stopped_ = true;
            if (open_) open_->cancel();
        }
        wake_.notify_all();
    }
    void join() {
        if (thread_.joinable()) thread_.join();
    }

private:
    struct Meter {
        Sanity sanity;
        bool troubled = false;  // told, and not good again since
        explicit Meter(Sanity one) : sanity(std::move(one)) {}
    };

    void run() {
        if (!line_.meters.empty()) {
            std::optional<Schedule> schedule;  // begins with the line: it may listen for long first
            while (!stopped()) {
                if (!open_ && !open_line()) continue;
                if (!schedule) schedule.emplace(line_.meters.size(), settings_.schedule, steady_s());
                if (std::exchange(reopened_, false)) schedule->resumed(steady_s());
                turn(*schedule);
            }
        }
        put_line(nullptr);
        for (auto& meter : meters_) tell_all(meter.sanity.flush());
    }

    void turn(Schedule& schedule) {
        auto const next = schedule.next();
        if (!wait_until(next.due_s)) return;
        auto const& meter = line_.meters[next.meter];
        double const begun_s = steady_s();
        auto numbers = meter.read(*open_);
        double const now_s = steady_s();
        if (numbers) {
            took_reading(next.meter, std::move(*numbers));
            if (schedule.answered(next.meter, now_s) > 0) tell_too_long(now_s);
            return;
        }
        auto const& fault = numbers.error();
        if (fault.kind == FaultKind::cancelled) return (void)wait_until(now_s + 0.01);
        if (of_the_line(fault.kind)) {
            lost_line(fault);
            schedule.postponed(next.meter, begun_s);
            return (void)wait_until(steady_s() + backoff_.next_s());
        }
        good_line();
        schedule.failed(next.meter, now_s);
        trouble(next.meter, fault, schedule.failures_in_a_row(next.meter));
    }

    bool open_line() {
        auto line = line_.open([this] { return stopped(); });
        if (line) {
            put_line(std::move(*line));
            reopened_ = true;
            return true;
        }
        if (stopped()) return false;
        if (line.error().kind == FaultKind::cancelled) {  // whoever opens lines was told to stop before us
            (void)wait_until(steady_s() + 0.01);
            return false;
        }
        lost_line(line.error());
        (void)wait_until(steady_s() + backoff_.next_s());
        return false;
    }

    void lost_line(Fault const& fault) {
        put_line(nullptr);
        if (std::exchange(lost_, true)) return;
        tell(NoteKind::line_lost, {}, codec::to_finding(fault));
    }

    void good_line() {
        backoff_.reset();
        if (std::exchange(lost_, false)) tell(NoteKind::line_back, {}, "the line carries answers again");
    }

    void took_reading(std::size_t at, MeterNumbers numbers) {
        good_line();
        auto& meter = meters_[at];
        auto const& point = line_.meters[at].point;
        if (std::exchange(meter.troubled, false))
            tell(NoteKind::meter_back, point, "the meter answers again");
        double const middle_s = 0.5 * (numbers.begun_s + numbers.ended_s);
        tell_all(meter.sanity.judge({.line = line_.id,
                                     .point = point,
                                     .time = utc_at(middle_s),
                                     .at_s = middle_s,
                                     .took_s = numbers.ended_s - numbers.begun_s,
                                     .snapshot = std::move(numbers.snapshot),
                                     .counters = std::move(numbers.counters)}));
    }

    void trouble(std::size_t at, Fault const& fault, int failures) {
        // The first failure and no other: a meter that comes and goes is told as it goes, once.
        if (std::exchange(meters_[at].troubled, true) || failures > 1) return;
        // A gateway refuses in the name of a meter that it cannot reach.
        bool const gateway =
            fault.exception &&
            (codec::exception_of(*fault.exception) == codec::ExceptionCode::gateway_path_unavailable ||
             codec::exception_of(*fault.exception) == codec::ExceptionCode::gateway_target_failed_to_respond);
        tell(fault.kind == FaultKind::refused && !gateway ? NoteKind::meter_refuses : NoteKind::meter_silent,
             line_.meters[at].point, codec::to_finding(fault));
    }

    void tell_too_long(double now_s) {
        if (std::exchange(told_too_long_, true)) return;
        outlet_->tell(
            Note{NoteKind::round_too_long,
                 line_.id,
                 {},
                 utc_at(now_s),
                 now_s,
                 fmt::format("a round takes longer than the interval of {:g} s: meters are asked as often as "
                             "the line allows",
                             settings_.schedule.interval_s)});
    }

    void tell(NoteKind kind, std::string const& point, std::string says) {
        double const now_s = steady_s();
        while (says.ends_with('.')) says.pop_back();
        outlet_->tell(Note{kind, line_.id, point, utc_at(now_s), now_s, std::move(says)});
    }
    void tell_all(std::vector<Event> const& events) {
        for (auto const& event : events) outlet_->tell(event);
    }

    void put_line(std::unique_ptr<port::Line> line) {
        std::unique_ptr<port::Line> old;
        std::lock_guard const guard(mutex_);
        old = std::exchange(open_, std::move(line));
        if (open_ && stopped_) open_->cancel();
    }
    [[nodiscard]] bool stopped() {
        std::lock_guard const guard(mutex_);
        return stopped_;
    }
    // False when it ended because of stop().
    bool wait_until(double at_s) {
        std::unique_lock lock(mutex_);
        auto const moment = std::chrono::steady_clock::time_point(
            std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                std::chrono::duration<double>(at_s)));
        wake_.wait_until(lock, moment, [&] { return stopped_; });
        return !stopped_;
    }

    PolledLine line_;
    PollerSettings settings_;
    std::shared_ptr<Outlet> outlet_;
    Backoff backoff_;
    std::vector<Meter> meters_;
    bool lost_ = false;
    bool reopened_ = false;
    bool told_too_long_ = false;

    std::mutex mutex_;
    std::condition_variable wake_;
    bool stopped_ = false;
    std::unique_ptr<port::Line> open_;  // changed by the line's thread only
    std::thread thread_;
};

Poller::Poller(std::vector<PolledLine> lines, PollerSettings const& settings, Listener listener) {
    auto outlet = std::make_shared<Outlet>();
    outlet->listener = std::move(listener);
    for (auto& line : lines)
        threads_.push_back(std::make_unique<LineThread>(std::move(line), settings, outlet));
}

Poller::~Poller() { stop(); }

void Poller::start() {
    for (auto& thread : threads_) thread->start();
}

void Poller::stop() {
    for (auto& thread : threads_) thread->ask_to_stop();
    for (auto& thread : threads_) thread->join();
}

}  // namespace phasewright::poller
