#include "core/plan/poll_round.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::plan {

double DeviceRound::expected_s() const {
    return alive * answering_s + (1.0 - alive) * silent_s / std::max(1, asked_every);
}

TimedRead timed(RegisterRun const& run, SerialFormat const& format, double answer_delay_s) {
    double const character = character_s(format);
    double const silence = silence_between_s(format);
    return {.run = run,
            .silence_s = silence,
            .question_s = question_bytes * character,
            .delay_s = std::max(silence, answer_delay_s),
            .answer_s = (answer_overhead_bytes + 2 * run.count) * character};
}

ReadCost cost_on(SerialFormat const& format, double answer_delay_s) {
    return {.question = timed({3, 0, 0}, format, answer_delay_s).total_s(),
            .per_register = 2.0 * character_s(format)};
}

double silent_try_s(SerialFormat const& format, double answer_timeout_s) {
    return question_bytes * character_s(format) + std::max(silence_between_s(format), answer_timeout_s);
}

namespace {

DeviceRound round_of(PollDevice const& device, SerialFormat const& format) {
    DeviceRound round{.id = device.id,
                      .unit = device.unit,
                      .alive = std::clamp(device.alive, 0.0, 1.0),
                      .asked_every = std::max(1, device.asked_every)};
    for (auto const& run : grouped(device.wanted, device.limits, cost_on(format, device.answer_delay_s))) {
        round.reads.push_back(timed(run, format, device.answer_delay_s));
        round.fetched_registers += run.count;
        round.answering_s += round.reads.back().total_s();
    }
    // Cut into single registers, so that one that is wanted twice is counted once.
    round.wanted_registers = registers_in(grouped(device.wanted, {.longest_read = 1}, fewest_questions));
    // A meter that leaves its first question unanswered is not asked the others.
    if (!round.reads.empty())
        round.silent_s = silence_between_s(format) +
                         std::max(1, device.tries) * silent_try_s(format, device.answer_timeout_s);
    return round;
}

}  // namespace

PollRound poll_round(SerialFormat const& format, std::vector<PollDevice> const& devices) {
    PollRound round{.format = format, .devices = {}};
    for (auto const& device : devices) {
        auto one = round_of(device, format);
        round.all_answer_s += one.answering_s;
        round.expected_s += one.expected_s();
        round.longest_s += one.alive < 1.0 ? std::max(one.silent_s, one.answering_s) : one.answering_s;
        round.reads += static_cast<int>(one.reads.size());
        for (auto const& read : one.reads) round.wire_s += read.question_s + read.answer_s;
        round.devices.push_back(std::move(one));
    }
    return round;
}

std::vector<SpeedFit> speeds(SerialFormat const& format, std::vector<PollDevice> const& devices,
                             double interval_s) {
    std::vector<int> rates(usual_bit_rates.begin(), usual_bit_rates.end());
    if (std::ranges::find(rates, format.bit_rate) == rates.end()) rates.push_back(format.bit_rate);
    std::ranges::sort(rates);
    std::vector<SpeedFit> fits;
    for (int const rate : rates) {
        SpeedFit fit{.format = format, .round = {}};
        fit.format.bit_rate = rate;
        fit.round = poll_round(fit.format, devices);
        double const needed = fit.round.expected_s;
        fit.fits = needed <= interval_s;
        fit.busy_share = interval_s > 0.0 ? needed / interval_s : 0.0;
        fit.least_interval_s = std::max(1, static_cast<int>(std::ceil(needed)));
        fits.push_back(std::move(fit));
    }
    return fits;
}

std::string words_of(std::vector<SpeedFit> const& speeds, SerialFormat const& own, double interval_s) {
    auto const rounded = [](double seconds) {
        return quantity::fixed(seconds, seconds < 0.95 ? 2 : 1) + " s";
    };
    auto const here = std::ranges::find(speeds, own, &SpeedFit::format);
    if (here == speeds.end()) return {};
    auto const rate = [](SpeedFit const& fit) { return std::to_string(fit.format.bit_rate); };
    std::string text =
        "at " + rate(*here) + " this line needs " + rounded(here->round.expected_s) + " a round";
    auto const next =
        std::ranges::find_if(speeds, [&](auto const& fit) { return fit.format.bit_rate > own.bit_rate; });
    if (next != speeds.end()) text += "; " + rate(*next) + ": " + rounded(next->round.expected_s);
    std::string const interval = "; a " + quantity::shortest(interval_s) + " s interval ";
    auto const slowest = std::ranges::find_if(speeds, &SpeedFit::fits);
    if (slowest == speeds.end()) return text + interval + "fits at no speed up to " + rate(speeds.back());
    if (slowest->format.bit_rate <= own.bit_rate) {
        text += interval + "fits at " + rate(*here);
        if (slowest != here) text += ", and from " + rate(*slowest) + " on";
        return text;
    }
    return text + interval + "fits at " + rate(*slowest) + " and not at " + rate(*(slowest - 1));
}

}  // namespace phasewright::plan
