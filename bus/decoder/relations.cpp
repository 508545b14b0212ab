#include "bus/decoder/relations.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace phasewright::decoder {

namespace {

using enum Quantity;

constexpr double nowhere = -std::numeric_limits<double>::infinity();
constexpr double apart = 0.004;   // numbers of one answer are not of one instant, and each has its own error
constexpr double least_a = 0.01;  // the currents that a panel's meter may show
constexpr double most_a = 6000.0;

double gauss(double x, double mean, double sigma) {
    double const z = (x - mean) / sigma;
    return std::exp(-0.5 * z * z) / (sigma * std::sqrt(2.0 * std::numbers::pi));
}

// A display that shows whole steps is off by up to half of one; a step far wider than the spread still holds one.
double widened(double sigma, double step) { return std::hypot(sigma, 0.45 * step); }

// Around a mean that the other numbers give: computed from the same instant, or from another.
double around(double x, double mean, double size, double share, double blur, double step) {
    return 0.6 * gauss(x, mean, widened(std::hypot(0.1 * share * size, blur), step)) +
           0.4 * gauss(x, mean, widened(std::hypot(share * size, blur), step));
}

double log_uniform(double x, double least, double most) {
    if (!(x >= least) || !(x <= most)) return 0.0;
    return 1.0 / (x * std::log(most / least));
}

class Sight {
public:
    Sight(Rows const& rows, Picture const& picture, std::size_t dump, std::size_t phase)
        : rows_(rows), picture_(picture), dump_(dump), phase_(phase), shown_(rows.dumps[dump].at(phase)) {}

    [[nodiscard]] double density(Quantity quantity) const {
        switch (quantity) {
            case v: return voltage();
            case hz: return frequency();
            case i: return current();
            case i_n: return neutral();
            case p: return power();
            case q: return reactive();
            case pf: return factor(told_factor(phase_), true);
            case pf_total: return factor(told_by_others(pf_total, picture_, dump_, 0), false);
            case s:
                if (!told(s)) return log_uniform(x(), 1.0, 5e6);
                return near(s, apart);
            case p_total:
            case q_total:
            case s_total: return total(quantity);
            case v_ll:
            case v_mean:
            case v_ll_mean: return near(quantity, quantity == v_ll ? 0.006 : 0.0015);
            case i_mean:
            case i_sum: return near(quantity, apart);
            case energy_import:
            case energy_export:
            case reactive_energy:
            case apparent_energy: return counter(quantity);
        }
        return 0.0;
    }

private:
    [[nodiscard]] double x() const { return shown_.value; }
    [[nodiscard]] double step() const { return shown_.step; }
    [[nodiscard]] std::optional<double> of(Quantity quantity, std::size_t phase) const {
        return number_in(picture_, quantity, dump_, phase);
    }
    [[nodiscard]] std::optional<double> told(Quantity quantity) const {
        return told_by_others(quantity, picture_, dump_, phase_);
    }
    [[nodiscard]] double step_of(Quantity quantity, std::size_t phase) const {
        auto const& rows = picture_.rows.at(index_of(quantity));
        return rows ? rows->dumps[dump_].at(phase).step : 0.0;
    }

    [[nodiscard]] double near(Quantity quantity, double share) const {
        auto const mean = told(quantity);
        if (!mean) return 0.0;
        double const blur = quantity == s ? blur_of_product() : 0.0;
        return around(x(), *mean, std::abs(*mean), share, blur, step());
    }

    [[nodiscard]] double voltage() const {
        double const nominal = picture_.expected.nominal.v_ln;
        double const free = gauss(x(), nominal, widened(0.05 * nominal, step()));
        if (phase_ == 0) return 0.7 * gauss(x(), nominal, widened(0.025 * nominal, step())) + 0.3 * free;
        auto const& first = rows_.dumps[dump_].front();
        if (first.state != Shown::State::number) return free;
        return 0.9 * gauss(x(), first.value, widened(0.012 * nominal, step())) + 0.1 * free;
    }

    [[nodiscard]] double frequency() const {
        double const nominal = picture_.expected.nominal.hz;
        return 0.9 * gauss(x(), nominal, widened(0.05, step())) + 0.1 * gauss(x(), nominal, widened(0.5, step()));
    }

    [[nodiscard]] double current() const {
        double const wide = log_uniform(x(), least_a, most_a);
        double free = wide;
        if (auto const& range = picture_.expected.current_a)
            free = 0.97 * log_uniform(x(), std::max(range->first, least_a / 10.0), range->second) + 0.03 * wide;
        if (x() == 0.0) return 0.05 / shown_.grain;
        if (phase_ == 0) return free;
        auto const& first = rows_.dumps[dump_].front();
        if (first.state != Shown::State::number || !(first.value > 0.0) || !(x() > 0.0)) return free;
        return 0.6 * gauss(std::log(x()), std::log(first.value), 0.5) / x() + 0.4 * free;
    }

    [[nodiscard]] double neutral() const {
        double sum = 0.0;
        for (std::size_t phase = 0; phase < picture_.expected.phases; ++phase) sum += of(i, phase).value_or(0.0);
        if (!(sum > 0.0)) return 0.0;
        if (x() == 0.0) return 0.05 / shown_.grain;
        return 0.7 * log_uniform(x(), 0.005 * sum, sum);
    }

    [[nodiscard]] std::optional<double> volt_amperes(std::size_t phase) const {
        auto const volts = of(v, phase);
        auto const amperes = of(i, phase);
        if (!volts || !amperes) return of(s, phase);
        return *volts * *amperes;
    }
    // By how much V times I may be off for the steps of V and I.
    [[nodiscard]] double blur_of_product() const {
        auto const volts = of(v, phase_);
        auto const amperes = of(i, phase_);
        if (!volts || !amperes) return 0.0;
        return 0.45 * std::hypot(step_of(v, phase_) * *amperes, step_of(i, phase_) * *volts);
    }

    [[nodiscard]] double power() const {
        auto const most = volt_amperes(phase_);
        if (!most) return 0.5 * log_uniform(std::abs(x()), 1.0, 5e6);
        double const blur = widened(std::hypot(apart * *most, blur_of_product()), step());
        if (*most < 3.0 * blur) return gauss(x(), 0.0, std::max(*most, 0.0) + blur);
        bool const back = x() < 0.0;
        double share = back ? 0.12 : 0.88;
        auto const& first = rows_.dumps[dump_].front();
        if (phase_ > 0 && first.state == Shown::State::number && first.value != 0.0)
            share = (first.value < 0.0) == back ? 0.88 : 0.12;
        double const factor = std::abs(x()) / *most;
        if (factor <= 1.0) return share * (0.12 + 0.85 * 5.0 * std::pow(factor, 4.0)) / *most;
        double const beyond = (factor - 1.0) * *most / blur;
        return share * 4.37 / *most * std::exp(-0.5 * beyond * beyond);
    }

    [[nodiscard]] double reactive() const {
        auto const most = volt_amperes(phase_);
        if (!most) return 0.5 * log_uniform(std::abs(x()), 1.0, 5e6);
        double const blur = widened(std::hypot(apart * *most, blur_of_product()), step());
        double const free = std::abs(x()) <= *most + blur ? 0.04 / (*most + blur) : 0.0;
        auto const watts = of(p, phase_);
        if (!watts) return 10.0 * free;
        double const apparent = std::hypot(x(), *watts);
        double const slope = apparent > 0.0 ? std::max(std::abs(x()) / apparent, blur / (*most + blur)) : 1.0;
        return 0.46 * around(apparent, *most, *most, apart, blur_of_product(), step()) * slope + free;
    }

    [[nodiscard]] std::optional<double> told_factor(std::size_t phase) const {
        return told_by_others(pf, picture_, dump_, phase);
    }
    [[nodiscard]] double factor(std::optional<double> told_size, bool one_phase) const {
        if (std::abs(x()) > 1.0 + step()) return 0.0;
        if (!told_size) return 0.5 * (0.12 + 0.85 * 5.0 * std::pow(std::abs(x()), 4.0));
        double blur = 0.0;
        if (auto const most = volt_amperes(phase_); one_phase && most && *most > 0.0)
            blur = (0.45 * step_of(p, phase_) + blur_of_product()) / *most;
        return 0.5 * around(std::abs(x()), std::abs(*told_size), 1.0, 2.0 * apart, blur, step());
    }

    [[nodiscard]] double total(Quantity quantity) const {
        auto const parts = quantity == p_total ? p : quantity == q_total ? q : s;
        double size = 0.0;
        double steps = 0.0;
        for (std::size_t phase = 0; phase < picture_.expected.phases; ++phase) {
            size += std::abs(of(parts, phase).value_or(volt_amperes(phase).value_or(0.0)));
            steps = std::hypot(steps, 0.45 * step_of(parts, phase));
        }
        if (auto const sum = told(quantity)) {
            double found = around(x(), *sum, size, apart, steps, step());
            // The apparent power of the whole is the sum of the phases', or that of the whole's P and Q.
            if (auto const whole = quantity == s_total ? vector_apparent() : std::nullopt)
                found = 0.5 * found + 0.5 * around(x(), *whole, size, apart, steps, step());
            return found;
        }
        if (!(size > 0.0) || std::abs(x()) > size * (1.0 + 4.0 * apart)) return 0.0;
        return quantity == p_total ? (0.12 + 0.85 * 5.0 * std::pow(std::abs(x()) / size, 4.0)) / size * 0.5
                                   : 0.3 / size;
    }
    [[nodiscard]] std::optional<double> vector_apparent() const {
        auto const watts = told_by_others(p_total, picture_, dump_, 0);
        auto const vars = told_by_others(q_total, picture_, dump_, 0);
        if (!watts || !vars) return std::nullopt;
        return std::hypot(*watts, *vars);
    }

    // What a counter of this kind is driven by, W or var or VA, never negative.
    [[nodiscard]] std::optional<double> drive(Quantity quantity, std::size_t dump) const {
        auto const parts = quantity == reactive_energy ? q : quantity == apparent_energy ? s : p;
        auto const whole = quantity == reactive_energy ? q_total : quantity == apparent_energy ? s_total : p_total;
        auto sum = number_in(picture_, whole, dump, 0);
        if (!sum) sum = told_by_others(whole, picture_, dump, 0);
        if (!sum && parts == s) {
            double apparent = 0.0;
            for (std::size_t phase = 0; phase < picture_.expected.phases; ++phase) {
                auto const volts = number_in(picture_, v, dump, phase);
                auto const amperes = number_in(picture_, i, dump, phase);
                if (!volts || !amperes) return std::nullopt;
                apparent += *volts * *amperes;
            }
            sum = apparent;
        }
        if (!sum) return std::nullopt;
        if (quantity == reactive_energy) return std::abs(*sum);
        return std::max(quantity == energy_export ? -*sum : *sum, 0.0);
    }

    [[nodiscard]] double counter(Quantity quantity) const {
        if (x() < 0.0) return 0.0;
        auto const now = drive(quantity, dump_);
        if (dump_ == 0 || rows_.dumps[dump_ - 1].front().state != Shown::State::number) {
            if (x() == 0.0) return 0.02 / shown_.grain;
            // A meter in service for hours to decades at a usual share of what it carries now.
            double const usual = std::max(now.value_or(0.0), 20.0) * 0.4 * 8000.0;
            return gauss(std::log(x()), std::log(usual), 2.6) / x();
        }
        double const rise = x() - rows_.dumps[dump_ - 1].front().value;
        auto const before = drive(quantity, dump_ - 1);
        auto const& t0 = picture_.time_s[dump_ - 1];
        auto const& t1 = picture_.time_s[dump_];
        if (!now || !before || !t0 || !t1 || rise < 0.0)
            return rise < 0.0 ? 0.0 : 0.5 * log_uniform(rise + 0.5 * step(), 0.5 * step(), 1e7);
        double const mean = 0.5 * (*now + *before);
        double const due = mean * (*t1 - *t0) / 3600.0;
        // A meter writes its counters once a second or so, and not at the moment of its powers; nor is a dump read at one.
        // Common practice, no source.
        constexpr double stale_s = 0.7;
        double const stale = mean * stale_s / 3600.0;
        // The load between the dumps was mostly that of the dumps; what it did meanwhile nobody saw.
        double const moved = 0.3 * std::abs(*now - *before) * (*t1 - *t0) / 3600.0;
        double const seen = 0.6 * gauss(rise, due, std::hypot(0.01 * due + moved, stale, 0.41 * step())) +
                            0.4 * gauss(rise, due, std::hypot(0.1 * due + moved, stale, 0.41 * step()));
        return std::max(seen, 1e-300);
    }

    Rows const& rows_;
    Picture const& picture_;
    std::size_t dump_;
    std::size_t phase_;
    Shown const& shown_;
};

std::optional<double> sum_of(Quantity quantity, Picture const& picture, std::size_t dump) {
    double sum = 0.0;
    for (std::size_t phase = 0; phase < fields_of(quantity, picture.expected.phases); ++phase) {
        auto const part = number_in(picture, quantity, dump, phase);
        if (!part) return std::nullopt;
        sum += *part;
    }
    return sum;
}

std::optional<double> line_voltage(Picture const& picture, std::size_t dump, std::size_t line) {
    std::size_t const phases = picture.expected.phases;
    auto const a = number_in(picture, Quantity::v, dump, line);
    auto const b = number_in(picture, Quantity::v, dump, (line + 1) % phases);
    auto const& nominal = picture.expected.nominal;
    if (!a || !b) return phases == 3 && nominal.v_ll > 0.0 ? std::optional(nominal.v_ll) : std::nullopt;
    bool const opposite = nominal.v_ll > 1.9 * nominal.v_ln;  // two legs 180 degrees apart
    if (opposite) return *a + *b;
    return std::sqrt(*a * *a + *b * *b + *a * *b);  // 120 degrees apart: law of cosines
}

std::optional<double> whole_factor(Picture const& picture, std::size_t dump) {
    auto watts = number_in(picture, p_total, dump, 0);
    if (!watts) watts = sum_of(p, picture, dump);
    auto vars = number_in(picture, q_total, dump, 0);
    if (!vars) vars = sum_of(q, picture, dump);
    auto apparent = number_in(picture, s_total, dump, 0);
    if (!apparent && watts && vars) apparent = std::hypot(*watts, *vars);
    if (!watts || !apparent || !(*apparent > 0.0)) return std::nullopt;
    return *watts / *apparent;
}

}  // namespace

std::size_t fields_of(Quantity quantity, std::size_t phases) {
    return quantity == v_ll && phases == 2 ? 1 : phases;
}

std::optional<double> told_by_others(Quantity quantity, Picture const& picture, std::size_t dump, std::size_t phase) {
    auto const of = [&](Quantity other) { return number_in(picture, other, dump, phase); };
    auto const divided = [](std::optional<double> sum, std::size_t by) {
        if (sum) *sum /= static_cast<double>(by);
        return sum;
    };
    std::size_t const phases = picture.expected.phases;
    switch (quantity) {
        case v_ll: return line_voltage(picture, dump, phase);
        case v_mean: return divided(sum_of(v, picture, dump), phases);
        case v_ll_mean: {
            double sum = 0.0;
            for (std::size_t line = 0; line < fields_of(v_ll, phases); ++line) {
                auto one = number_in(picture, v_ll, dump, line);
                if (!one) one = line_voltage(picture, dump, line);
                if (!one) return std::nullopt;
                sum += *one;
            }
            return sum / static_cast<double>(fields_of(v_ll, phases));
        }
        case i_sum: return sum_of(i, picture, dump);
        case i_mean: return divided(sum_of(i, picture, dump), phases);
        case s: {
            auto const volts = of(v);
            auto const amperes = of(i);
            return volts && amperes ? std::optional(*volts * *amperes) : std::nullopt;
        }
        case pf: {
            auto const watts = of(p);
            auto apparent = of(s);
            if (!apparent) apparent = told_by_others(s, picture, dump, phase);
            return watts && apparent && *apparent > 0.0 ? std::optional(*watts / *apparent) : std::nullopt;
        }
        case p_total: return sum_of(p, picture, dump);
        case q_total: return sum_of(q, picture, dump);
        case s_total: {
            if (auto const sum = sum_of(s, picture, dump)) return sum;
            double sum = 0.0;
            for (std::size_t k = 0; k < phases; ++k) {
                auto const one = told_by_others(s, picture, dump, k);
                if (!one) return std::nullopt;
                sum += *one;
            }
            return sum;
        }
        case pf_total: return whole_factor(picture, dump);
        default: return std::nullopt;
    }
}

double log_density(Quantity quantity, Rows const& rows, Picture const& picture, std::size_t dump, std::size_t phase) {
    double const density = Sight(rows, picture, dump, phase).density(quantity);
    return density > 0.0 ? std::log(density) : nowhere;
}

}  // namespace phasewright::decoder
