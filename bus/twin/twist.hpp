// A meter whose registers are laid out otherwise than its profile says: another order of words, every address
// shifted, counters in another unit. What is moved is the profile by which the virtual meter fills its
// registers; whoever reads it by the shipped profile meets the wrong ones.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bus/profile/profile.hpp"

namespace phasewright::twin {

struct RegisterTwist {
    bool words_swapped = false;          // of every number of two or four registers
    int offset = 0;                      // every address is so many higher than the profile says
    bool energies_in_base_unit = false;  // counters in Wh where the profile says kWh
    std::vector<profile::Measure> not_measured;
    std::optional<std::uint16_t> unavailable;  // stands in every register of what it does not measure
    friend bool operator==(RegisterTwist const&, RegisterTwist const&) = default;
};

// The profile as this very meter's registers are laid out.
[[nodiscard]] profile::Profile twisted(profile::Profile profile, RegisterTwist const& twist);

// What of the twist would change nothing with this profile: a file that says it means something else.
[[nodiscard]] std::optional<quantity::Fault> without_effect(profile::Profile const& profile,
                                                            RegisterTwist const& twist,
                                                            std::string const& point);

// The registers of what is not measured; `laid_out` is the twisted profile.
void put_not_measured(profile::RegisterImage& image, profile::Profile const& laid_out,
                      RegisterTwist const& twist);

}  // namespace phasewright::twin
