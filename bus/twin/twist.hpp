// A meter whose registers are laid out otherwise than its profile says: another order of words, every address
// shifted, counters in another unit. What is moved is the profile by which the virtual meter fills its
// registers; whoever reads it by the shipped profile meets the wrong ones.
#pragma once
#include <cstdint>
#include <optional>

#include "bus/profile/profile.hpp"

namespace phasewright::twin {

struct RegisterTwist {
    bool words_swapped = false;          // of every number of two or four registers
    int offset = 0;                      // every address is so many higher than the profile says
    bool energies_in_base_unit = false;  // counters in Wh where the profile says kWh
    std::optional<std::uint16_t>
        unavailable;  // what it holds where the profile has numbers it does not measure
    friend bool operator==(RegisterTwist const&, RegisterTwist const&) = default;
};

// The profile as this very meter's registers are laid out.
[[nodiscard]] profile::Profile twisted(profile::Profile profile, RegisterTwist const& twist);

}  // namespace phasewright::twin
