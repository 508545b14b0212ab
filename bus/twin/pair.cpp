#include "bus/twin/pair.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::twin {

namespace {
constexpr double threshold_v = 0.2;
constexpr double unit_load_ohm = 12'000.0;
constexpr double driver_v = 3.0;
constexpr double driver_ohm = 54.0;
constexpr double copper_ohm_per_m = 2.0 * 0.084;  // both conductors, AWG 24
constexpr double propagation_m_per_s = 0.66 * 299'792'458.0;

bool is_cut_off(Pair const& pair, int position) {
    return pair.broken_behind && position > *pair.broken_behind;
}
bool is_crossed(Pair const& pair, int position) {
    return pair.crossed_behind && position > *pair.crossed_behind;
}

// Nothing holds the broken conductor's far part but the inputs, which pull it to common.
bool runs_on_one_conductor(Pair const& pair) {
    bool const tied =
        std::ranges::any_of(pair.terminators, [&](auto const& one) { return is_cut_off(pair, one.at); });
    return pair.one_conductor_broken && pair.common && !tied;
}

double inputs_siemens(Pair const& pair) {
    int const reached = pair.broken_behind ? std::min(pair.positions, *pair.broken_behind) : pair.positions;
    return pair.unit_loads * reached / unit_load_ohm;
}

// `for_edges`: capacitors conduct.
double siemens(Pair const& pair, bool for_edges) {
    double sum = inputs_siemens(pair);
    for (auto const& one : pair.terminators)
        if (!is_cut_off(pair, one.at) && (for_edges || !one.capacitor)) sum += 1.0 / one.ohm;
    return sum;
}

double place_m(Pair const& pair, int position) {
    return pair.length_m * std::clamp(position, 0, pair.positions) / std::max(pair.positions, 1);
}

bool has_terminator(Pair const& pair, int position) {
    return std::ranges::any_of(pair.terminators, [&](Terminator const& one) { return one.at == position; });
}
}  // namespace

Pair healthy_pair(double length_m, int positions) {
    Pair pair;
    pair.length_m = length_m;
    pair.positions = positions;
    pair.terminators = {{.at = 0}, {.at = positions}};
    return pair;
}

double dc_ohm(Pair const& pair) { return 1.0 / siemens(pair, false); }

double idle_v(Pair const& pair) {
    if (!pair.bias || is_cut_off(pair, pair.bias->at)) return 0.0;
    double const level = pair.bias->supply_v / (1.0 + 2.0 * pair.bias->ohm * siemens(pair, false));
    return is_crossed(pair, pair.bias->at) ? -level : level;
}

double signal_v(Pair const& pair, int from, int to) {
    // The farthest load counts as if the whole of it stood there: a little worse than it is.
    double const copper_ohm = copper_ohm_per_m * std::abs(place_m(pair, from) - place_m(pair, to));
    double const level = driver_v / (1.0 + (driver_ohm + copper_ohm) * siemens(pair, true));
    return is_cut_off(pair, from) == is_cut_off(pair, to) ? level : level / 2.0;
}

Passage passage(Pair const& pair, int position) {
    if (is_cut_off(pair, position) && !runs_on_one_conductor(pair)) return Passage::nothing;
    return is_crossed(pair, position) ? Passage::inverted : Passage::clean;
}

double bit_error(Pair const& pair, plan::SerialFormat const& format, int position) {
    double const level = 0.5 * std::erfc((signal_v(pair, 0, position) - threshold_v) / 0.1);
    int const end = pair.broken_behind ? std::min(*pair.broken_behind, pair.positions) : pair.positions;
    if (has_terminator(pair, 0) && has_terminator(pair, end)) return level;
    double const bit_s = 1.0 / format.bit_rate;
    double const settled_s = 3.0 * 2.0 * place_m(pair, end) / propagation_m_per_s;
    double const in_doubt = std::clamp(settled_s / bit_s - 0.5, 0.0, 0.5);
    return level + (1.0 - level) * in_doubt;
}

double stray_byte(Pair const& pair) { return std::abs(idle_v(pair)) < threshold_v ? 0.5 : 0.0; }
double burst(Pair const& pair) { return pair.common ? 0.0 : 0.2; }

}  // namespace phasewright::twin
