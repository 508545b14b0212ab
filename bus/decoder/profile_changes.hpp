// The slips that a profile is drawn up with: each is the profile with one change, and how usual the slip is.
#pragma once
#include <span>
#include <vector>

#include "bus/decoder/deck.hpp"
#include "bus/decoder/fit.hpp"

namespace phasewright::decoder {

struct ChangedProfile {
    ProfileChange change;  // its log_odds are the prior
    profile::Profile profile;
};
[[nodiscard]] std::vector<ChangedProfile> changes_of(profile::Profile const& profile, std::span<Dump const> dumps);
[[nodiscard]] Picture picture_of(profile::Profile const& profile, std::span<Dump const> dumps, Expected const& expected);

}  // namespace phasewright::decoder
