// One thread owns a line, and everybody else hands it jobs: two questions at once on one pair would destroy each other.
// Jobs are done one after the other, in the order they came. A job that waits or runs can be taken back; the end of the
// owner takes all of them back, and comes at once.
#pragma once
#include <chrono>
#include <cstddef>
#include <expected>
#include <functional>
#include <future>
#include <memory>
#include <string>
#include <thread>
#include <type_traits>
#include <utility>

#include "bus/codec/fault.hpp"
#include "bus/port/line.hpp"

namespace phasewright::port {

namespace owner_detail {
struct State;
// `give_up` is called instead of `run` when the job is taken back before its turn; exactly one of the two is called.
struct Task {
    std::size_t number = 0;
    std::function<void(Line&)> run;
    std::function<void(codec::Fault)> give_up;
};
void take_back(State& state, std::size_t number);
}  // namespace owner_detail

// What comes of a job, later. It may outlive the owner.
template <class Value>
class Job {
public:
    using Result = std::expected<Value, codec::Fault>;

    Job(std::future<Result> result, std::weak_ptr<owner_detail::State> state, std::size_t number)
        : result_(std::move(result)), state_(std::move(state)), number_(number) {}

    // Waits for the result; once. What the job throws is thrown here.
    [[nodiscard]] Result get() { return result_.get(); }
    [[nodiscard]] bool ready_within(std::chrono::milliseconds wait) const {
        return result_.wait_for(wait) == std::future_status::ready;
    }
    // From any thread: takes the job back. One whose turn has not come gives a fault of kind cancelled at once; one that
    // runs gets such a fault from every question that it asks from now on. Nothing happens to one that is done.
    void cancel() {
        if (auto const state = state_.lock()) owner_detail::take_back(*state, number_);
    }

private:
    std::future<Result> result_;
    std::weak_ptr<owner_detail::State> state_;
    std::size_t number_;
};

class LineOwner {
public:
    explicit LineOwner(std::unique_ptr<Line> line);
    LineOwner(LineOwner const&) = delete;
    LineOwner& operator=(LineOwner const&) = delete;
    LineOwner(LineOwner&&) = delete;
    LineOwner& operator=(LineOwner&&) = delete;
    ~LineOwner();

    // `work` is called on the owner's thread as std::expected<Value, codec::Fault>(Line&).
    template <class Work>
    [[nodiscard]] auto hand_in(Work work) {
        using Result = std::invoke_result_t<Work&, Line&>;
        auto const promise = std::make_shared<std::promise<Result>>();
        auto result = promise->get_future();
        auto run = [promise, work = std::move(work)](Line& line) mutable {
            try {
                promise->set_value(work(line));
            } catch (...) {
                promise->set_exception(std::current_exception());
            }
        };
        auto give_up = [promise](codec::Fault fault) { promise->set_value(std::unexpected(std::move(fault))); };
        auto const number = queue(std::move(run), std::move(give_up));
        return Job<typename Result::value_type>(std::move(result), state_, number);
    }

    void cancel_all();  // from any thread: takes back every job handed in so far
    [[nodiscard]] std::size_t waiting() const;  // jobs whose turn has not come
    [[nodiscard]] std::string const& place() const { return place_; }

private:
    std::size_t queue(std::function<void(Line&)> run, std::function<void(codec::Fault)> give_up);

    std::string place_;
    std::shared_ptr<owner_detail::State> state_;
    std::thread thread_;
};

}  // namespace phasewright::port
