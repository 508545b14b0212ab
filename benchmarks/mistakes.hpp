// What goes wrong when a meter is wired, one mistake at a time, and how a case's mistakes are drawn. The odds
// of the matched world are the engine's own (core/diagnosis/priors.hpp, as data); what each mistake does to
// the leads is written here once more.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "benchmarks/world.hpp"
#include "core/diagnosis/priors.hpp"

namespace phasewright::benchmarks {

// In the order in which an installer works: conductor, transformer, leads, terminals, setting.
enum class Deed {
    on_conductor,
    reversed,
    all_reversed,
    dead,
    all_dead,
    exchanged,
    rotated,
    taps_exchanged,
    taps_rotated,
    tap_doubled,
    tap_with_neutral,  // the two exchanged
    tap_on_neutral,
    neutral_on_tap,
    tap_lost,
    neutral_lost,
    ratio,
};

struct Mistake {
    Deed deed{};
    int at = 0;
    int other = 0;
    double ratio = 1.0;
    double odds = 0.0;
};

enum class Mix {
    matched,  // by the engine's own odds, no mistake included
    field,    // by the same odds, but three quarters of the cases are faulty
    stress,   // one to three mistakes, all kinds and places alike; three quarters faulty
    shifted,  // mistakes as in field; loads and readings that no prior expected
};
[[nodiscard]] std::optional<Mix> mix_of(std::string_view name);

[[nodiscard]] std::vector<Mistake> mistakes_of(Meter const& meter, diagnosis::Odds const& odds);
[[nodiscard]] std::vector<Mistake> drawn_mistakes(Dice& dice, std::vector<Mistake> const& possible, Mix mix,
                                                  bool stress_ratios);
// What a stressful mix leaves out: a site of dead inputs and a neutral lead that is open can hardly be seen
// in one balanced reading, and a lead joined to the neutral lead is the exchange of the two but for one end.
[[nodiscard]] bool stressful(Mistake const& one, bool ratios);
// Can it be made beside those? Not the same twice, nor two settings of one ratio.
[[nodiscard]] bool fits(Mistake const& one, std::vector<Mistake> const& made);
[[nodiscard]] Landing landing_of(Meter const& meter, std::vector<Mistake> const& made);
[[nodiscard]] std::string words_of(std::vector<Mistake> const& made);

}  // namespace phasewright::benchmarks
