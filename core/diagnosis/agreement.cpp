#include "core/diagnosis/agreement.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>

#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
using readings::Column;
using readings::Snapshot;

constexpr double beyond = 1.25;  // registers read apart and rounded reach a few per cent; nothing reaches this

std::string number(double value) { return quantity::fixed(value, std::abs(value) < 100.0 ? 2 : 0); }

std::optional<double> entry(Column const& column, std::size_t k) {
    return k < column.size() ? column[k] : std::optional<double>{};
}

// What one element may show at most.
void check_element(Snapshot const& snapshot, std::size_t k, double floor_va, std::string const& where, std::vector<Disagreement>& list) {
    auto const v = entry(snapshot.v, k);
    auto const i = entry(snapshot.i, k);
    auto const at = "[" + std::to_string(k) + "]";
    if (auto const pf = entry(snapshot.pf, k); pf && std::abs(*pf) > 1.02)
        list.push_back({where + ".pf" + at, number(*pf), "between -1 and 1"});
    if (!v || !i) return;
    double const most = *v * *i * beyond + floor_va;
    auto const against = "at most V times I = " + number(*v * *i) + " VA";
    if (auto const p = entry(snapshot.p, k); p && std::abs(*p) > most) list.push_back({where + ".p" + at, number(*p) + " W", against});
    if (auto const q = entry(snapshot.q, k); q && std::abs(*q) > most) list.push_back({where + ".q" + at, number(*q) + " var", against});
    if (auto const s = entry(snapshot.s, k); s && std::abs(*s) > most) list.push_back({where + ".s" + at, number(*s) + " VA", against});
}

// Beside watts a power in thousands: what is left of V times I is a thousand times what is shown, on every element.
void check_thousands(Snapshot const& snapshot, std::size_t elements, std::string const& where, std::vector<Disagreement>& list) {
    auto const near_thousandth = [](double shown, double rest) { return std::abs(std::abs(shown) * 1000.0 / rest - 1.0) < 0.15; };
    std::size_t vars = 0, volt_amperes = 0, counted = 0;
    for (std::size_t k = 0; k < elements; ++k) {
        auto const v = entry(snapshot.v, k), i = entry(snapshot.i, k), p = entry(snapshot.p, k);
        if (!v || !i || !p) continue;
        double const va = *v * *i;
        double const rest = std::sqrt(std::max(va * va - *p * *p, 0.0));
        if (std::abs(*p) < 0.05 * va || rest < 0.1 * va) continue;
        ++counted;
        if (auto const q = entry(snapshot.q, k); q && near_thousandth(*q, rest)) ++vars;
        if (auto const s = entry(snapshot.s, k); s && near_thousandth(*s, va)) ++volt_amperes;
    }
    if (counted == 0) return;
    if (vars == counted) list.push_back({where + ".q", "a thousandth of what W, V and A leave over", "var, as p is in W: multiply by 1000"});
    if (volt_amperes == counted) list.push_back({where + ".s", "a thousandth of V times I", "VA, as p is in W: multiply by 1000"});
}

void check_line_volts(Snapshot const& snapshot, plan::ServiceModel const& model, double nominal_ll, std::string const& where,
                      std::vector<Disagreement>& list) {
    for (std::size_t pair = 0; pair < model.line_pairs.size(); ++pair) {
        auto const line = entry(snapshot.v_ll, pair);
        if (!line) continue;
        auto const field = where + ".v_ll[" + std::to_string(pair) + "]";
        if (*line > 3.0 * nominal_ll) list.push_back({field, number(*line) + " V", "near " + number(nominal_ll) + " V"});
        if (!model.has_neutral) continue;
        auto const [one, other] = model.line_pairs[pair];
        std::optional<double> v_one, v_other;
        for (std::size_t k = 0; k < model.elements.size(); ++k) {
            if (model.elements[k].plus == one) v_one = entry(snapshot.v, k);
            if (model.elements[k].plus == other) v_other = entry(snapshot.v, k);
        }
        if (v_one && v_other && *line > beyond * (*v_one + *v_other) + 0.05 * nominal_ll)
            list.push_back({field, number(*line) + " V", "at most " + number(*v_one + *v_other) + " V, the sum of the two to neutral"});
    }
}

// Meters add up signed, by magnitude, or only what flows in: a total that is none of these is no total.
void check_total(Column const& parts, std::optional<double> total, std::size_t elements, double floor, char const* unit,
                 std::string const& field, std::vector<Disagreement>& list) {
    if (!total || parts.size() != elements) return;
    double signed_sum = 0.0, sizes = 0.0, positive = 0.0;
    for (auto const& part : parts) {
        if (!part) return;
        signed_sum += *part;
        sizes += std::abs(*part);
        positive += std::max(*part, 0.0);
    }
    double const slack = 0.15 * sizes + floor;
    for (double const sum : {signed_sum, sizes, positive})
        if (std::abs(std::abs(*total) - std::abs(sum)) <= slack) return;
    list.push_back({field, number(*total) + " " + unit, "the sum of the elements, " + number(signed_sum) + " " + unit});
}
}  // namespace

std::vector<Disagreement> disagreements_of(readings::ReadingSet const& set) {
    std::vector<Disagreement> list;
    auto const model = model_of(set);
    double const floor_va = 0.05 * set.nominal.v_ln + std::max(set.resolution.p.value_or(0.0), set.resolution.q.value_or(0.0));
    for (std::size_t n = 0; n < set.snapshots.size(); ++n) {
        auto const& snapshot = set.snapshots[n];
        auto const where = "snapshots[" + std::to_string(n) + "]";
        for (std::size_t k = 0; k < model.elements.size(); ++k) {
            check_element(snapshot, k, floor_va, where, list);
            auto const v = entry(snapshot.v, k);
            if (v && (*v < 0.0 || *v > 3.0 * set.nominal.v_ll))
                list.push_back({where + ".v[" + std::to_string(k) + "]", number(*v) + " V", "near " + number(set.nominal.v_ln) + " V"});
            if (auto const i = entry(snapshot.i, k); i && *i < 0.0)
                list.push_back({where + ".i[" + std::to_string(k) + "]", number(*i) + " A", "a magnitude, not below zero"});
        }
        check_thousands(snapshot, model.elements.size(), where, list);
        check_line_volts(snapshot, model, set.nominal.v_ll, where, list);
        check_total(snapshot.p, snapshot.p_total, model.elements.size(), floor_va, "W", where + ".p_total", list);
        check_total(snapshot.q, snapshot.q_total, model.elements.size(), floor_va, "var", where + ".q_total", list);
    }
    return list;
}

}  // namespace phasewright::diagnosis
