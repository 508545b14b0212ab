#include "bus/decoder/priors.hpp"

#include <cmath>
#include <vector>

namespace phasewright::decoder {

namespace {

using profile::ValueType;
using Scales = std::vector<ScalePrior>;

Scales made(std::initializer_list<std::pair<int, double>> shares) {
    Scales scales;
    for (auto const& [exponent, share] : shares) scales.push_back({exponent, std::log(share)});
    return scales;
}

// Of currents and powers nothing inside a dump says the scale; what is usual is said with half its weight, so that the
// doubt stays as large as it is.
Scales halved(Scales scales) {
    double sum = 0.0;
    for (auto& scale : scales) sum += std::exp(scale.log_probability *= 0.5);
    for (auto& scale : scales) scale.log_probability -= std::log(sum);
    return scales;
}

Scales const& whole_scales(Quantity quantity) {
    static Scales const volts =
        made({{-1, 0.42}, {-2, 0.2}, {0, 0.2}, {-3, 0.08}, {-4, 0.02}, {1, 0.01}, {2, 0.005}, {3, 0.005}});
    static Scales const amperes =
        halved(made({{-3, 0.32}, {-2, 0.25}, {-1, 0.2}, {0, 0.1}, {-4, 0.04}, {1, 0.005}, {2, 0.003}, {3, 0.002}}));
    static Scales const watts = halved(made({{0, 0.36}, {1, 0.17}, {-1, 0.15}, {2, 0.1}, {3, 0.08}, {-2, 0.07}, {-3, 0.03},
                                             {4, 0.02}, {-4, 0.01}}));
    static Scales const hertz = made({{-2, 0.55}, {-1, 0.2}, {-3, 0.15}, {0, 0.05}, {-4, 0.03}});
    static Scales const factors = made({{-3, 0.5}, {-2, 0.25}, {-4, 0.2}, {-1, 0.01}});
    static Scales const hours = made({{0, 0.25}, {1, 0.13}, {2, 0.16}, {3, 0.28}, {-1, 0.08}, {4, 0.03}, {5, 0.02}, {6, 0.03}, {-2, 0.02}});
    switch (quantity) {
        case Quantity::v:
        case Quantity::v_ll:
        case Quantity::v_mean:
        case Quantity::v_ll_mean: return volts;
        case Quantity::i:
        case Quantity::i_mean:
        case Quantity::i_sum:
        case Quantity::i_n: return amperes;
        case Quantity::hz: return hertz;
        case Quantity::pf:
        case Quantity::pf_total: return factors;
        default: return is_counter(quantity) ? hours : watts;
    }
}

Scales const& floating_scales(Quantity quantity) {
    static Scales const plain = made({{0, 0.93}, {-3, 0.02}, {3, 0.04}});
    static Scales const kilo = made({{0, 0.62}, {3, 0.33}, {6, 0.02}, {-3, 0.005}});
    static Scales const factors = made({{0, 0.93}, {-2, 0.06}});
    switch (quantity) {
        case Quantity::p:
        case Quantity::q:
        case Quantity::s:
        case Quantity::p_total:
        case Quantity::q_total:
        case Quantity::s_total:
        case Quantity::energy_import:
        case Quantity::energy_export:
        case Quantity::reactive_energy:
        case Quantity::apparent_energy: return kilo;
        case Quantity::pf:
        case Quantity::pf_total: return factors;
        default: return plain;
    }
}

bool has_a_sign(Quantity quantity) {
    switch (quantity) {
        case Quantity::p:
        case Quantity::q:
        case Quantity::pf:
        case Quantity::p_total:
        case Quantity::q_total:
        case Quantity::pf_total: return true;
        default: return false;
    }
}

}  // namespace

std::span<ScalePrior const> scales_for(Quantity quantity, bool floating) {
    return floating ? floating_scales(quantity) : whole_scales(quantity);
}

bool mostly_signed(Quantity quantity) { return has_a_sign(quantity); }

double log_prior_of_type(Quantity quantity, ValueType type) {
    double const rare = profile::registers_of(type) == 4 ? -3.5 : 0.0;
    if (profile::is_floating(type)) return rare;
    double const with_sign = has_a_sign(quantity) ? 0.9 : is_counter(quantity) ? 0.2 : 0.35;
    return rare + std::log(is_signed(type) ? with_sign : 1.0 - with_sign);
}

double log_prior_of_orders(Format const& format) {
    double sum = std::log(format.bytes == profile::Order::high_first ? 0.97 : 0.03);
    if (profile::registers_of(format.type) > 1)
        sum += std::log(format.words == profile::Order::high_first ? 0.7 : 0.3);
    return sum;
}

double log_prior_of_gap(unsigned registers) { return -0.7 - 0.9 * std::log1p(static_cast<double>(registers)); }

double log_prior_beside(ValueType first, ValueType other) {
    if (same_size_and_kind(first, other)) return -0.25;
    if (profile::is_floating(first) != profile::is_floating(other)) return -3.5;
    return -2.0;
}

}  // namespace phasewright::decoder
