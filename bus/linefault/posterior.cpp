#include "bus/linefault/posterior.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace phasewright::linefault {

namespace {
constexpr auto none = LineFault::device_dead;  // stands for "no such fault" where a device's fault cannot stand
constexpr double never = -std::numeric_limits<double>::infinity();

constexpr LineFault line_faults[] = {none, LineFault::wrong_format, LineFault::supply_off, LineFault::gaps_too_short,
                                     LineFault::another_master, LineFault::adapter_echo, LineFault::something_else};
constexpr std::size_t kinds_of_line = std::size(line_faults);

// How an electrical fault shows in bytes: the same chances for every one of them. Common practice, no source: most
// lines work with a wrong dress, at low speed and over short ways, until one day they do not.
constexpr std::size_t kinds_of_severity = 5;
constexpr double severity_weight[] = {0.42, 0.28, 0.14, 0.09, 0.07};
constexpr Behaviour disturbed_by[] = {Behaviour::ok, Behaviour::mildly_disturbed, Behaviour::strongly_disturbed,
                                      Behaviour::drowned, Behaviour::left_idle};

constexpr double other_format_is_right = 1.0 / 6.0;  // of a mismatched device, that the other format tried is its own
constexpr double answers_in_two_formats = 0.002;
constexpr double found_where_searched = 0.95;  // a device at another address, by a search of all
constexpr double stranger_anyway = 0.05;       // a device that the plan does not have

double log_sum(std::vector<double> const& logs) {
    double const most = *std::max_element(logs.begin(), logs.end());
    if (most == never) return never;
    double sum = 0.0;
    for (double const one : logs) sum += std::exp(one - most);
    return most + std::log(sum);
}

// What came from one device.
struct OfDevice {
    Counts counts{};
    int good_elsewhere = 0, silent_elsewhere = 0;  // in another format
};

std::vector<OfDevice> by_device(Evidence const& evidence) {
    std::vector<OfDevice> all(evidence.devices.size());
    for (auto const& one : evidence.tries) {
        if (one.device >= all.size()) continue;
        auto& device = all[one.device];
        if (!one.other_format)
            ++device.counts[static_cast<std::size_t>(one.came)];
        else if (one.came == Came::good || one.came == Came::late)
            ++device.good_elsewhere;
        else
            ++device.silent_elsewhere;
    }
    return all;
}

// Tries in another format: only a mismatched device answers there, and only if that format is its own.
double log_elsewhere(OfDevice const& device, bool mismatched) {
    if (device.good_elsewhere > 0)
        return mismatched ? std::log(other_format_is_right) : std::log(answers_in_two_formats);
    if (device.silent_elsewhere == 0) return 0.0;
    return mismatched ? std::log(1.0 - other_format_is_right) : 0.0;
}

Behaviour undisturbed(LineFault line, std::size_t severity) {
    switch (line) {
        case LineFault::wrong_format: return Behaviour::mismatched;
        case LineFault::supply_off: return Behaviour::silent;
        case LineFault::gaps_too_short: return Behaviour::short_of_gaps;
        case LineFault::another_master: return Behaviour::under_two_masters;
        case LineFault::something_else: return Behaviour::anything;
        default: return disturbed_by[severity];
    }
}

double log_of_search(Evidence const& evidence, bool wrong_address) {
    if (!evidence.strangers || !wrong_address) return 0.0;
    return evidence.strangers->empty() ? std::log(1.0 - found_where_searched)
                                       : std::log(found_where_searched / stranger_anyway);
}

double log_of_line(Evidence const& evidence, LineFault line) {
    double sum = 0.0;
    for (auto const& one : evidence.tries) {
        double const echo = line == LineFault::adapter_echo ? 0.98 : line == LineFault::something_else ? 0.2 : 0.002;
        sum += std::log(one.echoed ? echo : 1.0 - echo);
    }
    if (evidence.heard_before) {
        double const heard = line == LineFault::another_master ? 0.9 : line == LineFault::something_else ? 0.2 : 0.01;
        sum += std::log(*evidence.heard_before ? heard : 1.0 - heard);
    }
    return sum;
}

// An unknown cause may do the same to every device, or to each something else; how much more the first explains.
double log_of_one_pattern(std::vector<OfDevice> const& tries) {
    Counts all{};
    double apart = 0.0;
    for (auto const& device : tries) {
        for (std::size_t kind = 0; kind < all.size(); ++kind) all[kind] += device.counts[kind];
        apart += log_likelihood(Behaviour::anything, device.counts);
    }
    return log_sum({std::log(0.5), std::log(0.5) + log_likelihood(Behaviour::anything, all) - apart});
}

double prior_of(Priors::Line const& priors, LineFault line) {
    switch (line) {
        case LineFault::wrong_format: return priors.wrong_format;
        case LineFault::supply_off: return priors.supply_off;
        case LineFault::gaps_too_short: return priors.gaps_too_short;
        case LineFault::another_master: return priors.another_master;
        case LineFault::adapter_echo: return priors.adapter_echo;
        case LineFault::something_else: return priors.something_else;
        default:
            return 1.0 - priors.wrong_format - priors.supply_off - priors.gaps_too_short - priors.another_master -
                   priors.adapter_echo - priors.something_else;
    }
}

std::array<double, kinds_of_device_state> device_priors(Priors::Device const& priors) {
    double const faulty = priors.dead + priors.wrong_address + priors.wrong_format + priors.drop_crossed + priors.slow +
                          priors.duplicate_by_stranger + priors.something_else;
    return {1.0 - faulty,        priors.dead, priors.wrong_address, priors.wrong_format,
            priors.drop_crossed, priors.slow, priors.duplicate_by_stranger, priors.something_else};
}
}  // namespace

template <class Sums>
double Posterior::over_free(TrunkState const& trunk, Sums const& sums) const {
    auto const at = [&](int place) { return sums[static_cast<std::size_t>(place)]; };
    int const last = static_cast<int>(count_);
    if (trunk.kind == LineFault::crossed_twice) return at(trunk.after) + at(last) - at(trunk.until);
    return is_of_trunk(trunk.kind) ? at(trunk.after) : at(last);
}

void Posterior::list_trunks(Priors const& priors, bool ordered) {
    int const count = static_cast<int>(count_);
    double const joints = std::max(1, count - 1);
    // Of an unknown order only this is known: that just these devices are the last ones has one chance in all choices.
    auto const chance = [&](int after) {
        double log = 0.0;
        if (!ordered)
            for (int i = 0; i < after; ++i) log += std::log((i + 1.0) / (count - i));
        return log;
    };
    auto const& trunk = priors.trunk;
    double const twice = ordered && count >= 2 && count <= 48 ? trunk.crossed_twice : 0.0;
    double const at_joints = count >= 2 ? 1.0 : 0.0;
    double const sum = trunk.crossed_at_head + trunk.broken_at_head + trunk.half_broken +
                       at_joints * (trunk.crossed_at_a_joint + trunk.broken_at_a_joint) + twice;
    trunks_.push_back({{}, std::log(1.0 - sum)});
    for (int after = 0; after < count; ++after) {
        double const crossed = after == 0 ? trunk.crossed_at_head : trunk.crossed_at_a_joint / joints;
        double const broken = after == 0 ? trunk.broken_at_head : trunk.broken_at_a_joint / joints;
        double const log_order = chance(after);
        trunks_.push_back({{LineFault::crossed, after, -1}, std::log(crossed) + log_order});
        trunks_.push_back({{LineFault::broken, after, -1}, std::log(broken) + log_order});
        trunks_.push_back({{LineFault::half_broken, after, -1}, std::log(trunk.half_broken / count) + log_order});
    }
    if (twice <= 0.0) return;
    double const pairs = 0.5 * count * (count - 1);
    for (int after = 0; after < count; ++after)
        for (int until = after + 1; until < count; ++until)
            trunks_.push_back({{LineFault::crossed_twice, after, until}, std::log(twice / pairs)});
}

void Posterior::make_mixes(Evidence const& evidence, Priors const& priors) {
    auto const tries = by_device(evidence);
    auto const prior = device_priors(priors.device);
    for (auto const line : line_faults)
        for (std::size_t severity = 0; severity < kinds_of_severity; ++severity) {
            Mix mix;
            mix.log_line = std::log(prior_of(priors.line, line)) + log_of_line(evidence, line);
            mix.pairs = count_ >= 2 && (line == none || line == LineFault::adapter_echo);
            auto const usual = undisturbed(line, severity);
            bool const whole = line == LineFault::wrong_format;
            for (auto const& device : tries) {
                auto const says = [&](Behaviour behaviour, bool mismatched) {
                    return log_likelihood(behaviour, device.counts) + log_elsewhere(device, mismatched);
                };
                double const silent = says(Behaviour::silent, false);
                double const log_ok = says(usual, whole);
                double const log_moved = silent + log_of_search(evidence, true);
                bool const by_itself = line != LineFault::something_else && line != LineFault::supply_off;
                std::array<double, kinds_of_device_state> log_state{
                    log_ok,
                    silent,
                    log_moved,
                    says(Behaviour::mismatched, true),
                    silent,
                    says(Behaviour::slow, whole),
                    says(Behaviour::two_at_once, whole),
                    says(Behaviour::anything, whole)};
                for (std::size_t state = 0; state < kinds_of_device_state; ++state)
                    log_state[state] = std::log(prior[state]) + (by_itself ? log_state[state] : log_ok);
                double const log_free = log_sum({log_state.begin(), log_state.end()});
                mix.log_free.push_back(log_free);
                mix.log_state.push_back(log_state);
                mix.shared.push_back(std::exp(says(Behaviour::two_at_once, false) - log_free));
                mix.moved.push_back(std::exp(silent - log_free));
            }
            if (line == LineFault::something_else) mix.log_line += log_of_one_pattern(tries);
            mix.sum_free = mix.sum_shared = mix.sum_moved = mix.sum_both = {0.0};
            for (std::size_t i = 0; i < count_; ++i) {
                mix.sum_free.push_back(mix.sum_free.back() + mix.log_free[i]);
                mix.sum_shared.push_back(mix.sum_shared.back() + mix.shared[i]);
                mix.sum_moved.push_back(mix.sum_moved.back() + mix.moved[i]);
                mix.sum_both.push_back(mix.sum_both.back() + mix.shared[i] * mix.moved[i]);
            }
            mixes_.push_back(std::move(mix));
        }
    constexpr Behaviour behind[] = {Behaviour::behind_crossing, Behaviour::silent, Behaviour::behind_half_break};
    for (std::size_t kind = 0; kind < 3; ++kind) {
        sum_cut_[kind] = {0.0};
        for (auto const& device : tries)
            sum_cut_[kind].push_back(sum_cut_[kind].back() + log_likelihood(behind[kind], device.counts) +
                                     log_elsewhere(device, false));
    }
}

Posterior::PairSums Posterior::pair_sums(std::size_t trunk, Mix const& mix) const {
    auto const& state = trunks_[trunk].state;
    return {over_free(state, mix.sum_shared), over_free(state, mix.sum_moved), over_free(state, mix.sum_both)};
}

double Posterior::log_bytes(std::size_t trunk, std::size_t mix_at) const {
    auto const& [state, log_prior] = trunks_[trunk];
    auto const& mix = mixes_[mix_at];
    double sum = log_prior + mix.log_line + over_free(state, mix.sum_free);
    if (is_of_trunk(state.kind)) {
        auto const kind = state.kind == LineFault::broken ? 1U : state.kind == LineFault::half_broken ? 2U : 0U;
        auto const& cut = sum_cut_[kind];
        sum += cut[state.kind == LineFault::crossed_twice ? static_cast<std::size_t>(state.until) : count_] -
               cut[static_cast<std::size_t>(state.after)];
    }
    if (mix.pairs) sum += std::log(no_pair_prior_ + pair_prior_ * std::max(0.0, pair_sums(trunk, mix).pairs()));
    return sum;
}

std::size_t Posterior::mix_of(Case const& one) const { return one.line * kinds_of_severity + one.severity; }

Posterior::Posterior(Evidence const& evidence, bool ordered, Priors const& priors) : count_(evidence.devices.size()) {
    if (count_ >= 2) {
        pair_prior_ = priors.duplicate_by_planned / static_cast<double>(count_ * (count_ - 1));
        no_pair_prior_ = 1.0 - priors.duplicate_by_planned;
    }
    list_trunks(priors, ordered);
    make_mixes(evidence, priors);
    weigh(evidence, priors);
    sum_marginals(priors);
}

void Posterior::weigh(Evidence const& evidence, Priors const& priors) {
    auto const electrical = electrical_priors(priors);
    double faulty = 0.0;
    for (auto const& one : electrical) faulty += one.probability;
    std::vector<double> logs;
    for (std::size_t trunk = 0; trunk < trunks_.size(); ++trunk) {
        std::vector<double> by_hand;  // 0: no electrical fault
        auto const measured = [&](LineFault fault) {
            return log_likelihood(evidence.by_hand, trunks_[trunk].state, fault, count_, evidence.length_m);
        };
        by_hand.push_back(std::log(1.0 - faulty) + measured(LineFault::something_else));
        for (auto const& one : electrical) by_hand.push_back(std::log(one.probability) + measured(one.fault));
        for (std::size_t line = 0; line < kinds_of_line; ++line) {
            // Where nothing is understood, no trunk fault is either.
            if (line_faults[line] == LineFault::something_else && trunk > 0) continue;
            for (std::size_t severity = 0; severity < kinds_of_severity; ++severity) {
                double const bytes = log_bytes(trunk, line * kinds_of_severity + severity);
                for (std::size_t at = 0; at < by_hand.size(); ++at) {
                    if (at == 0 && severity > 0) continue;
                    cases_.push_back({trunk, line, severity, at, 0.0});
                    logs.push_back(bytes + by_hand[at] + (at == 0 ? 0.0 : std::log(severity_weight[severity])));
                }
            }
        }
    }
    double const all = log_sum(logs);
    for (std::size_t i = 0; i < cases_.size(); ++i) cases_[i].weight = std::exp(logs[i] - all);
}

void Posterior::sum_marginals(Priors const& priors) {
    auto const electrical = electrical_priors(priors);
    moved_.assign(count_, 0.0);
    std::vector<double> weights(trunks_.size() * mixes_.size(), 0.0);  // by trunk and mix
    for (auto const& one : cases_) {
        auto const& state = trunks_[one.trunk].state;
        if (is_of_trunk(state.kind))
            marginals_[{.kind = state.kind, .after = state.after, .until = state.until}] += one.weight;
        if (one.line > 0) marginals_[{.kind = line_faults[one.line]}] += one.weight;
        if (one.electrical > 0) {
            marginals_[{.kind = electrical[one.electrical - 1].fault}] += one.weight;
            electrical_ += one.weight;
        }
        weights[one.trunk * mixes_.size() + mix_of(one)] += one.weight;
        if (one.trunk > 0 || one.line > 0 || one.electrical > 0) continue;
        auto const& mix = mixes_[mix_of(one)];
        double log_ok = 0.0;
        for (auto const& device : mix.log_state) log_ok += device[0];
        double const pairs = mix.pairs ? std::log1p(pair_prior_ / no_pair_prior_ * std::max(0.0, pair_sums(0, mix).pairs())) : 0.0;
        healthy_ = one.weight * std::exp(log_ok - mix.sum_free.back() - pairs);
    }
    sum_devices(weights);
}

void Posterior::sum_devices(std::vector<double> const& weights) {
    constexpr LineFault named[] = {none, LineFault::device_dead, LineFault::wrong_address, LineFault::device_wrong_format,
                                   LineFault::drop_crossed, LineFault::device_slow, LineFault::duplicate_address,
                                   LineFault::device_something_else};
    std::vector<std::array<double, kinds_of_device_state>> sums(count_);
    std::vector<double> shared(count_, 0.0);
    for (std::size_t trunk = 0; trunk < trunks_.size(); ++trunk)
        for (std::size_t at = 0; at < mixes_.size(); ++at) {
            double const weight = weights[trunk * mixes_.size() + at];
            if (weight < 1e-9) continue;
            auto const& mix = mixes_[at];
            auto const pairs = pair_sums(trunk, mix);
            double const all = mix.pairs ? no_pair_prior_ + pair_prior_ * std::max(0.0, pairs.pairs()) : 1.0;
            World const world{.trunk = trunks_[trunk].state, .devices = {}};
            for (std::size_t i = 0; i < count_; ++i) {
                bool const cut = is_cut_off(world, i);
                double in_pair = 0.0;
                if (mix.pairs && !cut) {
                    double const as_shared = pair_prior_ * mix.shared[i] * (pairs.moved - mix.moved[i]) / all;
                    double const as_moved = pair_prior_ * mix.moved[i] * (pairs.shared - mix.shared[i]) / all;
                    shared[i] += weight * as_shared;
                    moved_[i] += weight * as_moved;
                    in_pair = as_shared + as_moved;
                }
                for (std::size_t state = 1; state < kinds_of_device_state; ++state) {
                    // Behind a cut a device says nothing about itself.
                    double const own = cut ? 0.0 : std::exp(mix.log_state[i][state] - mix.log_free[i]);
                    sums[i][state] += weight * std::max(0.0, 1.0 - in_pair) * own;
                }
            }
        }
    for (std::size_t i = 0; i < count_; ++i) {
        sums[i][static_cast<std::size_t>(DeviceState::shared_address)] += shared[i];
        sums[i][static_cast<std::size_t>(DeviceState::wrong_address)] += moved_[i];
        for (std::size_t state = 1; state < kinds_of_device_state; ++state)
            marginals_[{.kind = named[state], .device = static_cast<int>(i)}] += sums[i][state];
    }
}

namespace {
// A number from 0 to below the sum, and the place where it falls: the same on every machine.
template <class Weights>
std::size_t drawn(Weights const& weights, std::mt19937& dice) {
    double sum = 0.0;
    for (double const weight : weights) sum += weight;
    double left = sum * (static_cast<double>(dice()) / 4294967296.0);
    std::size_t at = 0;
    for (; at + 1 < weights.size(); ++at) {
        left -= weights[at];
        if (left < 0.0) break;
    }
    return at;
}
}  // namespace

std::vector<World> Posterior::draw(std::size_t count, std::uint32_t seed) const {
    std::mt19937 dice(seed);
    std::vector<double> up_to;
    double sum = 0.0;
    for (auto const& one : cases_) up_to.push_back(sum += one.weight);
    auto const electrical = electrical_priors({});
    std::vector<World> worlds;
    for (std::size_t i = 0; i < count; ++i) {
        auto const at_case = std::upper_bound(up_to.begin(), up_to.end(), sum * (static_cast<double>(dice()) / 4294967296.0));
        auto const& one = cases_[std::min<std::size_t>(static_cast<std::size_t>(at_case - up_to.begin()), cases_.size() - 1)];
        auto const& mix = mixes_[mix_of(one)];
        World world{.trunk = trunks_[one.trunk].state, .devices = std::vector(count_, DeviceState::ok)};
        world.line = line_faults[one.line];
        if (one.electrical > 0) world.electrical = electrical[one.electrical - 1].fault;
        auto const sums = pair_sums(one.trunk, mix);
        double const pairs = mix.pairs ? pair_prior_ * std::max(0.0, sums.pairs()) : 0.0;
        if (drawn(std::array{no_pair_prior_, pairs}, dice) == 1) {
            std::vector<double> first(count_, 0.0), second(count_, 0.0);
            for (std::size_t at = 0; at < count_; ++at)
                if (!is_cut_off(world, at)) first[at] = mix.shared[at] * (sums.moved - mix.moved[at]);
            world.shared = static_cast<int>(drawn(first, dice));
            for (std::size_t at = 0; at < count_; ++at)
                if (!is_cut_off(world, at) && static_cast<int>(at) != world.shared) second[at] = mix.moved[at];
            world.moved = static_cast<int>(drawn(second, dice));
        }
        for (std::size_t at = 0; at < count_; ++at) {
            if (is_cut_off(world, at) || static_cast<int>(at) == world.shared || static_cast<int>(at) == world.moved) continue;
            std::array<double, kinds_of_device_state> states{};
            for (std::size_t state = 0; state < kinds_of_device_state; ++state)
                states[state] = std::exp(mix.log_state[at][state] - mix.log_free[at]);
            world.devices[at] = static_cast<DeviceState>(drawn(states, dice));
        }
        worlds.push_back(std::move(world));
    }
    return worlds;
}

}  // namespace phasewright::linefault
