// One case of the benchmark: drawn from the world, diagnosed, judged by that world.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "benchmarks/alike.hpp"
#include "benchmarks/mistakes.hpp"
#include "benchmarks/scores.hpp"
#include "core/diagnosis/verdict.hpp"

namespace phasewright::benchmarks {

struct Order {
    std::string service;
    std::string mix_name = "field";
    Mix mix = Mix::field;
    int cases = 500, snapshots = 1, failures = 0;
    std::uint64_t seed = 1;
    bool kind_known = false, rotation_told = true, angles = true, ratios = false, informed = false;
    std::string svg;
};

// What was planted, and what was read of it.
struct Drawn {
    std::vector<Mistake> mistakes;
    Landing landing;
    SiteHabit habit;
    double true_w = 0.0;
    readings::ReadingSet set;
};
[[nodiscard]] Drawn drawn_case(Dice& dice, Meter const& meter, Order const& order,
                               std::vector<Mistake> const& possible);

// A class is right when its likeliest wiring reads like the planted one, or when it lists the planted one.
[[nodiscard]] bool is_right(Likeness const& likeness, Landing const& planted, std::vector<Landing> const& wirings);
// The class's wirings in this world's terms; none where the first of them is one that this world never makes.
[[nodiscard]] std::vector<Landing> landings_of(diagnosis::WiringClass const& named);
[[nodiscard]] Judged judged(Drawn const& drawn, diagnosis::Verdict const& verdict, Meter const& meter,
                            Likeness const& likeness);

}  // namespace phasewright::benchmarks
