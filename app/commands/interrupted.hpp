// While it lives, the first interrupt (Ctrl-C, or an end that is asked for) calls a function instead of ending the
// program, so that what was found so far is still said; the second one ends it. Threads must be started after it.
#pragma once
#include <atomic>
#include <functional>
#include <thread>

#include <csignal>

namespace phasewright::commands {

class Interrupted {
public:
    explicit Interrupted(std::function<void()> first);
    Interrupted(Interrupted const&) = delete;
    Interrupted& operator=(Interrupted const&) = delete;
    Interrupted(Interrupted&&) = delete;
    Interrupted& operator=(Interrupted&&) = delete;
    ~Interrupted();

private:
    std::function<void()> first_;
    std::atomic<bool> over_ = false;
    sigset_t before_{};
    std::thread watch_;
};

}  // namespace phasewright::commands
