// One switch that ends a search at once, whatever it waits for. Whoever waits hangs a function on it that ends the wait;
// request() may come from any thread, the functions must be callable from there (Line::cancel and Channel::cancel are).
#pragma once
#include <atomic>
#include <functional>
#include <list>
#include <mutex>

namespace phasewright::finder {

class Stop {
public:
    void request() {
        requested_ = true;
        std::scoped_lock const lock(mutex_);
        for (auto const& end_wait : waits_) end_wait();
    }
    [[nodiscard]] bool requested() const { return requested_; }

    // While it lives its function is called by request(); at once when that was before.
    class Hold {
    public:
        Hold(Stop& stop, std::function<void()> end_wait) : stop_(stop) {
            std::scoped_lock const lock(stop_.mutex_);
            at_ = stop_.waits_.insert(stop_.waits_.end(), std::move(end_wait));
            if (stop_.requested_) (*at_)();
        }
        Hold(Hold const&) = delete;
        Hold& operator=(Hold const&) = delete;
        Hold(Hold&&) = delete;
        Hold& operator=(Hold&&) = delete;
        ~Hold() {
            std::scoped_lock const lock(stop_.mutex_);
            stop_.waits_.erase(at_);
        }

    private:
        Stop& stop_;
        std::list<std::function<void()>>::iterator at_;
    };

private:
    std::atomic<bool> requested_ = false;
    std::mutex mutex_;
    std::list<std::function<void()>> waits_;
};

}  // namespace phasewright::finder
