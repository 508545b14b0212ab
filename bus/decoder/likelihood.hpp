// How well a number fits a place: the logarithm of how much likelier the bits of a field are if it shows this quantity
// than if it were any register. docs/reference/decoder.md has the densities and where they come from.
//   log odds of a field = ln( (1 - e) * density(value) * step / background(bits) + e )
// e is the share of fields that hold something else after all, so that one odd phase costs no more than ln e.
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "bus/decoder/quantities.hpp"
#include "core/plan/service.hpp"

namespace phasewright::decoder {

inline constexpr std::size_t most_phases = 3;

// What is known before the dump is looked at.
struct Expected {
    plan::Nominal nominal;
    std::size_t phases = 3;
    std::optional<std::pair<double, double>> current_a;  // between these, when somebody looked at a clamp
};

// What one field shows in one dump.
struct Shown {
    enum class State : std::uint8_t { absent, nothing, number };  // no register; a value that means "no value"
    State state = State::absent;
    bool repeated = false;  // the same bits as in the dump before
    double value = 0.0;     // SI
    double step = 0.0;      // SI: what the last bit is worth
    double grain = 0.0;     // SI: the stretch of numbers that this one stands for; of a round number in floating point more
    double log_background = 0.0;
};
using Row = std::array<Shown, most_phases>;  // a single number stands in the first place
struct Rows {
    std::vector<Row> dumps;
};

// Everything that has been given a meaning so far.
struct Picture {
    Expected expected;
    std::vector<std::optional<double>> time_s;  // of each dump
    std::array<std::optional<Rows>, quantity_count> rows;
};

// ln of the probability that a register which means nothing in particular holds these 16 bits.
[[nodiscard]] double log_background(std::uint16_t word);
// The same in a later dump: registers that mean nothing mostly stand still, word by word.
[[nodiscard]] double log_background(std::uint16_t word, bool seen_before, bool still);

// The log odds of the rows if they are this quantity, given the rest of the picture.
[[nodiscard]] double log_odds(Quantity quantity, Rows const& rows, Picture const& picture);
// What the rest of the picture says that this number should be; empty when it says nothing exact.
[[nodiscard]] std::optional<double> told_by_others(Quantity quantity, Picture const& picture, std::size_t dump,
                                                   std::size_t phase);
[[nodiscard]] std::optional<double> number_in(Picture const& picture, Quantity quantity, std::size_t dump,
                                              std::size_t phase);

}  // namespace phasewright::decoder
