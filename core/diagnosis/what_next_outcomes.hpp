// What every wiring that is still possible predicts for a test, made into outcomes with their chances.
// Words and counts are outcomes as they are. A number that is measured is cut into stretches half way between
// the values that the possible wirings predict; the chance of a stretch is the normal's mass in it, with the
// same spread as is used when the answer is weighed (answers.hpp).
#pragma once
#include <complex>
#include <functional>
#include <string>
#include <vector>

#include "core/diagnosis/what_next.hpp"
#include "core/diagnosis/what_next_value.hpp"

namespace phasewright::diagnosis {

// One wiring of one class, at one rotation of the source.
struct Possibility {
    double weight = 0.0;
    std::size_t decision = 0;
    std::size_t of_class = 0;
    WiringClass const* listed = nullptr;
    wiring::Wiring const* wiring = nullptr;
    wiring::Seen seen;
    plan::SourcePhasors u;
    plan::Sequence rotation = plan::Sequence::abc;
};
// The wirings of at most `most_classes` classes; weights sum to one.
[[nodiscard]] std::vector<Possibility> possibilities_of(TestSituation const& situation,
                                                        std::size_t most_classes = 40);

// A number as one possibility predicts it.
struct Guess {
    double nothing = 0.0;   // chance that the instrument shows nothing
    double anything = 0.0;  // chance of a value of which nothing is known
    double at = 0.0;        // otherwise: this value
    double sigma = 1.0;
};

struct Outcomes {
    std::vector<std::string> words;
    std::vector<std::vector<double>> chance;  // [outcome][possibility]
};
[[nodiscard]] Outcomes of_words(std::vector<Possibility> const& possible,
                                std::function<std::string(Possibility const&)> const& word_of,
                                double slip = 0.01);
// Several words with a chance each: [(word, chance)].
using WordChances = std::vector<std::pair<std::string, double>>;
[[nodiscard]] Outcomes of_chances(std::vector<Possibility> const& possible,
                                  std::function<WordChances(Possibility const&)> const& chances_of);
[[nodiscard]] Outcomes of_numbers(std::vector<Possibility> const& possible,
                                  std::function<Guess(Possibility const&)> const& guess_of,
                                  std::function<std::string(double)> const& in_words,
                                  std::string const& nothing_in_words);

}  // namespace phasewright::diagnosis
