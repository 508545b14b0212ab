// The answer in words.
#include <cmath>

#include "core/chain/point_accuracy.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::chain {

namespace {
// Two significant figures and no fewer than the ones: "0.88", "1.2", "12".
std::string two_figures(double value) {
    int const decimals = value < 0.995 ? 2 : value < 9.95 ? 1 : 0;
    return quantity::fixed(value, decimals);
}
std::string amperes(double value) {
    if (value >= 99.5) return quantity::fixed(value, 0) + " A";
    return quantity::fixed(value, value >= 9.95 ? 1 : 2) + " A";
}
std::string plus_minus(double percent) { return "±" + two_figures(percent) + " %"; }

std::string of_current(std::string_view which, AtCurrent const& at) {
    std::string words = "At the " + std::string(which) + " current: " + words_of(at);
    if (at.budget)
        words += "; ±" + two_figures(at.budget->worst_percent) + " % with every limit reached the same way";
    return words;
}

std::string of_wanted(PointAccuracy const& accuracy) {
    auto const wanted = "±" + quantity::shortest(*accuracy.wanted_percent) + " %";
    if (!accuracy.output_fits) return wanted + " cannot be shown: the meter does not take this output";
    if (!accuracy.stated_from_a) return wanted + " cannot be shown while a part of the chain states nothing";
    if (!accuracy.shown_from_a) return wanted + " cannot be shown at any current by these classes";
    auto words = wanted + " can be shown from " + amperes(*accuracy.shown_from_a) + " on, not below";
    if (accuracy.shown == Shown::no) words += ": not at the current that is planned";
    return words;
}
}  // namespace

std::string words_of(AtCurrent const& at) {
    auto const where = amperes(at.current_a) + ", power factor " + quantity::shortest(at.power_factor);
    if (at.budget)
        return plus_minus(at.budget->expanded_percent) +
               " (k = " + quantity::shortest(at.budget->coverage_factor) + ") at " + where;
    if (!at.silent) return "nothing is stated at " + where;
    return "nothing is stated at " + where + ": " + std::string(words_of(at.silent->why)) + " (" +
           std::string(words_of(at.silent->part)) + ")";
}

std::vector<std::string> words_of(PointAccuracy const& accuracy) {
    std::vector<std::string> words;
    if (accuracy.usual) words.push_back(of_current("usual", *accuracy.usual));
    if (accuracy.least) words.push_back(of_current("least", *accuracy.least));
    if (accuracy.most) words.push_back(of_current("highest", *accuracy.most));
    if (!accuracy.usual && !accuracy.least && !accuracy.most)
        words.emplace_back("The plan names no current: nothing can be said of a load");
    if (accuracy.wanted_percent) words.push_back(of_wanted(accuracy));
    if (accuracy.dominating)
        words.push_back("The largest part is " + std::string(words_of(*accuracy.dominating)));
    if (accuracy.stated_from_a)
        words.push_back("Below " + amperes(*accuracy.stated_from_a) + " the classes say nothing");
    for (auto const& source : accuracy.unconfirmed)
        words.push_back("To be confirmed for the edition in force: " + words_of(source));
    if (!accuracy.assumed.empty()) words.push_back("Assumed: " + quantity::joined(accuracy.assumed, ", "));
    return words;
}

}  // namespace phasewright::chain
