#include "core/diagnosis/classes.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <unordered_map>

#include "core/diagnosis/supply_model.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using wiring::Touch;

// Loads with nothing in common, so that equal predictions are never luck. The supply is the nominal one: how it
// departs from that is not known, so it separates nothing (a lost neutral alone is told by its volts, see below).
constexpr std::array<std::array<double, 6>, 2> load_noise{{{41.3, 17.9, 29.1, -23.7, 53.9, 8.3},
                                                           {12.7, -31.1, 67.3, 41.9, 33.7, -12.1}}};

std::vector<std::array<std::size_t, 3>> orders(plan::ServiceModel const& model) {
    if (model.service == plan::Service::one_phase_two_wire) return {{0, 1, 2}};
    if (model.live.size() == 2) return {{0, 1, 2}, {1, 0, 2}};
    return {{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {1, 0, 2}, {0, 2, 1}, {2, 1, 0}};
}

// Does renaming the conductors turn the nominal supply into itself (or into its mirror), up to a common turn?
bool keeps_supply(plan::SourcePhasors const& from, plan::SourcePhasors const& to, std::array<std::size_t, 3> const& order,
                  std::size_t conductors) {
    Complex const turn = from[order[0]] / to[0];
    for (std::size_t c = 0; c < conductors; ++c)
        if (std::abs(from[order[c]] - turn * to[c]) > 1e-6 * std::abs(to[0])) return false;
    return std::abs(std::abs(turn) - 1.0) < 1e-6;
}

std::vector<plan::Sequence> possible(std::optional<plan::Sequence> told) {
    if (told) return {*told};
    return {plan::Sequence::abc, plan::Sequence::acb};
}

long long rounded(double value) { return std::llround(value * 1e6); }
long long rounded_angle(Complex turned) {  // equal on both sides of the cut at 180 degrees
    return std::llround(turned.real() / std::abs(turned) * 1e5) * 1000003LL +
           std::llround(turned.imag() / std::abs(turned) * 1e5);
}
constexpr long long nothing = -777777;

std::uint64_t mixed(std::uint64_t hash, long long value) {
    hash ^= static_cast<std::uint64_t>(value) + 0x9e3779b97f4a7c15ULL + (hash << 6) + (hash >> 2);
    return hash * 0xff51afd7ed558ccdULL;
}
}  // namespace

std::string key_of(FieldsInHand const& fields) {
    std::string key;
    for (bool const has : {fields.line_volts, fields.volt_angles, fields.sequence, fields.lags, fields.lag_sizes,
                           fields.power_signs, fields.totals})
        key += has ? '1' : '0';
    for (bool const flows : fields.flowing) key += flows ? 'f' : 'n';
    if (fields.rotation) key += *fields.rotation == plan::Sequence::abc ? " abc" : " acb";
    return key;
}

Fingerprints::Fingerprints(Landings const& landings, plan::Nominal const& nominal, FieldsInHand const& fields,
                           std::vector<std::uint64_t>* kept)
    : landings_(landings), fields_(fields), kept_(kept) {
    if (kept_ != nullptr) kept_->resize(landings.size());
    auto const& model = landings.model;
    auto const base = fields.rotation.value_or(plan::Sequence::abc);
    auto const u = plan::source_phasors(model, nominal, base);
    std::size_t const conductors = model.live.size() == 2 ? 2 : 3;
    for (auto const& order : orders(model)) {
        bool stays = model.service == plan::Service::one_phase_two_wire;
        for (auto const rotation : possible(fields.rotation))
            stays = stays || keeps_supply(u, plan::source_phasors(model, nominal, rotation), order, conductors);
        if (!stays) continue;
        std::vector<Probe> renamed;
        for (auto const& noise : load_noise) {
            std::array<Complex, 3> current{};
            for (std::size_t c = 0; c < 3; ++c) current[c] = {noise[2 * c], noise[2 * c + 1]};
            if (model.currents_sum_to_zero) current[2] = -current[0] - current[1];
            Probe probe;
            for (std::size_t c = 0; c < 3; ++c) probe.u[c] = u[order[c]];
            for (std::size_t path = 0; path < model.live.size(); ++path)
                probe.j[path] = model.service == plan::Service::one_phase_two_wire
                                    ? current[path]
                                    : current[order[static_cast<std::size_t>(model.live[path])]];
            renamed.push_back(probe);
        }
        renamings_.push_back(std::move(renamed));
    }
}

namespace {
// What one field adds to the hash.
class Hash {
   public:
    explicit Hash(std::uint64_t start) : value_(start) {}
    void add(long long field) { value_ = mixed(value_, field); }
    [[nodiscard]] std::uint64_t value() const { return value_; }

   private:
    std::uint64_t value_;
};

constexpr long long in_one_loop = nothing - 2;

// What the elements of a wiring see of one probe.
struct ProbeSeen {
    std::array<Complex, 3> v{}, i{};
    std::array<bool, 3> volts{}, dead{}, joined{};
};

void add_powers(ProbeSeen const& seen, std::size_t elements, FieldsInHand const& fields, bool vars_turned, Hash& hash) {
    Complex total = 0.0;
    for (std::size_t k = 0; k < elements; ++k) {
        if (seen.dead[k] || seen.joined[k]) {
            hash.add(seen.dead[k] ? nothing : in_one_loop);
            continue;
        }
        if (!fields.flowing.empty() && !fields.flowing[k]) {
            hash.add(nothing + 1);
            continue;
        }
        Complex s = seen.v[k] * std::conj(seen.i[k]);
        if (vars_turned) s = std::conj(s);
        total += s;
        hash.add(rounded(std::abs(seen.i[k])));
        bool const none = std::abs(s) < 1e-9 || !seen.volts[k];
        if (fields.lags) hash.add(none ? nothing : rounded_angle(s));
        if (fields.lag_sizes) hash.add(none ? nothing : rounded(fields.power_signs ? s.real() : std::abs(s.real())));
    }
    if (!fields.totals) return;
    hash.add(rounded(total.real()));
    hash.add(rounded(total.imag()));
}
}  // namespace

std::uint64_t Fingerprints::hash_of_prediction(std::size_t hypothesis, wiring::Seen const& seen, Probe const& probe,
                                               std::uint64_t hash) const {
    auto const& model = landings_.model;
    auto const& tap = landings_.taps[landings_.tap_of[hypothesis]];
    auto const& current = landings_.currents[landings_.current_of[hypothesis]];
    auto const& ratio = landings_.ratios[landings_.ratio_of[hypothesis]];
    Hash fields(hash);
    // A floating common point may stand anywhere, so a lost neutral predicts other volts than a landed one.
    // So does a star point that floats with the supply's neutral, and it takes the currents with it.
    fields.add((model.has_neutral && tap.neutral == Touch::lost ? 1 : 0) + (tap.supply_neutral_broken ? 2 : 0));
    ProbeSeen shown;
    std::optional<Complex> zero;
    for (std::size_t k = 0; k < seen.elements; ++k) {
        for (std::size_t c = 0; c < 4; ++c) shown.v[k] += seen.voltage[k][c] * probe.u[c];
        shown.volts[k] = !seen.voltage_lost[k] && std::abs(shown.v[k]) >= 1e-9;
        fields.add(shown.volts[k] ? rounded(std::abs(shown.v[k])) : nothing);
        if (shown.volts[k] && !zero) zero = shown.v[k];
        if (fields_.volt_angles) fields.add(shown.volts[k] ? rounded_angle(shown.v[k] / *zero) : nothing);
        int const input = model.elements[k].current_input;
        if (input < 0) continue;
        auto const at = static_cast<std::size_t>(input);
        shown.dead[k] = current.path[at] == dead_path;
        shown.joined[k] = current.path[at] == crossed_path;
        if (shown.joined[k]) fields.add(current.sign[at]);
        if (current.path[at] < 0) continue;
        shown.i[k] = static_cast<double>(current.sign[at]) * ratio[at] * probe.j[static_cast<std::size_t>(current.path[at])];
        if (current.coil) shown.i[k] *= Complex{0.0, 1.0};
    }
    for (std::size_t k = 0; k < seen.elements; ++k)
        if (model.elements[k].current_input == plan::derived_current)
            for (std::size_t other = 0; other < seen.elements; ++other)
                if (other != k) shown.i[k] -= shown.i[other];
    add_powers(shown, seen.elements, fields_, current.vars_turned, fields);
    auto const at = potentials_of(tap, model, probe.u);
    if (fields_.line_volts)
        for (auto const& [one, other] : model.line_pairs) {
            auto const& a = at[static_cast<std::size_t>(one)];
            auto const& b = at[static_cast<std::size_t>(other)];
            fields.add(a && b ? rounded(std::abs(*a - *b)) : nothing);
        }
    if (fields_.sequence && !fields_.volt_angles) {
        auto const sequence = sequence_of(at, model, 1e-9);
        fields.add(!sequence ? nothing : *sequence == plan::Sequence::abc ? 1 : 2);
    }
    return fields.value();
}

std::uint64_t Fingerprints::without_pins(std::size_t hypothesis) const {
    if (kept_ != nullptr && (*kept_)[hypothesis] != 0) return (*kept_)[hypothesis];
    auto const seen = wiring::seen_by(wiring_of(landings_, hypothesis), landings_.model);
    std::uint64_t least = ~std::uint64_t{0};
    for (auto const& renaming : renamings_) {
        std::uint64_t hash = 0x243f6a8885a308d3ULL;
        for (auto const& probe : renaming) hash = hash_of_prediction(hypothesis, seen, probe, hash);
        least = std::min(least, hash);
    }
    if (kept_ != nullptr) (*kept_)[hypothesis] = least;
    return least;
}

std::uint64_t Fingerprints::of(std::size_t hypothesis) const {
    auto hash = without_pins(hypothesis);
    if (fields_.pinned)
        for (auto const field : fields_.pinned(hypothesis)) hash = mixed(hash, field);
    return hash;
}

std::vector<HypothesisClass> classes_of(Landings const& landings, std::vector<double> const& probability,
                                        Fingerprints const& fingerprints, Fingerprints const& complete,
                                        double listed_sum) {
    // Only what can matter is put in order.
    constexpr std::size_t most = 4000;
    double const least = 1e-9;
    std::vector<std::size_t> order;
    for (std::size_t h = 0; h < landings.size(); ++h)
        if (probability[h] > least) order.push_back(h);
    auto const head = static_cast<std::ptrdiff_t>(std::min(most, order.size()));
    auto const likelier = [&](std::size_t a, std::size_t b) {
        return probability[a] != probability[b] ? probability[a] > probability[b] : a < b;
    };
    std::partial_sort(order.begin(), order.begin() + head, order.end(), likelier);
    std::vector<HypothesisClass> classes;
    std::unordered_map<std::uint64_t, std::size_t> known;
    double covered = 0.0;
    double const enough = 1.0 - 0.2 * (1.0 - listed_sum);
    auto const take = [&](std::size_t h) {
        auto const [entry, is_new] = known.try_emplace(fingerprints.of(h), classes.size());
        if (is_new) classes.emplace_back();
        auto& owner = classes[entry->second];
        owner.probability += probability[h];
        owner.members.push_back(h);
        owner.as_planned = owner.as_planned || h == landings.planned;
    };
    bool planned_met = false;
    for (std::ptrdiff_t n = 0; n < head && covered < enough; ++n) {
        auto const h = order[static_cast<std::size_t>(n)];
        take(h);
        planned_met = planned_met || h == landings.planned;
        covered += probability[h];
    }
    if (!planned_met) {
        // The planned wiring may be an unlikely member of a likely class, which must know it.
        auto const entry = known.find(fingerprints.of(landings.planned));
        if (entry != known.end()) {
            classes[entry->second].members.push_back(landings.planned);
            classes[entry->second].as_planned = true;
            classes[entry->second].probability += probability[landings.planned];
        }
    }
    auto const plan_itself = complete.of(landings.planned);
    for (auto& found : classes)
        if (found.as_planned)
            for (auto const h : found.members)
                if (complete.of(h) == plan_itself) found.harmless += probability[h];
    std::ranges::stable_sort(classes, std::greater{}, &HypothesisClass::probability);
    return classes;
}

}  // namespace phasewright::diagnosis
