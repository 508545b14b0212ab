// The far side of a serial line with the times of a real one: meters behind a pseudo-terminal. A
// pseudo-terminal has no speed, so this side keeps the clock: a question that was written at t has left the
// wire at t + 8 c, the answer begins after the answer delay, and its byte k has arrived at the end of its own
// character. Every time is counted from the question, so that a late wake-up delays one byte and not the
// rest.
#pragma once
#include <atomic>
#include <chrono>
#include <string>
#include <thread>

#include "core/plan/serial_line.hpp"

namespace phasewright::benchmarks {

class PacedLine {
public:
    PacedLine(plan::SerialFormat const& format, double answer_delay_s);
    PacedLine(PacedLine const&) = delete;
    PacedLine& operator=(PacedLine const&) = delete;
    PacedLine(PacedLine&&) = delete;
    PacedLine& operator=(PacedLine&&) = delete;
    ~PacedLine();

    [[nodiscard]] std::string const& device() const { return device_; }
    [[nodiscard]] int answered() const { return answered_; }
    [[nodiscard]] int too_early() const { return too_early_; }  // questions that came before t3.5 of silence
    [[nodiscard]] double least_silence_s() const { return least_silence_s_; }

private:
    using Clock = std::chrono::steady_clock;
    void serve();
    void answer(unsigned char const* question, Clock::time_point came);

    plan::SerialFormat format_;
    double answer_delay_s_;
    int near_ = -1;  // kept open, so that the far side never sees the line hang up
    int far_ = -1;
    std::string device_;
    std::atomic<bool> over_ = false;
    std::atomic<int> answered_ = 0;
    std::atomic<int> too_early_ = 0;
    std::atomic<double> least_silence_s_ = 1e9;
    Clock::time_point quiet_since_{};
    std::thread thread_;
};

}  // namespace phasewright::benchmarks
