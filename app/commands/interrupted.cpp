#include "app/commands/interrupted.hpp"

#include <utility>

#include <unistd.h>

namespace phasewright::commands {

namespace {
constexpr int ended_by_interrupt = 130;  // what a shell gives for it

sigset_t awaited() {
    sigset_t signals{};
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    return signals;
}
}  // namespace

Interrupted::Interrupted(std::function<void()> first) : first_(std::move(first)) {
    auto const signals = awaited();
    pthread_sigmask(SIG_BLOCK, &signals, &before_);
    watch_ = std::thread([this, signals] {
        bool told = false;
        while (!over_) {
            constexpr timespec moment{.tv_sec = 0, .tv_nsec = 50'000'000};
            if (sigtimedwait(&signals, nullptr, &moment) < 0) continue;
            if (told) _exit(ended_by_interrupt);
            told = true;
            first_();
        }
    });
}

Interrupted::~Interrupted() {
    over_ = true;
    watch_.join();
    pthread_sigmask(SIG_SETMASK, &before_, nullptr);
}

}  // namespace phasewright::commands
