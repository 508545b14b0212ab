#include "core/correction/energy_law.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::correction {

namespace {
constexpr std::size_t most = wiring::most_elements;
constexpr double nothing = 1e-9;  // relative: rows of signed selections are of order one or exactly zero

std::size_t conductor_at(plan::ServiceModel const& model, std::size_t path) {
    return static_cast<std::size_t>(model.live[path]);
}

// Rows of a x = t, one a live conductor, and their right-hand sides.
struct Equations {
    std::array<PerElement, 3> a{};
    std::array<Complex, 3> t{};
    std::size_t rows = 0;
    double scale = 0.0;
};

Equations equations_of(SeenBoth const& both, ElementVolts const& volts, std::size_t target) {
    Equations set{.rows = both.model.live.size()};
    for (std::size_t row = 0; row < set.rows; ++row) {
        auto const j = conductor_at(both.model, row);
        for (std::size_t l = 0; l < both.seen.elements; ++l) {
            if (!both.blind[l]) set.a[row][l] = volts.wired[l] * std::conj(both.seen.current[l][j]);
            set.scale = std::max(set.scale, std::abs(volts.planned[l]));
        }
        for (std::size_t k = 0; k < both.planned.elements; ++k)
            if (target == of_total || target == k)
                set.t[row] += volts.planned[k] * std::conj(both.planned.current[k][j]);
    }
    return set;
}

// The currents sum to zero: a multiple of one row of ones may be added, so only differences from the mean
// count.
void take_out_mean(Equations& set) {
    auto const count = static_cast<double>(set.rows);
    for (std::size_t l = 0; l < most; ++l) {
        Complex mean = 0.0;
        for (std::size_t row = 0; row < set.rows; ++row) mean += set.a[row][l] / count;
        for (std::size_t row = 0; row < set.rows; ++row) set.a[row][l] -= mean;
    }
    Complex mean = 0.0;
    for (std::size_t row = 0; row < set.rows; ++row) mean += set.t[row] / count;
    for (std::size_t row = 0; row < set.rows; ++row) set.t[row] -= mean;
}

// The solution nearest to x: rows are made orthogonal one after the other (Gram and Schmidt), a row that is a
// combination of earlier ones must agree with them.
bool solve_near(Equations set, PerElement& x) {
    double const tolerance = nothing * set.scale;
    std::size_t kept = 0;
    for (std::size_t row = 0; row < set.rows; ++row) {
        auto a = set.a[row];
        Complex residual = set.t[row];
        for (std::size_t l = 0; l < most; ++l) residual -= a[l] * x[l];
        for (std::size_t q = 0; q < kept; ++q) {
            Complex along = 0.0;
            for (std::size_t l = 0; l < most; ++l) along += a[l] * std::conj(set.a[q][l]);
            for (std::size_t l = 0; l < most; ++l) a[l] -= along * set.a[q][l];
        }
        double size = 0.0;
        for (auto const& entry : a) size += std::norm(entry);
        size = std::sqrt(size);
        if (size <= tolerance) {
            if (std::abs(residual) > 1e3 * tolerance) return false;
            continue;
        }
        // x already satisfies the earlier rows; a step along the new direction leaves them satisfied.
        for (std::size_t l = 0; l < most; ++l) {
            a[l] /= size;
            x[l] += std::conj(a[l]) * residual / size;
        }
        set.a[kept++] = a;
    }
    return true;
}

PerElement unchanged(std::size_t target, std::size_t elements) {
    PerElement x{};
    for (std::size_t l = 0; l < elements; ++l)
        if (target == of_total || target == l) x[l] = 1.0;
    return x;
}

struct Row {
    std::optional<PerElement> share;
    bool by_sum = false;
};
Row solved_row(SeenBoth const& both, ElementVolts const& volts, std::size_t target) {
    auto set = equations_of(both, volts, target);
    auto x = unchanged(target, both.seen.elements);
    for (std::size_t l = 0; l < most; ++l)
        if (both.blind[l]) x[l] = 0.0;
    auto const start = x;
    if (solve_near(set, x)) return {x, false};
    if (!both.model.currents_sum_to_zero) return {};
    take_out_mean(set);
    x = start;
    if (solve_near(set, x)) return {x, true};
    return {};
}
}  // namespace

SeenBoth seen_both(wiring::Wiring const& wiring, plan::ServiceModel const& model) {
    SeenBoth both{.model = model,
                  .seen = wiring::seen_by(wiring, model),
                  .planned = wiring::seen_by(wiring::as_planned(model), model)};
    // The volts of a lost tap are stray, and two loops that became one tell no current apart.
    for (std::size_t k = 0; k < both.seen.elements; ++k) {
        std::size_t currents = 0;
        for (auto const& entry : both.seen.current[k]) currents += std::abs(entry) > 0.0 ? 1 : 0;
        bool const crossed = model.elements[k].current_input != plan::derived_current && currents > 1;
        both.blind[k] = both.seen.voltage_lost[k] || crossed;
    }
    return both;
}

ElementVolts volts_of(SeenBoth const& both, plan::SourcePhasors const& u) {
    ElementVolts volts;
    for (std::size_t k = 0; k < both.seen.elements; ++k)
        for (std::size_t c = 0; c < u.size(); ++c) {
            volts.wired[k] += both.seen.voltage[k][c] * u[c];
            volts.planned[k] += both.planned.voltage[k][c] * u[c];
        }
    return volts;
}

std::optional<PerElement> law_row(SeenBoth const& both, ElementVolts const& volts, std::size_t target) {
    return solved_row(both, volts, target).share;
}

ElementLaw element_law(SeenBoth const& both, ElementVolts const& volts) {
    ElementLaw law;
    for (std::size_t target = 0; target <= most; ++target) {
        if (target != of_total && target >= both.seen.elements) continue;
        auto const row = solved_row(both, volts, target);
        law.known[target] = row.share.has_value();
        if (row.share) law.share[target] = *row.share;
        law.by_sum = law.by_sum || row.by_sum;
    }
    return law;
}

LoadCurrents balanced_load(plan::ServiceModel const& model, plan::SourcePhasors const& u) {
    // Against the centre of the three voltages; two legs and single phases against their neutral.
    Complex centre = 0.0;
    if (model.live.size() == 3) centre = (u[0] + u[1] + u[2]) / 3.0;
    LoadCurrents load{};
    for (auto const conductor : model.live) {
        auto const j = static_cast<std::size_t>(conductor);
        load[j] = std::conj(u[j] - centre);
    }
    return load;
}

LoadCurrents shared_load(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                         std::array<Complex, 3> const& shares) {
    LoadCurrents load{};
    for (std::size_t path = 0; path < model.live.size(); ++path) {
        auto const j = conductor_at(model, path);
        load[j] = shares[path] / u[j];
    }
    return load;
}

PerElement parts_of_true(SeenBoth const& both, ElementVolts const& volts, LoadCurrents const& load) {
    PerElement parts{};
    Complex true_s = 0.0;
    for (std::size_t k = 0; k < both.seen.elements; ++k) {
        Complex wired = 0.0;
        Complex planned = 0.0;
        for (std::size_t j = 0; j < load.size(); ++j) {
            wired += std::conj(both.seen.current[k][j]) * load[j];
            planned += std::conj(both.planned.current[k][j]) * load[j];
        }
        parts[k] = volts.wired[k] * wired;
        true_s += volts.planned[k] * planned;
    }
    for (auto& part : parts) part /= true_s;
    return parts;
}

Complex sum_of(PerElement const& parts) { return parts[0] + parts[1] + parts[2]; }

std::optional<double> registered_share(PerElement const& parts, RegisterKind kind,
                                       std::optional<double> tan_lag) {
    bool const each = kind == RegisterKind::absolute || kind == RegisterKind::per_phase;
    auto const of = [&](Complex part) { return part.real() - part.imag() * tan_lag.value_or(0.0); };
    if (!each) {
        auto const c = sum_of(parts);
        if (!tan_lag && std::abs(c.imag()) > nothing) return std::nullopt;
        return of(c);
    }
    double sum = 0.0;
    for (auto const& part : parts) {
        if (!tan_lag && std::abs(part.imag()) > nothing) return std::nullopt;
        sum += kind == RegisterKind::absolute ? std::abs(of(part)) : std::max(of(part), 0.0);
    }
    return sum;
}

std::optional<double> plain_rule(SeenBoth const& both, plan::SourcePhasors const& u, RegisterKind kind) {
    auto const parts = parts_of_true(both, volts_of(both, u), balanced_load(both.model, u));
    auto const share = registered_share(parts, kind, std::nullopt);
    bool const stands_still =
        (kind == RegisterKind::import_only || kind == RegisterKind::export_only) && share && *share < 0.0;
    if (!share || std::abs(*share) < nothing || stands_still) return std::nullopt;
    return 1.0 / *share;
}

}  // namespace phasewright::correction
