#include "bus/decoder/likelihood.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "bus/decoder/relations.hpp"

namespace phasewright::decoder {

namespace {

constexpr double stray = 0.02;          // a field that holds something else after all
constexpr double nothing_cost = -0.5;   // "no value" says next to nothing
constexpr double still_here = 0.3;      // a live number that did not move between two dumps
constexpr double still_anywhere = 0.6;  // any register that did not move

double log_sum(double a, double b) {
    double const most = std::max(a, b);
    return most + std::log(std::exp(a - most) + std::exp(b - most));
}

double log_odds_of(Shown const& shown, double log_density, bool counter) {
    if (shown.state == Shown::State::absent) return -4.0;
    if (shown.state == Shown::State::nothing) return nothing_cost;
    if (!(shown.grain > 1e-300) || std::isnan(log_density)) return std::log(stray);
    double here = std::min(log_density + std::log(shown.grain), 0.0);
    double const anywhere = shown.log_background;
    // A register that stands still from dump to dump is no new witness, for the quantity or against it.
    if (shown.repeated) {
        if (!counter) here = log_sum(std::log(still_here), std::log1p(-still_here) + here);
    }
    return log_sum(std::log1p(-stray) + here - anywhere, std::log(stray));
}

}  // namespace

double log_background(std::uint16_t word) {
    // A register that means nothing in particular: empty, an end of its range, a small number more often than a large
    // one, or any bits at all.
    constexpr double zero = 0.2;
    constexpr double end = 0.02;
    constexpr double sized = 0.35;
    double probability = (1.0 - zero - 3.0 * end - sized) / 65536.0;
    if (word == 0) probability += zero;
    if (word == 0xFFFF || word == 0x8000 || word == 0x7FFF) probability += end;
    int const size = word < 0x8000 ? word : 0x10000 - word;  // a number near zero from below is a small one too
    if (size > 0) probability += 0.5 * sized / (size * std::log(32768.0) + 1.0);
    return std::log(probability);
}

double log_background(std::uint16_t word, bool seen_before, bool still) {
    if (!seen_before) return log_background(word);
    return still ? std::log(still_anywhere) : std::log1p(-still_anywhere) + log_background(word);
}

std::optional<double> number_in(Picture const& picture, Quantity quantity, std::size_t dump, std::size_t phase) {
    auto const& rows = picture.rows.at(index_of(quantity));
    if (!rows || dump >= rows->dumps.size()) return std::nullopt;
    auto const& shown = rows->dumps[dump].at(phase);
    if (shown.state != Shown::State::number) return std::nullopt;
    return shown.value;
}

double log_odds(Quantity quantity, Rows const& rows, Picture const& picture) {
    std::size_t const fields = is_per_phase(quantity) ? fields_of(quantity, picture.expected.phases) : 1;
    double sum = 0.0;
    for (std::size_t dump = 0; dump < rows.dumps.size(); ++dump) {
        for (std::size_t phase = 0; phase < fields; ++phase) {
            auto const& shown = rows.dumps[dump].at(phase);
            double const density =
                shown.state == Shown::State::number ? log_density(quantity, rows, picture, dump, phase) : 0.0;
            sum += log_odds_of(shown, density, is_counter(quantity));
        }
    }
    return sum;
}

}  // namespace phasewright::decoder
