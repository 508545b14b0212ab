// One draw of everything that is not known exactly: the supply's unbalance, the errors of the CTs and of the
// meter, the load's shares and its angle. All of them stay the same over the whole period (a CT's error
// does), which makes the band as wide as it can be; what wanders from interval to interval averages out.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/correction/read_back.hpp"

namespace phasewright::correction {

namespace {
constexpr double smallest_share =
    1e-3;  // a draw that registers less says nothing; it lies far outside the band

// A negative sequence, and with a neutral a zero sequence, of random size and angle. Volts that were recorded
// against a neutral keep their sizes; the angles between them stay unknown.
plan::SourcePhasors drawn_supply(Question const& question, plan::SourcePhasors u, bool keep_sizes,
                                 Dice& dice) {
    if (question.unbalance <= 0.0) return u;
    double const each = question.unbalance / std::numbers::sqrt2;
    auto const negative = each * dice.normal_pair();
    auto const zero = each * dice.normal_pair();
    double const size = std::abs(u[static_cast<std::size_t>(question.model.live.front())]);
    for (auto const conductor : question.model.live) {
        auto& phasor = u[static_cast<std::size_t>(conductor)];
        double const before = std::abs(phasor);
        phasor += negative * std::conj(phasor);
        if (!question.model.has_neutral) continue;
        phasor += zero * size;
        if (keep_sizes) phasor *= before / std::abs(phasor);
    }
    return u;
}

// What an element's instruments make of its S.
Complex drawn_error(Classes const& classes, Dice& dice) {
    double const ct = classes.ct_size ? dice.between(*classes.ct_size) : unknown_ct_size * dice.normal();
    double const angle =
        classes.ct_angle_rad ? dice.between(*classes.ct_angle_rad) : unknown_ct_angle_rad * dice.normal();
    double const meter =
        classes.meter_size ? dice.between(*classes.meter_size) : unknown_meter_size * dice.normal();
    return (1.0 + ct) * (1.0 + meter) * std::polar(1.0, angle);
}

double drawn_from_elements(Question const& question, ReadBack const& read, Dice& dice) {
    auto const u =
        drawn_supply(question, plan::source_phasors(question.model, question.nominal, question.rotation),
                     read.used_volts, dice);
    auto const volts = volts_of(read.both, u);
    PerElement error{};
    for (std::size_t l = 0; l < read.both.seen.elements; ++l) error[l] = drawn_error(question.classes, dice);
    double shared = 1.0;
    double centre = 1.0;
    if (read.by_shares) {
        shared = centre = 0.0;
        for (auto const k : read.targets) {
            centre += question.shares->of_element[k];
            shared += question.shares->of_element[k] + question.shares->spread * dice.normal();
        }
        shared = std::max(shared, smallest_share);
    }
    double change = 0.0;
    for (auto const k : read.targets) {
        auto const row = law_row(read.both, volts, k);
        if (!row) continue;
        for (std::size_t l = 0; l < read.both.seen.elements; ++l)
            change += (((*row)[l] * error[l] - read.central.share[k][l]) * read.weighted[k][l]).real();
    }
    // What the register did not see is shared out: true_wh holds the centre of the shares already.
    return (read.true_wh * centre + change) / shared;
}

double drawn_from_totals(Question const& question, ReadBack const& read, Dice& dice) {
    auto const nominal = plan::source_phasors(question.model, question.nominal, question.rotation);
    auto const u = drawn_supply(question, nominal, false, dice);
    auto const load = load_currents(question, nominal, load_spread(question), &dice);
    auto parts = parts_of_true(read.both, volts_of(read.both, u), load);
    for (std::size_t l = 0; l < read.both.seen.elements; ++l) parts[l] /= drawn_error(question.classes, dice);
    if (read.bins.empty()) {
        auto const c = sum_of(parts);
        return (read.weighted_total / (std::abs(c) < smallest_share ? Complex{smallest_share} : c)).real();
    }
    double const turn = question.lag ? question.lag->spread_rad * dice.normal() : 0.0;
    double total = 0.0;
    for (auto const& bin : read.bins) {
        auto const share = registered_share(parts, question.kind, std::tan(bin.lag_rad + turn)).value_or(1.0);
        total += bin.wh / (std::abs(share) < smallest_share ? smallest_share : share);
    }
    return total;
}
}  // namespace

bool shares_tell_angles(plan::ServiceModel const& model) {
    return model.has_neutral && model.service != plan::Service::high_leg_delta &&
           !model.currents_sum_to_zero && model.live.size() == model.elements.size();
}

double load_spread(Question const& question) {
    constexpr double hardly_matters = 0.3;  // a common factor: how the load was spread is of no weight
    return question.balanced_within.value_or(hardly_matters);
}

LoadCurrents load_currents(Question const& question, plan::SourcePhasors const& u, double spread,
                           Dice* dice) {
    if (question.shares && shares_tell_angles(question.model)) {
        std::array<Complex, 3> shares{};
        for (std::size_t k = 0; k < question.model.live.size(); ++k) {
            shares[k] = question.shares->of_element[k];
            if (dice != nullptr) shares[k] += question.shares->spread * dice->normal_pair();
        }
        return shared_load(question.model, u, shares);
    }
    auto load = balanced_load(question.model, u);
    if (dice == nullptr) return load;
    Complex sum = 0.0;
    for (auto const conductor : question.model.live) {
        auto& current = load[static_cast<std::size_t>(conductor)];
        current *= 1.0 + spread * dice->normal_pair();
        sum += current;
    }
    if (question.model.currents_sum_to_zero)
        for (auto const conductor : question.model.live)
            load[static_cast<std::size_t>(conductor)] -=
                sum / static_cast<double>(question.model.live.size());
    return load;
}

double drawn_total(Question const& question, ReadBack const& read, Dice& dice) {
    return read.by_totals ? drawn_from_totals(question, read, dice)
                          : drawn_from_elements(question, read, dice);
}

std::vector<std::string> what_gives_lost_energy() {
    return {"the shares of the elements after the repair, over weeks like those before it (--shares)",
            "a balance against another meter that counts the same energy",
            "the history of the same load before the mistake or after the repair"};
}

}  // namespace phasewright::correction
