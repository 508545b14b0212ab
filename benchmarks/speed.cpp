// How fast is a diagnosis, on one core? One snapshot with angles, per service, cold (the wirings of the
// service are enumerated too) and warm. Rates, not tests: a machine that is busy with something else shows it
// here.
#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <string>
#include <string_view>

#include <fmt/core.h>

#include "benchmarks/ideal_meter.hpp"
#include "core/diagnosis/diagnose.hpp"

namespace {
using namespace phasewright;
using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
}

std::string processor() {
    std::ifstream info("/proc/cpuinfo");
    for (std::string line; std::getline(info, line);)
        if (line.starts_with("model name"))
            if (auto const colon = line.find(": "); colon != std::string::npos) return line.substr(colon + 2);
    return "unknown processor";
}

// A site with one reversed CT and a load that differs a little from phase to phase; `turn` changes the load,
// so that no two diagnoses are the same.
readings::ReadingSet reading(plan::Service service, int turn) {
    auto wired = wiring::as_planned(plan::model_of(service));
    wired.current[0].sign = -1;
    return benchmarks::ideal_reading(service, wired, {.amps = 40.0 + 0.05 * turn, .lag_deg = 20.0 + 0.1 * turn});
}

void measure(plan::Service service, int runs) {
    auto const hypotheses = diagnosis::landings_of(plan::model_of(service), {}).size();
    auto const cold_start = Clock::now();
    auto const first = diagnosis::diagnose(reading(service, 0));
    double const cold = seconds_since(cold_start);
    diagnosis::Diagnoser diagnoser;
    (void)diagnoser.diagnose(reading(service, 0));
    std::size_t named = 0;
    auto const start = Clock::now();
    for (int turn = 1; turn <= runs; ++turn) {
        auto const verdict = diagnoser.diagnose(reading(service, turn), diagnosis::Asking::verdict_only);
        named += verdict.classes.empty() || verdict.classes[0].as_planned ? 0 : 1;
    }
    double const each = seconds_since(start) / runs;
    auto const asking_start = Clock::now();
    for (int turn = 1; turn <= runs; ++turn) (void)diagnoser.diagnose(reading(service, turn));
    double const asking = seconds_since(asking_start) / runs - each;
    fmt::print("{:10} {:>11} {:>9.1f} {:>9.2f} {:>11.1f} {:>16.2e} {:>13.1f}   {} of {} named the mistake first\n",
               plan::code_of(service), hypotheses, 1e3 * cold, 1e3 * each, 1.0 / each,
               static_cast<double>(hypotheses) / each, 1e3 * std::max(asking, 0.0), named, runs);
    if (first.classes.empty()) fmt::print("  nothing was weighed: this line means nothing\n");
}
}  // namespace

int main(int argc, char** argv) {
    int const runs = argc > 1 ? std::max(1, std::atoi(argv[1])) : 50;
    fmt::print("{}, one core; {}; {} diagnoses a service, one snapshot with angles\n\n", processor(),
               PHASEWRIGHT_BUILT, runs);
    fmt::print("{:10} {:>11} {:>9} {:>9} {:>11} {:>16} {:>13}\n", "service", "hypotheses", "cold ms", "warm ms",
               "per second", "hypotheses/s", "next test ms");
    for (auto const service : plan::all_services)
        if (argc <= 2 || plan::code_of(service) == std::string_view{argv[2]}) measure(service, runs);
    return 0;
}
