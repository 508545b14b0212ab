#include <algorithm>
#include <cmath>

#include "bus/decoder/layout.hpp"
#include "bus/decoder/seeds.hpp"
#include "bus/decoder/words.hpp"

namespace phasewright::decoder {

namespace {

using enum Quantity;

constexpr std::size_t layouts_begun = 120;
constexpr std::size_t layouts_completed = 16;
constexpr std::size_t layouts_kept = 24;
constexpr std::size_t layouts_rescaled = 6;
constexpr double by_chance = 14.0;  // log odds that a layout reaches in registers that hold nothing of the kind

bool moves_with_current(Quantity quantity) {
    switch (quantity) {
        case v:
        case v_ll:
        case v_mean:
        case v_ll_mean:
        case hz:
        case pf:
        case pf_total: return false;
        default: return true;
    }
}

struct Beginning {
    std::vector<Placed> placed;
    profile::Order words = profile::Order::high_first;
    double gain = 0.0;
};

// Voltages of one register do not say in which order longer numbers stand.
double log_word_order(Beginning const& beginning) {
    if (profile::registers_of(beginning.placed.front().format.type) > 1) return 0.0;
    return std::log(beginning.words == profile::Order::high_first ? 0.7 : 0.3);
}

std::vector<Beginning> beginnings(Deck const& deck, Expected const& expected) {
    std::vector<Beginning> found;
    for (auto const& seed : voltage_seeds(deck, expected)) {
        bool const one_word = profile::registers_of(seed.format.type) == 1;
        for (auto const words : {profile::Order::high_first, profile::Order::low_first}) {
            if (!one_word && words != seed.format.words) continue;
            Draft draft(deck, expected);
            draft.set_word_order(words);
            draft.place(seed);
            double const gain = seed.gain + log_word_order({{seed}, words});
            // Alone it is a beginning too: there may be no load, or no power in the dump.
            found.push_back({{seed}, words, gain});
            for (auto const& pair : currents_with_powers(deck, draft))
                found.push_back({{seed, pair.current, pair.power}, words, gain + pair.gain()});
        }
    }
    std::ranges::stable_sort(found, std::ranges::greater{}, &Beginning::gain);
    return found;
}

// As many beginnings as are worth the time: the likeliest, but a few of voltages alone among them.
std::vector<Beginning> chosen(std::vector<Beginning> all) {
    std::vector<Beginning> kept;
    std::size_t alone = 0;
    std::size_t pairs = 0;
    for (auto& one : all) {
        auto& count = one.placed.size() == 1 ? alone : pairs;
        if (count >= (one.placed.size() == 1 ? 4 : layouts_begun)) continue;
        ++count;
        kept.push_back(std::move(one));
    }
    return kept;
}

// What is told most exactly by the rest comes first, so that looser quantities take what is left. The first few of
// them part the beginnings; the others are looked for in the best of those only.
constexpr std::array parting{v_ll, s, q, pf, p_total};
constexpr std::array remaining{hz, q_total, s_total, pf_total, v_mean, v_ll_mean, i_sum, i_mean,
                               energy_import, energy_export, reactive_energy, apparent_energy, i_n};

Draft begun(Deck const& deck, Expected const& expected, Beginning const& beginning) {
    Draft draft(deck, expected);
    draft.set_word_order(beginning.words);
    for (auto const& placed : beginning.placed) draft.place(placed);
    draft.add(log_word_order(beginning));
    if (beginning.placed.size() == 1) draft.look_for(i);
    for (auto const quantity : parting) draft.look_for(quantity);
    return draft;
}

std::vector<Layout> completed(Deck const& deck, Expected const& expected, std::vector<Beginning> const& all) {
    std::vector<Draft> drafts;
    drafts.reserve(all.size());
    for (auto const& beginning : all) drafts.push_back(begun(deck, expected, beginning));
    std::ranges::stable_sort(drafts, [](Draft const& a, Draft const& b) { return a.layout().log_odds > b.layout().log_odds; });
    std::vector<Layout> layouts;
    for (auto& draft : drafts) {
        if (layouts.size() == layouts_completed) break;
        for (auto const quantity : remaining) draft.look_for(quantity);
        layouts.push_back(draft.layout());
    }
    return layouts;
}

// The same layout with currents, powers and energies a power of ten larger or smaller: nothing inside the dump but
// the usual scales and the expected current speaks for one of them.
Layout rescaled(Deck const& deck, Expected const& expected, Layout const& layout, int by) {
    Layout made;
    auto before = empty_picture(deck, expected);
    auto after = before;
    for (std::size_t at = 0; at < layout.placed.size(); ++at) {
        auto placed = layout.placed[at];
        auto const old_rows = rows_of(deck, placed);
        double const old_fit = log_odds(placed.quantity, old_rows, before) +
                               log_prior_of_scale(placed, std::span(layout.placed).first(at));
        before.rows.at(index_of(placed.quantity)) = old_rows;
        if (moves_with_current(placed.quantity)) placed.exponent += by;
        auto const rows = rows_of(deck, placed);
        placed.gain += log_odds(placed.quantity, rows, after) + log_prior_of_scale(placed, made.placed) - old_fit;
        after.rows.at(index_of(placed.quantity)) = rows;
        made.log_odds += placed.gain;
        made.placed.push_back(std::move(placed));
    }
    made.log_odds += layout.log_odds;
    for (auto const& placed : layout.placed) made.log_odds -= placed.gain;
    return made;
}

bool same(Layout const& a, Layout const& b) {
    return a.placed.size() == b.placed.size() && std::ranges::all_of(a.placed, [&](Placed const& one) {
               auto const* const other = placed_in(b, one.quantity);
               return other != nullptr && reads_the_same(one, *other);
           });
}

std::vector<Layout> weighed(std::vector<Layout> all) {
    std::ranges::stable_sort(all, std::ranges::greater{}, &Layout::log_odds);
    std::vector<Layout> kept;
    for (auto& one : all) {
        if (kept.size() == layouts_kept) break;
        if (std::ranges::none_of(kept, [&](Layout const& other) { return same(one, other); }))
            kept.push_back(std::move(one));
    }
    if (kept.empty()) return kept;
    // Among so many places and formats something always hangs together a little.
    double sum = std::exp(by_chance - kept.front().log_odds);
    for (auto const& one : kept) sum += std::exp(one.log_odds - kept.front().log_odds);
    for (auto& one : kept) one.probability = std::exp(one.log_odds - kept.front().log_odds) / sum;
    return kept;
}

}  // namespace

bool reads_the_same(Placed const& a, Placed const& b) {
    return a.quantity == b.quantity && a.function == b.function && a.addresses == b.addresses &&
           a.exponent == b.exponent && same_size_and_kind(a.format.type, b.format.type) &&
           (profile::registers_of(a.format.type) == 1 || a.format.words == b.format.words) &&
           a.format.bytes == b.format.bytes;
}

Placed const* placed_in(Layout const& layout, Quantity quantity) {
    auto const found = std::ranges::find(layout.placed, quantity, &Placed::quantity);
    return found == layout.placed.end() ? nullptr : &*found;
}

Decoding decode_dumps(std::span<Dump const> dumps, Expected const& expected) {
    auto const told = refreshed(dumps);
    Deck const deck(told);
    auto layouts = weighed(completed(deck, expected, chosen(beginnings(deck, expected))));
    std::vector<Layout> more;
    for (std::size_t at = 0; at < layouts.size() && at < layouts_rescaled; ++at) {
        for (int const by : {-3, -2, -1, 1, 2, 3}) more.push_back(rescaled(deck, expected, layouts[at], by));
    }
    layouts.insert(layouts.end(), more.begin(), more.end());
    return described(deck, expected, weighed(std::move(layouts)));
}

}  // namespace phasewright::decoder
