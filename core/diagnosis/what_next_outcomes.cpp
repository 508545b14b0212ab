#include "core/diagnosis/what_next_outcomes.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <optional>

namespace phasewright::diagnosis {

namespace {
constexpr std::size_t most_members = 4;    // of a class; the rest of its weight goes to them
constexpr double least_member = 0.02;      // share of the class
constexpr std::size_t most_stretches = 7;  // of a measured number
constexpr double rare_word = 0.002;        // weight of a word that gets no outcome of its own
constexpr double slip = 0.01;              // an answer that was written down wrong
constexpr double same_rotation = 0.995;    // how sure the meter's own volts are of the order of the phases

// What would be done: the moves of the repair, and how the energy is recovered.
std::string decision_of(std::vector<Move> const& repair, EnergyLaw law) {
    std::string text{name_of(law)};
    for (auto const& move : repair) text += "|" + move.move;
    return text;
}

// Which way the elements' volts turn: the sign of the angle from the first to the last one; 0 when it cannot
// be seen.
int turn_of(std::optional<double> first_deg, std::optional<double> last_deg) {
    if (!first_deg || !last_deg) return 0;
    double const turn = std::sin((*last_deg - *first_deg) * std::numbers::pi / 180.0);
    return std::abs(turn) < 0.2 ? 0 : turn > 0.0 ? 1 : -1;
}
int turn_of(wiring::Seen const& seen, plan::SourcePhasors const& u) {
    auto const elements = wiring::elements_of(seen, u, {});
    if (elements.size() < 2) return 0;
    auto const first = elements.front().v;
    auto const last = elements.back().v;
    double const size = std::abs(first) * std::abs(last);
    if (size < 1.0 || seen.voltage_lost[0] || seen.voltage_lost[seen.elements - 1]) return 0;
    double const turn = std::imag(last * std::conj(first)) / size;
    return std::abs(turn) < 0.2 ? 0 : turn > 0.0 ? 1 : -1;
}

// How likely what the meter shows of the rotation is, under this wiring and this rotation at the source.
double rotation_fits(TestSituation const& s, wiring::Seen const& seen, plan::SourcePhasors const& u) {
    int const predicted = turn_of(seen, u);
    if (predicted == 0) return 0.5;
    int shown = 0;
    auto const& angles = s.observed.volt_angle_deg;
    if (angles.size() > 1) shown = turn_of(angles.front(), angles.back());
    if (shown == 0 && s.observed.sequence) {
        auto const planned = wiring::seen_by(wiring::as_planned(s.model), s.model);
        int const abc = turn_of(planned, plan::source_phasors(s.model, s.set.nominal, plan::Sequence::abc));
        shown = *s.observed.sequence == plan::Sequence::abc ? abc : -abc;
    }
    if (shown == 0) return 0.5;
    return shown == predicted ? same_rotation : 1.0 - same_rotation;
}

struct Member {
    std::size_t of_class, at;
    double weight;
};

std::vector<Member> members_of(TestSituation const& s, std::size_t most_classes) {
    std::vector<Member> members;
    for (std::size_t c = 0; c < std::min(most_classes, s.classes.size()); ++c) {
        auto const& listed = s.classes[c];
        double kept = 0.0;
        std::vector<Member> own;
        for (std::size_t m = 0; m < std::min(most_members, listed.wirings.size()); ++m) {
            double const share = listed.wirings[m].prior;
            if (m > 0 && share < least_member) break;
            own.push_back({c, m, std::max(share, 1e-6)});
            kept += own.back().weight;
        }
        for (auto& one : own) {
            one.weight *= listed.probability / kept;
            members.push_back(one);
        }
    }
    return members;
}
}  // namespace

std::vector<Possibility> possibilities_of(TestSituation const& s, std::size_t most_classes) {
    std::map<std::string, std::size_t> decisions;
    std::vector<Possibility> list;
    double const abc = s.set.rotation
                           ? (*s.set.rotation == plan::Sequence::abc ? s.priors.supply.sequence_known
                                                                     : 1.0 - s.priors.supply.sequence_known)
                           : s.priors.supply.sequence_abc;
    bool const turns = s.model.terminals.size() == 3;
    // One class that is believed may still hold several repairs: then those are what is to be decided.
    bool const within = !s.classes.empty() && s.classes.front().probability >= 0.99;
    double total = 0.0;
    for (auto const& member : members_of(s, most_classes)) {
        auto const& listed = s.classes[member.of_class];
        auto const& wirings = listed.wirings;
        auto const& repair = wirings[within ? member.at : 0].repair;
        auto const decision =
            decisions.try_emplace(decision_of(repair, listed.energy_law), decisions.size()).first->second;
        auto const seen = wiring::seen_by(wirings[member.at].wiring, s.model);
        std::array<double, 2> share{1.0, 0.0};
        std::array<plan::SourcePhasors, 2> u{};
        for (std::size_t r = 0; r < 2; ++r)
            u[r] = plan::source_phasors(s.model, s.set.nominal,
                                        r == 0 ? plan::Sequence::abc : plan::Sequence::acb);
        if (turns) share = {abc * rotation_fits(s, seen, u[0]), (1.0 - abc) * rotation_fits(s, seen, u[1])};
        double const both = share[0] + share[1];
        for (std::size_t r = 0; r < 2; ++r) {
            double const weight = member.weight * share[r] / both;
            if (weight < 1e-7) continue;
            total += weight;
            list.push_back({.weight = weight,
                            .decision = decision,
                            .of_class = member.of_class,
                            .listed = &listed,
                            .wiring = &wirings[member.at].wiring,
                            .seen = seen,
                            .u = u[r],
                            .rotation = r == 0 ? plan::Sequence::abc : plan::Sequence::acb});
        }
    }
    for (auto& one : list) one.weight /= total;
    return list;
}

Outcomes of_chances(std::vector<Possibility> const& possible,
                    std::function<WordChances(Possibility const&)> const& chances_of) {
    std::map<std::string, std::vector<double>> rows;
    for (std::size_t i = 0; i < possible.size(); ++i)
        for (auto const& [word, chance] : chances_of(possible[i])) {
            auto& row = rows.try_emplace(word, std::vector<double>(possible.size(), 0.0)).first->second;
            row[i] += chance;
        }
    Outcomes outcomes;
    for (auto& [word, row] : rows) {
        outcomes.words.push_back(word);
        outcomes.chance.push_back(std::move(row));
    }
    return outcomes;
}

Outcomes of_words(std::vector<Possibility> const& possible,
                  std::function<std::string(Possibility const&)> const& word_of, double slip_share) {
    // Words that hardly anything predicts are one outcome together.
    std::map<std::string, double> weight;
    std::vector<std::string> words;
    for (auto const& one : possible) {
        words.push_back(word_of(one));
        weight[words.back()] += one.weight;
    }
    for (auto& word : words)
        if (weight[word] < rare_word) word = "something else";
    std::size_t at = 0;
    auto outcomes = of_chances(possible, [&](Possibility const&) { return WordChances{{words[at++], 1.0}}; });
    double const each =
        outcomes.words.size() > 1 ? slip_share / static_cast<double>(outcomes.words.size() - 1) : 0.0;
    for (auto& row : outcomes.chance)
        for (double& chance : row)
            chance = chance < 0.5 ? each : outcomes.words.size() > 1 ? 1.0 - slip_share : 1.0;
    return outcomes;
}

namespace {
struct Stretch {
    double centre = 0.0, weight = 0.0, sigma = 0.0;
};

// The predicted values, heaviest first, joined where they cannot be told apart.
std::vector<Stretch> stretches_of(std::vector<Possibility> const& possible,
                                  std::vector<Guess> const& guesses) {
    std::vector<Stretch> list;
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < guesses.size(); ++i)
        if (guesses[i].nothing + guesses[i].anything < 0.99) order.push_back(i);
    std::ranges::stable_sort(order, std::greater{}, [&](std::size_t i) { return possible[i].weight; });
    for (auto const i : order) {
        auto const near = std::ranges::find_if(list, [&](Stretch const& one) {
            return std::abs(one.centre - guesses[i].at) < 1.5 * (one.sigma + guesses[i].sigma);
        });
        if (near != list.end())
            near->weight += possible[i].weight;
        else if (list.size() < most_stretches)
            list.push_back({guesses[i].at, possible[i].weight, guesses[i].sigma});
    }
    std::ranges::sort(list, {}, &Stretch::centre);
    return list;
}

double below(double edge, Guess const& guess) {
    return 0.5 * (1.0 + std::erf((edge - guess.at) / (guess.sigma * std::numbers::sqrt2)));
}
}  // namespace

Outcomes of_numbers(std::vector<Possibility> const& possible,
                    std::function<Guess(Possibility const&)> const& guess_of,
                    std::function<std::string(double)> const& in_words, std::string const& nothing_in_words) {
    std::vector<Guess> guesses;
    bool any_nothing = false;
    bool anything = false;
    for (auto const& one : possible) {
        guesses.push_back(guess_of(one));
        any_nothing = any_nothing || guesses.back().nothing > 0.0;
        anything = anything || guesses.back().anything > 0.0;
    }
    auto const stretches = stretches_of(possible, guesses);
    Outcomes outcomes;
    std::size_t const other = stretches.size() + (any_nothing ? 1 : 0);
    std::size_t const count = other + (anything || stretches.size() > 1 ? 1 : 0);
    outcomes.chance.assign(count, std::vector<double>(possible.size(), 0.0));
    for (auto const& one : stretches) outcomes.words.push_back(in_words(one.centre));
    if (any_nothing) outcomes.words.push_back(nothing_in_words);
    if (count > other) outcomes.words.push_back(stretches.empty() ? "something" : "something else");
    double const narrow =
        4.0;  // a stretch reaches so many spreads from its centre; beyond it is something else
    for (std::size_t i = 0; i < possible.size(); ++i) {
        auto const& guess = guesses[i];
        double const known = std::max(0.0, 1.0 - guess.nothing - guess.anything);
        double placed = 0.0;
        for (std::size_t k = 0; k < stretches.size(); ++k) {
            double const reach = narrow * stretches[k].sigma;
            double low = stretches[k].centre - reach;
            double high = stretches[k].centre + reach;
            if (k > 0) low = std::max(low, 0.5 * (stretches[k - 1].centre + stretches[k].centre));
            if (k + 1 < stretches.size())
                high = std::min(high, 0.5 * (stretches[k].centre + stretches[k + 1].centre));
            double const mass = known * std::max(0.0, below(high, guess) - below(low, guess)) +
                                0.03 * guess.anything;  // any value may fall here by chance
            outcomes.chance[k][i] = mass;
            placed += mass;
        }
        if (any_nothing) outcomes.chance[stretches.size()][i] = guess.nothing, placed += guess.nothing;
        if (count > other) outcomes.chance[other][i] = std::max(0.0, 1.0 - placed), placed = 1.0;
        for (auto& row : outcomes.chance) {
            if (placed > 0.0) row[i] /= std::max(placed, 1e-12);
            row[i] = (1.0 - slip) * row[i] + slip / static_cast<double>(count);
        }
    }
    return outcomes;
}

}  // namespace phasewright::diagnosis
