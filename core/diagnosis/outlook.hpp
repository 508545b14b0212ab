// What every hypothesis of a service predicts at a nominal supply, worked out once and used for every reading set: the
// volts of each tap landing, and by how much each element's lag is turned against the load that feeds it. Many landings
// turn their elements alike; they share one angle class, so that its density is computed once.
#pragma once
#include <array>
#include <cstdint>
#include <vector>

#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/supply_model.hpp"

namespace phasewright::diagnosis {

inline constexpr std::uint8_t no_step = 12;

// How the lags of the elements that the current inputs feed become lags of the load.
struct AngleClass {
    std::array<std::int16_t, 3> path{};     // per input: a path, dead_path or crossed_path
    std::array<double, 3> turn_deg{};       // added to the element's lag; of a crossed input: to compare the two by
    std::array<std::uint8_t, 3> step{};     // the turn in steps of 30 degrees, or no_step: the element has no angle
    bool vars_turned = false;               // the lag's sign is to be changed first
    std::uint8_t kind = 0;                  // which of the kinds_of_input each input is, as digits
};
// What an input can be to a density: the first on its path, one more on it, dead, the first or the second of a joined loop.
inline constexpr std::uint8_t kinds_of_input = 5;
enum class InputKind : std::uint8_t { first, again, dead, joined, joined_again };
inline constexpr std::size_t kinds_of_class = 125;

// The inputs' paths alone: what the sizes of the currents depend on.
struct SizeClass {
    std::array<std::int16_t, 3> path{};
    bool coil = false;
    friend auto operator<=>(SizeClass const&, SizeClass const&) = default;
};

struct OutlookAt {  // at one rotation of the source
    plan::Sequence rotation = plan::Sequence::abc;
    plan::SourcePhasors u{};
    std::vector<TapView> views;                // one a tap landing
    std::vector<AngleClass> angle_classes;
    std::vector<std::uint32_t> angle_class_of; // one a pair
    std::array<double, 3> path_angle_deg{};
};

struct Outlook {
    Outlook(Landings landings_to_take, plan::Nominal const& nominal_supply);

    Landings landings;
    plan::Nominal nominal;
    std::vector<double> prior;                      // one a hypothesis
    // Hypotheses with the same taps and the same currents stand together: pair n is [first[n], first[n + 1]).
    std::vector<std::uint32_t> first, tap_of_pair, current_of_pair;
    std::vector<std::uint32_t> first_pair;          // pairs of tap landing t are [first_pair[t], first_pair[t + 1])
    std::vector<std::uint32_t> likeliest_first;     // the pairs of each tap landing in the order of their largest prior
    std::vector<double> largest_prior;              // one a pair
    std::vector<SizeClass> size_classes;
    std::vector<std::uint32_t> size_class_of;       // one a current landing
    std::vector<double> ratio_values;               // the distinct quotients
    std::vector<std::array<std::uint8_t, 3>> ratio_value_of;  // per ratio setting and input
    std::array<int, 3> element_of_input{-1, -1, -1};
    std::vector<OutlookAt> at;                      // the rotations that are possible
    [[nodiscard]] OutlookAt const& at_rotation(plan::Sequence rotation) const {
        return at.back().rotation == rotation ? at.back() : at.front();
    }
};

}  // namespace phasewright::diagnosis
