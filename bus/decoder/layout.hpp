// A layout under construction: which registers have been given a meaning, and what the rest could still be.
#pragma once
#include <functional>
#include <vector>

#include "bus/decoder/bench.hpp"
#include "bus/decoder/priors.hpp"

namespace phasewright::decoder {

inline constexpr std::array both_functions{codec::Function::read_holding_registers,
                                           codec::Function::read_input_registers};

[[nodiscard]] double power_of_ten(int exponent);
// What the placed quantity shows in every dump.
[[nodiscard]] Rows rows_of(Deck const& deck, Placed const& placed);
void read_rows(Deck const& deck, Placed const& placed, Rows& rows);  // the same into rows that are there already
// Of its power of ten: the quantity's usual ones, or that of its family once a member has a place.
[[nodiscard]] double log_prior_of_scale(Placed const& placed, std::span<Placed const> before);
[[nodiscard]] Picture empty_picture(Deck const& deck, Expected const& expected);

class Draft {
public:
    Draft(Deck const& deck, Expected const& expected);

    void place(Placed placed);
    void add(double log_odds) { layout_.log_odds += log_odds; }
    // Looks for the best place for a quantity, given all that is placed; places it when that says more than leaving
    // the registers unexplained, and keeps the rivals.
    void look_for(Quantity quantity);

    [[nodiscard]] bool is_free(Placed const& placed) const;
    [[nodiscard]] double log_prior(Placed const& placed) const;  // of its place, type and scale
    [[nodiscard]] Picture const& picture() const { return picture_; }
    [[nodiscard]] Layout const& layout() const { return layout_; }
    // Every place in the layout's word and byte order where a quantity could begin; `word_order` serves 16-bit layouts.
    void each_place(Quantity quantity, std::function<void(Placed const&, Deck::Line const&, int)> const& see) const;
    void set_word_order(profile::Order words) { words_ = words; }
    [[nodiscard]] profile::Order word_order() const { return words_; }

private:
    [[nodiscard]] std::vector<profile::ValueType> types_for(Quantity quantity) const;
    [[nodiscard]] std::vector<unsigned> strides_for(Quantity quantity, profile::ValueType type) const;
    [[nodiscard]] std::vector<Placed> candidates(Quantity quantity) const;
    void measure_gaps();

    Deck const* deck_;
    Picture picture_;
    Layout layout_;
    profile::Order words_ = profile::Order::high_first;
    std::array<std::vector<bool>, 2> taken_;      // by function and place
    std::array<std::vector<unsigned>, 2> gaps_;   // registers to the nearest one that is taken
};

}  // namespace phasewright::decoder
