#include <algorithm>
#include <cmath>

#include "bus/decoder/words.hpp"

namespace phasewright::decoder {

namespace {

void count(std::vector<Rival>& tally, Placed const& placed, double probability) {
    auto const known =
        std::ranges::find_if(tally, [&](Rival const& other) { return reads_the_same(other.placed, placed); });
    if (known == tally.end()) {
        tally.push_back({placed, probability});
    } else {
        known->probability += probability;
    }
}

std::vector<Rival> tallied(std::vector<Layout> const& layouts) {
    std::vector<Rival> tally;
    for (auto const& layout : layouts) {
        for (auto const& placed : layout.placed) count(tally, placed, layout.probability * placed.local);
        for (auto const& rival : layout.rivals) count(tally, rival, layout.probability * rival.local);
    }
    std::ranges::stable_sort(tally, std::ranges::greater{}, &Rival::probability);
    return tally;
}

std::size_t explained_by(Layout const& layout) {
    std::size_t sum = 0;
    for (auto const& placed : layout.placed)
        sum += placed.addresses.size() * static_cast<std::size_t>(profile::registers_of(placed.format.type));
    return sum;
}

}  // namespace

Decoding described(Deck const& deck, Expected const& expected, std::vector<Layout> layouts) {
    Decoding decoding;
    decoding.layouts = std::move(layouts);
    for (auto const function : both_functions) decoding.registers += deck.addresses(function).size();
    auto picture = empty_picture(deck, expected);
    if (decoding.layouts.empty()) {
        decoding.doubts = doubts_of(decoding, picture);
        return decoding;
    }
    auto const& best = decoding.layouts.front();
    decoding.explained = explained_by(best);
    for (auto const& placed : best.placed) picture.rows.at(index_of(placed.quantity)) = rows_of(deck, placed);
    auto const tally = tallied(decoding.layouts);
    for (auto const quantity : all_quantities) {
        auto const* const placed = placed_in(best, quantity);
        if (placed == nullptr) continue;
        FoundField field{.placed = *placed, .why = why(*placed, picture)};
        field.shown = picture.rows.at(index_of(quantity))->dumps;
        for (auto const& one : tally) {
            if (one.placed.quantity != quantity) continue;
            if (reads_the_same(one.placed, *placed)) {
                field.probability = std::min(one.probability, 1.0);
            } else if (one.probability > 0.01) {
                field.rivals.push_back(one);
            }
        }
        decoding.fields.push_back(std::move(field));
    }
    decoding.doubts = doubts_of(decoding, picture);
    return decoding;
}

}  // namespace phasewright::decoder
