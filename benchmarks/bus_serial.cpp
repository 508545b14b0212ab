// Does a poll round take as long as it is computed to? Meters behind a paced pseudo-terminal are read round
// after round over our RTU line; the measured round stands beside the computed one, speed by speed. The line
// is busy for as much of the possible as the computed round is of the measured one.
//   build/measure/benchmark_bus_serial [seconds a speed] [only this bit rate]
#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <vector>

#include <fmt/core.h>

#include "benchmarks/paced_line.hpp"
#include "bus/port/rtu_line.hpp"
#include "core/plan/poll_round.hpp"

namespace {
using namespace phasewright;
using Clock = std::chrono::steady_clock;

// A mixed line: whole blocks, scattered runs, a few single values.
std::vector<plan::PollDevice> meters(double answer_delay_s) {
    std::vector<plan::PollDevice> all{{.id = "block", .unit = 1, .wanted = {{3, 40072, 124}}, .limits = {}},
                                      {.id = "full", .unit = 2, .wanted = {{4, 0, 125}}, .limits = {}},
                                      {.id = "runs",
                                       .unit = 3,
                                       .wanted = {{3, 1810, 10}, {3, 1840, 12}, {3, 1870, 8}, {3, 1890, 6}},
                                       .limits = {.longest_read = 40, .bridge = 0}},
                                      {.id = "gaps",
                                       .unit = 4,
                                       .wanted = {{3, 100, 20}, {3, 126, 20}, {3, 152, 20}},
                                       .limits = {.bridge = 6}},
                                      {.id = "single", .unit = 5, .wanted = {{3, 7, 2}}, .limits = {}}};
    for (auto& device : all) device.answer_delay_s = answer_delay_s;
    return all;
}

bool read_round(port::Line& line, plan::PollRound const& round) {
    for (auto const& device : round.devices)
        for (auto const& read : device.reads)
            if (!port::read_registers(line, static_cast<std::uint8_t>(device.unit),
                                      static_cast<codec::Function>(read.run.function),
                                      static_cast<std::uint16_t>(read.run.first),
                                      static_cast<std::uint16_t>(read.run.count)))
                return false;
    return true;
}

bool measure(plan::SerialFormat const& format, double answer_delay_s, double seconds) {
    benchmarks::PacedLine far(format, answer_delay_s);
    auto const round = plan::poll_round(format, meters(answer_delay_s));
    // A pseudo-terminal refuses parity, so the port is opened without; the line keeps the times of the
    // format.
    auto line = port::rtu_line(port::serial_channel(far.device(), {format.bit_rate, plan::Parity::none, 1}),
                               {.format = format, .answer_timeout_ms = 2000, .tries = 1, .listener = {}});
    if (!read_round(*line, round)) return false;
    int const rounds = std::max(2, static_cast<int>(seconds / round.all_answer_s));
    std::vector<double> took;
    for (int k = 0; k < rounds; ++k) {
        auto const begun = Clock::now();
        if (!read_round(*line, round)) return false;
        took.push_back(std::chrono::duration<double>(Clock::now() - begun).count());
    }
    std::ranges::sort(took);
    double const mean = [&] {
        double sum = 0.0;
        for (double const one : took) sum += one;
        return sum / static_cast<double>(took.size());
    }();
    fmt::print(
        "{:>7} {:>9.1f} {:>6} {:>11.2f} {:>10.2f} {:>10.2f} {:>10.2f} %  {:>8.2f} % {:>10}   {:.3f} of "
        "{:.3f} ms\n",
        format.bit_rate, 1e3 * answer_delay_s, rounds, 1e3 * round.all_answer_s, 1e3 * mean,
        1e3 * took[took.size() / 2], 100.0 * (mean / round.all_answer_s - 1.0),
        100.0 * round.all_answer_s / mean, far.too_early(), 1e3 * far.least_silence_s(),
        1e3 * plan::silence_between_s(format));
    return true;
}
}  // namespace

int main(int argc, char** argv) {
    double const seconds = argc > 1 ? std::atof(argv[1]) : 20.0;
    fmt::print("Five meters, {} reads a round, over a paced pseudo-terminal ({})\n",
               plan::poll_round({}, meters(0.0)).reads, PHASEWRIGHT_BUILT);
    fmt::print("{:>7} {:>9} {:>6} {:>11} {:>10} {:>10} {:>12} {:>10} {:>10}   {}\n", "bit/s", "delay, ms",
               "rounds", "computed,ms", "mean, ms", "median, ms", "mean off by", "of possible", "too early",
               "least silence");
    int const only = argc > 2 ? std::atoi(argv[2]) : 0;
    for (int const rate : {9600, 19200, 38400, 115200})
        for (double const delay_s : {0.0, 0.02})
            if ((only == 0 || only == rate) && !measure({rate, plan::Parity::even, 1}, delay_s, seconds)) {
                fmt::print("a read failed at {} bit/s\n", rate);
                return 1;
            }
    return 0;
}
