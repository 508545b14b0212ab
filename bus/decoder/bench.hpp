// The decoder bench: registers that nobody has described, and what they most likely mean. A structured search places
// the quantities that hang together, scores every placement by its log odds against "any register" and keeps several
// whole layouts, so that what cannot be told apart is said as such. docs/reference/decoder.md says how it thinks.
#pragma once
#include <span>
#include <string>
#include <vector>

#include "bus/decoder/deck.hpp"

namespace phasewright::decoder {

// One quantity at one place in one format.   value in SI = raw * 10^exponent
struct Placed {
    Quantity quantity = Quantity::v;
    codec::Function function = codec::Function::read_holding_registers;
    Format format;
    int exponent = 0;
    std::vector<std::uint16_t> addresses;  // one a phase, or one
    double gain = 0.0;                     // what it adds to the log odds, ln of its prior included
    double local = 1.0;                    // its share among the places for this quantity, all else as it is
};
[[nodiscard]] bool reads_the_same(Placed const& a, Placed const& b);

struct Layout {
    std::vector<Placed> placed;
    std::vector<Placed> rivals;  // other places for quantities of this layout, with their local shares
    double log_odds = 0.0;
    double probability = 0.0;  // among the layouts found
};

struct Rival {
    Placed placed;
    double probability = 0.0;
};
struct FoundField {
    Placed placed;
    double probability = 0.0;           // over all layouts
    std::vector<Rival> rivals;          // the same quantity read otherwise, likeliest first
    std::vector<Row> shown;             // in each dump
    std::string why;                    // one sentence
};
struct Decoding {
    std::vector<FoundField> fields;      // of the likeliest layout, in the order of the quantities
    std::vector<Layout> layouts;         // likeliest first
    std::vector<std::string> doubts;     // what cannot be told, and what to measure or which load to switch
    std::size_t registers = 0;           // in the dump
    std::size_t explained = 0;           // of them have a meaning in the likeliest layout
};

[[nodiscard]] Decoding decode_dumps(std::span<Dump const> dumps, Expected const& expected);
[[nodiscard]] Placed const* placed_in(Layout const& layout, Quantity quantity);

}  // namespace phasewright::decoder
