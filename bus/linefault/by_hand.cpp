#include "bus/linefault/by_hand.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace phasewright::linefault {

namespace {

constexpr double rail_v = 5.0;               // MODBUS over Serial Line V1.02, 3.4.6
constexpr double input_ohm = 24000.0;        // across the pair: two inputs of 12 kilohm, TIA/EIA-485-A, one unit load
constexpr double loop_ohm_per_m = 0.1684;    // both conductors of 24 AWG at 20 C, ASTM B258: 2 x 84.2 ohm/km
constexpr double open_from_ohm = 500.0, open_to_ohm = 1e7;
constexpr double outlier = 0.02;             // a slip of the hand, a range misread; common practice, no source
constexpr double probes_exchanged = 0.03;    // common practice, no source

struct Weighted {
    double value, weight;
};
struct Terminator {
    double ohm;  // at direct current; 0: open, a capacitor is in series
    double weight;
};
constexpr Terminator terminators[] = {{120.0, 0.58}, {150.0, 0.12}, {0.0, 0.30}};
constexpr Weighted bias_resistors[] = {{450.0, 0.25}, {560.0, 0.40}, {650.0, 0.25}, {820.0, 0.10}};
// Conductors of 24, 22, 18 and 26 AWG: the loop against that of 24 AWG.
constexpr Weighted conductors[] = {{1.0, 0.40}, {0.63, 0.25}, {0.25, 0.25}, {1.59, 0.10}};
constexpr Weighted unknown_loops[] = {{0.0, 0.30}, {5.0, 0.20}, {15.0, 0.20}, {40.0, 0.20}, {90.0, 0.10}};

double normal(double x, double mean, double sigma) {
    double const z = (x - mean) / sigma;
    return std::exp(-0.5 * z * z) / (sigma * std::sqrt(2.0 * std::numbers::pi));
}

// How many terminators there are at the head, at the far end, and beyond those two.
struct Ends {
    int head = 1, far = 1, extra = 0;
    double weight = 1.0;
};
std::vector<Ends> ends_of(LineFault electrical) {
    if (electrical == LineFault::missing_terminator)
        return {{0, 1, 0, 0.35}, {1, 0, 0, 0.35}, {0, 0, 0, 0.30}};
    if (electrical == LineFault::surplus_terminators) return {{1, 1, 1, 0.70}, {1, 1, 2, 0.20}, {1, 1, 3, 0.10}};
    return {{1, 1, 0, 1.0}};
}

double volts_of(double across_ohm, double bias_ohm, int biases) {
    return rail_v * across_ohm / (across_ohm + 2.0 * bias_ohm / biases);
}

double idle_at(double volts, double sign, Ends const& seen, Terminator const& terminator, LineFault electrical,
               std::size_t devices) {
    int const count = seen.head + seen.far + seen.extra;
    double siemens = static_cast<double>(std::max<std::size_t>(devices, 1)) / input_ohm;
    if (terminator.ohm > 0.0) siemens += count / terminator.ohm;
    int const biases = electrical == LineFault::two_biases ? 2 : 1;
    double sum = 0.0;
    for (auto const& bias : bias_resistors) {
        double const expected = volts_of(1.0 / siemens, bias.value, biases);
        double const sigma = 0.02 + 0.06 * expected;
        sum += bias.weight * ((1.0 - probes_exchanged) * normal(volts, sign * expected, sigma) +
                              probes_exchanged * normal(volts, -sign * expected, sigma));
    }
    return sum;
}

double floating(double volts) { return 0.8 * normal(volts, 0.0, 0.03) + 0.2 * normal(volts, 0.0, 0.12); }

double open_density(double ohms) {
    return ohms >= open_from_ohm ? 1.0 / std::log(open_to_ohm / open_from_ohm) : 0.0;
}

double parallel_ohms(Ends const& ends, double terminator_ohm, double loop_ohm, bool far_seen, double bias_path_ohm) {
    double siemens = bias_path_ohm > 0.0 ? 1.0 / bias_path_ohm : 0.0;
    if (ends.head > 0) siemens += 1.0 / terminator_ohm;
    if (far_seen && ends.far > 0) siemens += 1.0 / (loop_ohm + terminator_ohm);
    if (far_seen) siemens += ends.extra / (0.5 * loop_ohm + terminator_ohm);
    return siemens > 0.0 ? 1.0 / siemens : 0.0;
}
}  // namespace

bool TrunkState::cut_between(int a, int b) const {
    if (kind != LineFault::broken && kind != LineFault::half_broken) return false;
    int const low = std::min(a, b);
    int const high = std::max(a, b);
    return low <= after && after < high;
}

bool TrunkState::crossed_between(int a, int b) const {
    int const low = std::min(a, b);
    int const high = std::max(a, b);
    auto const between = [&](int joint) { return low <= joint && joint < high; };
    if (kind == LineFault::crossed) return between(after);
    if (kind == LineFault::crossed_twice) return between(after) != between(until);
    return false;
}

double idle_density(IdleVolts const& reading, TrunkState const& trunk, LineFault electrical, std::size_t devices) {
    if (electrical == LineFault::no_bias) return (1.0 - outlier) * floating(reading.volts) + outlier / 12.0;
    int const far_end = static_cast<int>(devices) + 1;
    double sum = 0.0;
    for (auto const& [place, weight] : {std::pair{0, 0.85}, std::pair{far_end, 0.15}}) {
        if (trunk.cut_between(place, reading.position)) {
            sum += weight * floating(reading.volts);
            continue;
        }
        double const sign = trunk.crossed_between(place, reading.position) ? -1.0 : 1.0;
        for (auto const& terminator : terminators)
            for (auto ends : ends_of(electrical)) {
                // Behind a break only this side's terminator loads the polarization.
                if (trunk.cut_between(0, far_end)) (place == 0 ? ends.far : ends.head) = 0;
                sum += weight * terminator.weight * ends.weight *
                       idle_at(reading.volts, sign, ends, terminator, electrical, devices);
            }
    }
    return (1.0 - outlier) * sum + outlier / 12.0;  // anything from -6 to 6 V
}

double ohms_density(double ohms, TrunkState const& trunk, LineFault electrical, std::size_t devices, double length_m) {
    double const read = std::clamp(ohms, 0.1, open_to_ohm);
    std::vector<Weighted> loops;
    if (length_m > 0.0)
        for (auto const& conductor : conductors) loops.push_back({length_m * loop_ohm_per_m * conductor.value, conductor.weight});
    else
        loops.assign(std::begin(unknown_loops), std::end(unknown_loops));
    bool const far_seen = !trunk.cut_between(0, static_cast<int>(devices) + 1);
    double sum = 0.0;
    for (auto const& terminator : terminators)
        for (auto const& ends : ends_of(electrical)) {
            double const weight = terminator.weight * ends.weight;
            for (auto const& loop : loops)
                for (double const bias_path : {0.0, 1100.0}) {  // the supply behind the polarization may conduct
                    double const expected =
                        terminator.ohm > 0.0 ? parallel_ohms(ends, terminator.ohm, loop.value, far_seen, bias_path) : 0.0;
                    bool const is_open = expected <= 0.0 || expected >= open_from_ohm;
                    sum += 0.5 * weight * loop.weight *
                           (is_open ? open_density(read) : normal(std::log(read), std::log(expected), 0.05));
                }
        }
    return (1.0 - outlier) * sum + outlier / std::log(open_to_ohm / 0.1);
}

double common_density(double volts, LineFault electrical) {
    double const size = std::abs(volts);
    double const usual = normal(volts, 0.0, 0.7);
    double const any = size >= 1.0 && size <= 400.0 ? 1.0 / (2.0 * size * std::log(400.0)) : 0.0;
    if (electrical == LineFault::missing_common) return 0.3 * usual + 0.7 * any + 1e-6;
    return 0.99 * usual + 0.01 * any + 1e-6;
}

double log_likelihood(ByHand const& measured, TrunkState const& trunk, LineFault electrical, std::size_t devices,
                      double length_m) {
    double sum = 0.0;
    for (auto const& reading : measured.idle) sum += std::log(idle_density(reading, trunk, electrical, devices));
    if (measured.ohms) sum += std::log(ohms_density(*measured.ohms, trunk, electrical, devices, length_m));
    if (measured.common_v) sum += std::log(common_density(*measured.common_v, electrical));
    return sum;
}

}  // namespace phasewright::linefault
