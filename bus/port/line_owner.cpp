#include "bus/port/line_owner.hpp"

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <optional>

namespace phasewright::port {

namespace owner_detail {

struct State {
    explicit State(std::unique_ptr<Line> owned) : line(std::move(owned)) {}

    std::unique_ptr<Line> const line;
    mutable std::mutex mutex;
    std::condition_variable changed;
    std::deque<Task> tasks;
    std::optional<std::size_t> running;
    bool interrupted = false;  // the line is cancelled because of the job that runs
    bool ending = false;
    std::size_t handed_in = 0;
};

namespace {

void give_up(State const& state, Task const& task) {
    task.give_up({.kind = codec::FaultKind::cancelled, .detail = {}, .exception = {}, .where = state.line->place()});
}

// Called with the mutex held.
void interrupt(State& state) {
    if (!state.running || state.interrupted) return;
    state.interrupted = true;
    state.line->cancel();
}

void take_back_all(State& state, bool for_good) {
    std::deque<Task> taken;
    {
        std::scoped_lock const lock(state.mutex);
        state.ending = state.ending || for_good;
        taken.swap(state.tasks);
        interrupt(state);
        state.changed.notify_all();
    }
    for (auto const& task : taken)
        give_up(state, task);
}

void work(State& state) {
    std::unique_lock lock(state.mutex);
    while (true) {
        state.changed.wait(lock, [&] { return state.ending || !state.tasks.empty(); });
        if (state.ending) return;
        auto task = std::move(state.tasks.front());
        state.tasks.pop_front();
        state.running = task.number;
        lock.unlock();
        task.run(*state.line);
        task = {};  // what it holds is let go on this thread, not while others wait for the lock
        lock.lock();
        state.running.reset();
        // A wait that was ended for this job's sake must not end the next job's.
        if (state.interrupted) state.line->resume();
        state.interrupted = false;
    }
}

}  // namespace

void take_back(State& state, std::size_t number) {
    Task taken;
    {
        std::scoped_lock const lock(state.mutex);
        if (state.running == number) interrupt(state);
        auto const waiting = std::ranges::find(state.tasks, number, &Task::number);
        if (waiting == state.tasks.end()) return;
        taken = std::move(*waiting);
        state.tasks.erase(waiting);
    }
    give_up(state, taken);
}

}  // namespace owner_detail

LineOwner::LineOwner(std::unique_ptr<Line> line)
    : place_(line->place()),
      state_(std::make_shared<owner_detail::State>(std::move(line))),
      thread_([state = state_] { owner_detail::work(*state); }) {}

LineOwner::~LineOwner() {
    owner_detail::take_back_all(*state_, true);
    thread_.join();
}

void LineOwner::cancel_all() { owner_detail::take_back_all(*state_, false); }

std::size_t LineOwner::waiting() const {
    std::scoped_lock const lock(state_->mutex);
    return state_->tasks.size();
}

std::size_t LineOwner::queue(std::function<void(Line&)> run, std::function<void(codec::Fault)> give_up) {
    std::scoped_lock const lock(state_->mutex);
    auto const number = ++state_->handed_in;
    state_->tasks.push_back({.number = number, .run = std::move(run), .give_up = std::move(give_up)});
    state_->changed.notify_one();
    return number;
}

}  // namespace phasewright::port
