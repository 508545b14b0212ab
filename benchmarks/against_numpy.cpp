// The same reading weighed over the same four-wire hypotheses, here and in plain vectorised numpy (same_space.py), one
// after the other in one run on one core: seconds, nanoseconds a hypothesis, their ratio, and how far the two posteriors
// are apart. The numpy program evaluates every hypothesis; the engine passes over those that cannot matter, which is part
// of what is measured.
//   build/measure/benchmark_against_numpy [PYTHON]      (default: /usr/bin/python3, with numpy and scipy)
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include <fmt/core.h>
#include <unistd.h>

#include "benchmarks/ideal_meter.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/posterior.hpp"

namespace {
using namespace phasewright;
using Clock = std::chrono::steady_clock;

// Two exchanged CTs: several turns of the load stay plausible, so that less can be passed over.
readings::ReadingSet reading() {
    auto const service = plan::Service::four_wire_wye;
    auto wired = wiring::as_planned(plan::model_of(service));
    std::swap(wired.current[0], wired.current[1]);
    return benchmarks::ideal_reading(service, wired, {.amps = 40.0, .amps_step = 3.0, .lag_deg = 20.0, .lag_step_deg = 2.0});
}

template <class Value>
void keep(std::filesystem::path const& folder, std::string const& name, std::vector<Value> const& values) {
    std::ofstream out(folder / name, std::ios::binary);
    for (auto const& value : values)
        for (std::size_t byte = 0; byte < sizeof(Value); ++byte)
            out.put(reinterpret_cast<char const*>(&value)[byte]);
}

void keep_all(std::filesystem::path const& folder, diagnosis::Outlook const& outlook, diagnosis::Observed const& observed,
              diagnosis::Priors const& priors) {
    auto const& landings = outlook.landings;
    auto const& at = outlook.at.front();
    auto const volts = diagnosis::densities_of_volts(at.views, landings.model, outlook.nominal, observed, priors.supply);
    std::vector<double> log_volts, view_deg, ratio;
    for (double const density : volts) log_volts.push_back(std::log(std::max(density, 1e-300)));
    for (auto const& view : at.views)
        for (auto const& angle : view.angle_deg) view_deg.push_back(angle.value_or(std::numeric_limits<double>::quiet_NaN()));
    std::vector<std::int32_t> path, sign, coil, vars_turned;
    for (auto const& current : landings.currents) {
        for (auto const one : current.path) path.push_back(one);
        for (auto const one : current.sign) sign.push_back(one);
        coil.push_back(current.coil ? 1 : 0);
        vars_turned.push_back(current.vars_turned ? 1 : 0);
    }
    for (auto const& one : landings.ratios) ratio.insert(ratio.end(), one.begin(), one.end());
    auto const& group = observed.groups.front();
    std::vector<double> lag, amps, atoms;
    for (std::size_t k = 0; k < 3; ++k) {
        lag.push_back(group.lags.front().lag_deg[k].value());
        amps.push_back(group.amps[k].value());
    }
    for (auto const& atom : priors.load.atoms) atoms.insert(atoms.end(), {atom.weight, atom.mean_deg, atom.sigma_deg});
    auto const& s = priors.spread;
    double const full = std::log(observed.full_load_a);
    keep(folder, "numbers",
         std::vector<double>{s.wander_deg, s.phase_deg, s.phase_tail_deg, s.phase_tail_weight, s.phase_outlier_weight,
                             s.log_magnitude, s.log_magnitude_tail, s.log_magnitude_tail_weight,
                             full + std::log(priors.load.lowest_share), full + 0.1});
    keep(folder, "tap_of", landings.tap_of);
    keep(folder, "current_of", landings.current_of);
    keep(folder, "ratio_of", landings.ratio_of);
    keep(folder, "log_prior", landings.log_prior);
    keep(folder, "log_volts", log_volts);
    keep(folder, "view_deg", view_deg);
    keep(folder, "path", path);
    keep(folder, "sign", sign);
    keep(folder, "coil", coil);
    keep(folder, "vars_turned", vars_turned);
    keep(folder, "ratio", ratio);
    keep(folder, "path_deg", std::vector<double>(at.path_angle_deg.begin(), at.path_angle_deg.end()));
    keep(folder, "lag_read", lag);
    keep(folder, "amps", amps);
    keep(folder, "noise", group.lag_noise_deg);
    keep(folder, "atoms", atoms);
}

double seconds_in_numpy(std::string const& python, std::filesystem::path const& folder) {
    auto const command = python + " " PHASEWRIGHT_SOURCE_DIR "/benchmarks/same_space.py " + folder.string();
    FILE* const pipe = popen(command.c_str(), "r");
    double seconds = 0.0;
    if (pipe == nullptr || std::fscanf(pipe, "%lf", &seconds) != 1) seconds = 0.0;
    if (pipe != nullptr) pclose(pipe);
    return seconds;
}

double furthest_apart(std::filesystem::path const& folder, std::vector<double> const& own) {
    std::vector<double> theirs(own.size());
    std::ifstream in(folder / "numpy.f64", std::ios::binary);
    in.read(reinterpret_cast<char*>(theirs.data()), static_cast<std::streamsize>(theirs.size() * sizeof(double)));
    if (!in) return 1.0;
    double most = 0.0;
    for (std::size_t h = 0; h < own.size(); ++h) most = std::max(most, std::abs(own[h] - theirs[h]));
    return most;
}
}  // namespace

int main(int argc, char** argv) {
    std::string const python = argc > 1 ? argv[1] : "/usr/bin/python3";
    auto const set = reading();
    auto const priors = diagnosis::priors_for(set);
    auto const model = plan::model_of(set.service);
    diagnosis::Outlook outlook(diagnosis::landings_of(model, diagnosis::odds_for(set.prior), {.vars_were_read = true}), set.nominal);
    outlook.at.resize(1);  // one rotation, as there
    auto const observed = diagnosis::observed_of(set, priors.thresholds);
    double best = std::numeric_limits<double>::infinity();
    diagnosis::Posterior posterior;
    for (int run = 0; run < 200; ++run) {
        auto const start = Clock::now();
        posterior = diagnosis::posterior_of(outlook, observed, priors, set);
        best = std::min(best, std::chrono::duration<double>(Clock::now() - start).count());
    }
    auto const folder = std::filesystem::temp_directory_path() / ("phasewright-numpy-" + std::to_string(getpid()));
    std::filesystem::create_directories(folder);
    keep_all(folder, outlook, observed, priors);
    double const theirs = seconds_in_numpy(python, folder);
    double const apart = furthest_apart(folder, posterior.probability);
    std::filesystem::remove_all(folder);
    if (theirs <= 0.0) {
        fmt::print(stderr, "{} with numpy and scipy did not run: nothing to compare with\n", python);
        return 1;
    }
    auto const hypotheses = static_cast<double>(posterior.probability.size());
    fmt::print("3P4W, one snapshot with angles, {:.0f} hypotheses, one core, best of several; {}\n", hypotheses, PHASEWRIGHT_BUILT);
    fmt::print("  this engine  {:9.3f} ms  {:9.2f} ns a hypothesis\n", 1e3 * best, 1e9 * best / hypotheses);
    fmt::print("  numpy        {:9.3f} ms  {:9.2f} ns a hypothesis\n", 1e3 * theirs, 1e9 * theirs / hypotheses);
    fmt::print("  ratio        {:9.1f}     largest difference of a probability {:.1e}\n", theirs / best, apart);
    return apart < 1e-3 ? 0 : 1;
}
