#include "benchmarks/mistakes.hpp"

#include <algorithm>
#include <array>
#include <tuple>
#include <utility>

#include <fmt/core.h>

namespace phasewright::benchmarks {

namespace {
// Quotients of standard primaries (25, 50, 60, 75, 100, 150, 200, 250, 300, 400 ... A), turns and parallel
// cables.
constexpr std::array two_to_one{2.0, 0.5};
constexpr std::array other_quotients{4.0, 0.25, 1.5,  2.0 / 3.0, 3.0, 1.0 / 3.0, 5.0,  0.2,
                                     2.5, 0.4,  1.25, 0.8,       1.6, 0.625,     10.0, 0.1};

void add_currents(std::vector<Mistake>& list, Meter const& meter, diagnosis::Odds const& odds) {
    int const inputs = static_cast<int>(meter.inputs.size());
    for (int k = 0; k < inputs; ++k) {
        for (int c = 0; c < meter.conductors; ++c)
            if (c != meter.inputs[static_cast<std::size_t>(k)])
                list.push_back({Deed::on_conductor, k, c, 1.0, odds.ct_wrong_conductor});
        // What turns or silences all CTs at once does so to an only one.
        bool const only = inputs == 1;
        list.push_back({Deed::reversed, k, 0, 1.0, odds.ct_reversed + (only ? odds.all_cts_reversed : 0.0)});
        list.push_back({Deed::dead, k, 0, 1.0, odds.ct_dead + (only ? odds.all_cts_dead : 0.0)});
        for (int other = k + 1; other < inputs; ++other)
            list.push_back({Deed::exchanged, k, other, 1.0, odds.two_cts_exchanged});
    }
    if (inputs > 1) {
        list.push_back({Deed::all_reversed, 0, 0, 1.0, odds.all_cts_reversed});
        list.push_back({Deed::all_dead, 0, 0, 1.0, odds.all_cts_dead});
    }
    if (inputs == 3)
        for (int const by : {1, 2}) list.push_back({Deed::rotated, 0, by, 1.0, odds.cts_rotated});
}

void add_taps(std::vector<Mistake>& list, Meter const& meter, diagnosis::Odds const& odds) {
    for (int t = 0; t < meter.taps; ++t) {
        list.push_back({Deed::tap_lost, t, 0, 1.0, odds.tap_lost});
        for (int other = 0; other < meter.taps; ++other) {
            if (other != t) list.push_back({Deed::tap_doubled, t, other, 1.0, odds.tap_doubled});
            if (other > t) list.push_back({Deed::taps_exchanged, t, other, 1.0, odds.two_taps_exchanged});
        }
        if (!meter.has_neutral) continue;
        list.push_back({Deed::tap_with_neutral, t, 0, 1.0, odds.tap_on_neutral});
        list.push_back({Deed::tap_on_neutral, t, 0, 1.0, 0.5 * odds.tap_on_neutral});
        list.push_back({Deed::neutral_on_tap, t, 0, 1.0, 0.5 * odds.tap_on_neutral});
    }
    if (meter.taps == 3)
        for (int const by : {1, 2}) list.push_back({Deed::taps_rotated, 0, by, 1.0, odds.taps_rotated});
    if (meter.has_neutral && meter.taps > 1)
        list.push_back({Deed::neutral_lost, 0, 0, 1.0, odds.neutral_lost});
}

void add_ratio(std::vector<Mistake>& list, Meter const& meter, diagnosis::Odds const& odds, double ratio,
               double share) {
    list.push_back({Deed::ratio, -1, 0, ratio, odds.ratio_of_all * share});
    if (meter.inputs.size() == 1) return;
    for (int k = 0; k < static_cast<int>(meter.inputs.size()); ++k)
        list.push_back({Deed::ratio, k, 0, ratio, odds.ratio_of_one * share});
}

bool clash(Mistake const& x, Mistake const& y) {
    if (x.deed != y.deed) return x.deed == Deed::all_dead && y.deed == Deed::dead;
    bool const once = x.deed == Deed::ratio || x.deed == Deed::rotated || x.deed == Deed::taps_rotated;
    return once || x.at == y.at;
}

}  // namespace

bool fits(Mistake const& one, std::vector<Mistake> const& made) {
    return std::ranges::none_of(made,
                                [&](auto const& other) { return clash(one, other) || clash(other, one); });
}

bool stressful(Mistake const& one, bool ratios) {
    switch (one.deed) {
        case Deed::all_dead:
        case Deed::tap_on_neutral:
        case Deed::neutral_on_tap:
        case Deed::neutral_lost:
            return false;
        case Deed::ratio:
            return ratios && one.at >= 0 && (one.ratio == 2.0 || one.ratio == 0.5);
        default:
            return true;
    }
}

namespace {
// Every mistake on its own with its odds; kept when there are at most three and none undoes another's place.
std::optional<std::vector<Mistake>> by_odds(Dice& dice, std::vector<Mistake> const& possible) {
    std::vector<Mistake> made;
    for (auto const& one : possible) {
        if (!dice.happens(one.odds / (1.0 + one.odds))) continue;
        if (made.size() == 3 || !fits(one, made)) return std::nullopt;
        made.push_back(one);
    }
    return made;
}

std::vector<Mistake> all_alike(Dice& dice, std::vector<Mistake> const& possible, bool ratios) {
    std::vector<Mistake> choice;
    for (auto const& one : possible)
        if (stressful(one, ratios)) choice.push_back(one);
    int const wanted = 1 + dice.below(3);
    std::vector<Mistake> made;
    for (int tries = 0; static_cast<int>(made.size()) < wanted && tries < 200; ++tries) {
        auto const& one = choice[static_cast<std::size_t>(dice.below(static_cast<int>(choice.size())))];
        if (fits(one, made)) made.push_back(one);
    }
    return made;
}
}  // namespace

std::optional<Mix> mix_of(std::string_view name) {
    if (name == "matched") return Mix::matched;
    if (name == "field") return Mix::field;
    if (name == "stress") return Mix::stress;
    if (name == "shifted") return Mix::shifted;
    return std::nullopt;
}

std::vector<Mistake> mistakes_of(Meter const& meter, diagnosis::Odds const& odds) {
    std::vector<Mistake> list;
    add_currents(list, meter, odds);
    add_taps(list, meter, odds);
    // Twice and half come about in most ways: a quarter of all wrong ratios each.
    for (double const ratio : two_to_one) add_ratio(list, meter, odds, ratio, 0.25);
    for (double const ratio : other_quotients)
        add_ratio(list, meter, odds, ratio, 0.5 / static_cast<double>(other_quotients.size()));
    return list;
}

std::vector<Mistake> drawn_mistakes(Dice& dice, std::vector<Mistake> const& possible, Mix mix,
                                    bool stress_ratios) {
    if (mix != Mix::matched && dice.happens(0.25)) return {};
    if (mix == Mix::stress) return all_alike(dice, possible, stress_ratios);
    while (true)
        if (auto const made = by_odds(dice, possible); made && (mix == Mix::matched || !made->empty()))
            return *made;
}

namespace {
std::vector<Mistake> in_order(std::vector<Mistake> made) {
    auto const rank = [](Mistake const& one) { return std::tuple(one.deed, one.at, one.other); };
    std::ranges::sort(made, {}, rank);
    return made;
}

template <class Value>
void rotate(std::vector<Value>& values, int by) {
    std::rotate(values.begin(), values.begin() + by, values.end());
}

void apply_to_currents(Mistake const& mistake, Landing& landing) {
    auto const k = static_cast<std::size_t>(std::max(mistake.at, 0));
    auto const other = static_cast<std::size_t>(mistake.other);
    switch (mistake.deed) {
        case Deed::on_conductor:
            landing.cts[k] = mistake.other;
            break;
        case Deed::reversed:
            landing.signs[k] *= -1;
            break;
        case Deed::all_reversed:
            for (auto& sign : landing.signs) sign *= -1;
            break;
        case Deed::dead:
            landing.cts[k] = nothing;
            break;
        case Deed::all_dead:
            std::ranges::fill(landing.cts, nothing);
            break;
        case Deed::exchanged:
            std::swap(landing.cts[k], landing.cts[other]);
            std::swap(landing.signs[k], landing.signs[other]);
            break;
        case Deed::rotated:
            rotate(landing.cts, mistake.other);
            rotate(landing.signs, mistake.other);
            break;
        case Deed::ratio:
            for (std::size_t input = 0; input < landing.ratios.size(); ++input)
                if (mistake.at < 0 || input == k) landing.ratios[input] *= mistake.ratio;
            break;
        default:
            break;
    }
}

void apply_to_taps(Mistake const& mistake, Landing& landing) {
    auto const t = static_cast<std::size_t>(std::max(mistake.at, 0));
    auto const other = static_cast<std::size_t>(mistake.other);
    switch (mistake.deed) {
        case Deed::taps_exchanged:
            std::swap(landing.taps[t], landing.taps[other]);
            break;
        case Deed::taps_rotated:
            rotate(landing.taps, mistake.other);
            break;
        case Deed::tap_doubled:
            landing.taps[t] = landing.taps[other];
            break;
        case Deed::tap_with_neutral:
            std::swap(landing.taps[t], landing.neutral_tap);
            break;
        case Deed::tap_on_neutral:
            landing.taps[t] = landing.neutral_tap;
            break;
        case Deed::neutral_on_tap:
            landing.neutral_tap = landing.taps[t];
            break;
        case Deed::tap_lost:
            landing.taps[t] = nothing;
            break;
        case Deed::neutral_lost:
            landing.neutral_tap = nothing;
            break;
        default:
            break;
    }
}
}  // namespace

Landing landing_of(Meter const& meter, std::vector<Mistake> const& made) {
    auto const sorted = in_order(made);
    auto landing = as_planned(meter);
    for (auto const& mistake : sorted) {
        apply_to_currents(mistake, landing);
        apply_to_taps(mistake, landing);
    }
    for (std::size_t k = 0; k < landing.cts.size(); ++k)
        if (landing.cts[k] == nothing) landing.signs[k] = 1;  // a dead input has no direction
    return landing;
}

namespace {
std::string words_of(Mistake const& mistake) {
    int const at = mistake.at + 1;
    int const other = mistake.other + 1;
    switch (mistake.deed) {
        case Deed::on_conductor:
            return fmt::format("CT {} on {}", at, "abc"[mistake.other]);
        case Deed::reversed:
            return fmt::format("CT {} reversed", at);
        case Deed::all_reversed:
            return "all CTs reversed";
        case Deed::dead:
            return fmt::format("CT {} dead", at);
        case Deed::all_dead:
            return "all CTs dead";
        case Deed::exchanged:
            return fmt::format("CTs {} and {} exchanged", at, other);
        case Deed::rotated:
            return fmt::format("CTs rotated by {}", mistake.other);
        case Deed::taps_exchanged:
            return fmt::format("taps {} and {} exchanged", at, other);
        case Deed::taps_rotated:
            return fmt::format("taps rotated by {}", mistake.other);
        case Deed::tap_doubled:
            return fmt::format("tap {} as tap {}", at, other);
        case Deed::tap_with_neutral:
            return fmt::format("tap {} and neutral exchanged", at);
        case Deed::tap_on_neutral:
            return fmt::format("tap {} on neutral", at);
        case Deed::neutral_on_tap:
            return fmt::format("neutral on tap {}", at);
        case Deed::tap_lost:
            return fmt::format("tap {} lost", at);
        case Deed::neutral_lost:
            return "neutral lost";
        case Deed::ratio:
            return mistake.at < 0 ? fmt::format("all ratios x{:.3g}", mistake.ratio)
                                  : fmt::format("ratio {} x{:.3g}", at, mistake.ratio);
    }
    return {};
}
}  // namespace

std::string words_of(std::vector<Mistake> const& made) {
    if (made.empty()) return "as planned";
    auto const sorted = in_order(made);
    std::string words;
    for (auto const& mistake : sorted) words += (words.empty() ? "" : " + ") + words_of(mistake);
    return words;
}

}  // namespace phasewright::benchmarks
