#include "core/diagnosis/floating_star.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;

// How far loads that differ carry a star point, relative to phase volts. The loads of a panel differ by about a third, so
// the point stands near the middle or, where one phase is nearly alone, anywhere within the triangle. No source.
constexpr double near_middle = 0.25;
constexpr double near_weight = 0.5;
constexpr double diffuse_weight = 1e-3;  // of sizes that hang together in no way
constexpr double widest = 1.75;          // relative sizes that can be read at all

double dot(Complex one, Complex other) { return one.real() * other.real() + one.imag() * other.imag(); }

double scale_density(double scale, SupplyPriors const& priors) {
    double const off = std::log(scale);
    return (1.0 - priors.common_tail_weight) * normal_density(off, priors.common) +
           priors.common_tail_weight * normal_density(off, priors.common_tail);
}

// Three phases: two differences of squares give V0, the side comes from the three sizes.
std::optional<FloatingStar> of_three(plan::SourcePhasors const& u, std::array<double, 3> const& volts, SupplyPriors const& priors) {
    double const nominal = std::abs(u[0]);
    auto const side = quantity::triangle_side(volts[0], volts[1], volts[2]);
    if (!side) return std::nullopt;
    FloatingStar star;
    star.scale = *side / std::abs(u[0] - u[1]);
    std::array<Complex, 3> corner;
    for (std::size_t k = 0; k < 3; ++k) corner[k] = star.scale * u[k];
    // |c_k|^2 - 2 c_k.V0 + |V0|^2 = v_k^2, and the |c_k| are equal.
    Complex const ab = 2.0 * (corner[1] - corner[0]);
    Complex const bc = 2.0 * (corner[2] - corner[1]);
    double const right_ab = volts[0] * volts[0] - volts[1] * volts[1];
    double const right_bc = volts[1] * volts[1] - volts[2] * volts[2];
    double const det = ab.real() * bc.imag() - ab.imag() * bc.real();
    star.point = {(right_ab * bc.imag() - right_bc * ab.imag()) / det, (ab.real() * right_bc - bc.real() * right_ab) / det};
    std::array<std::array<double, 3>, 3> rows{};  // d(relative size k) / d(V0 relative, ln scale)
    for (std::size_t k = 0; k < 3; ++k) {
        star.volts[k] = corner[k] - star.point;
        if (std::abs(star.volts[k]) < 0.02 * nominal) return std::nullopt;
        Complex const along = star.volts[k] / std::abs(star.volts[k]);
        rows[k] = {-along.real(), -along.imag(), dot(along, corner[k]) / nominal};
    }
    double const volume =
        std::abs(rows[0][0] * (rows[1][1] * rows[2][2] - rows[1][2] * rows[2][1]) -
                 rows[0][1] * (rows[1][0] * rows[2][2] - rows[1][2] * rows[2][0]) +
                 rows[0][2] * (rows[1][0] * rows[2][1] - rows[1][1] * rows[2][0]));
    double const away = std::abs(star.point) / nominal;
    double const z = away / near_middle;
    double const where = near_weight * std::exp(-0.5 * z * z) / (2.0 * std::numbers::pi * near_middle * near_middle) +
                         (1.0 - near_weight) * (away < 1.0 ? 1.0 / std::numbers::pi : 0.0);
    star.density = where * scale_density(star.scale, priors) / std::max(volume, 0.1);
    return star;
}

// Two legs in series through one point.
std::optional<FloatingStar> of_two(plan::ServiceModel const& model, plan::SourcePhasors const& u, std::array<double, 3> const& volts,
                                   std::array<std::size_t, 2> const& leg, SupplyPriors const& priors) {
    std::array<Complex, 2> const end{u[static_cast<std::size_t>(model.terminals[leg[0]])],
                                     u[static_cast<std::size_t>(model.terminals[leg[1]])]};
    double const sum = volts[leg[0]] + volts[leg[1]];
    if (sum <= 0.0) return std::nullopt;
    FloatingStar star;
    star.scale = sum / std::abs(end[1] - end[0]);
    double const place = volts[leg[0]] / sum;
    star.point = star.scale * (end[0] + place * (end[1] - end[0]));
    for (std::size_t k = 0; k < model.terminals.size(); ++k)
        star.volts[k] = star.scale * u[static_cast<std::size_t>(model.terminals[k])] - star.point;
    double const where = near_weight * normal_density(place - 0.5, 0.5 * near_middle) + (1.0 - near_weight);
    // The place and ln(scale) against the two sizes: 1 / sum^2, each size in units of its nominal.
    star.density = where * scale_density(star.scale, priors) * std::abs(end[0]) * std::abs(end[1]) / (sum * sum);
    return star;
}
}  // namespace

std::optional<FloatingStar> floating_star(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                                          Observed const& observed, SupplyPriors const& priors) {
    std::size_t const n = model.terminals.size();
    if (n < 2 || n != observed.elements) return std::nullopt;
    std::array<double, 3> volts{};
    for (std::size_t k = 0; k < n; ++k) {
        if (!observed.volts[k]) return std::nullopt;
        volts[k] = *observed.volts[k];
    }
    if (n == 2) return of_two(model, u, volts, {0, 1}, priors);
    if (model.service != plan::Service::high_leg_delta) return of_three(u, volts, priors);
    std::array<std::size_t, 2> legs{};
    std::size_t found = 0;
    for (std::size_t k = 0; k < n && found < 2; ++k)
        if (model.terminals[k] != model.high_leg) legs[found++] = k;
    return of_two(model, u, volts, legs, priors);
}

double floating_star_density(plan::ServiceModel const& model, plan::SourcePhasors const& u, Observed const& observed,
                             SupplyPriors const& priors) {
    std::size_t sizes = 0;
    for (std::size_t k = 0; k < observed.elements; ++k) sizes += observed.volts[k] ? 1 : 0;
    auto const angles = std::ranges::count_if(observed.volt_angle_deg, [](auto const& a) { return a.has_value(); });
    double const any_angles = std::pow(1.0 / 360.0, static_cast<double>(std::max<long>(angles - 1, 0)));
    double const diffuse = diffuse_weight * std::pow(1.0 / widest, static_cast<double>(sizes)) * any_angles;
    auto const star = floating_star(model, u, observed, priors);
    if (!star) return diffuse;
    double density = star->density;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        if (model.service != plan::Service::high_leg_delta || model.terminals[k] != model.high_leg) continue;
        double const planned = std::abs(u[static_cast<std::size_t>(model.high_leg)]);
        density *= normal_density((*observed.volts[k] - std::abs(star->volts[k])) / planned, 0.03);
    }
    std::optional<std::size_t> zero;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        if (!observed.volt_angle_deg[k]) continue;
        if (!zero) {
            zero = k;
            continue;
        }
        double const read = *observed.volt_angle_deg[k] - *observed.volt_angle_deg[*zero];
        double const due = std::arg(star->volts[k] / star->volts[*zero]) * quantity::degrees_per_radian;
        // Legs whose loads differ in angle leave the straight line between them.
        double const sigma = model.terminals.size() == 2 ? 8.0 : 2.0 * priors.angle_deg;
        density *= (1.0 - priors.outlier_weight) * normal_density(quantity::wrapped_deg(read - due), sigma) +
                   priors.outlier_weight / 360.0;
    }
    return (1.0 - diffuse_weight) * density + diffuse;
}

double likelier_by_returning(double off) {
    // Classes of three CTs and registers read apart. The least: what returns through earth, or past the meter.
    constexpr double width = 0.06;
    constexpr double least = 0.05;
    double const z = off / width;
    return least + (most_by_returning - least) * std::exp(-0.5 * z * z);
}

}  // namespace phasewright::diagnosis
