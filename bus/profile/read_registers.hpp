// Registers of a meter, fetched in the fewest questions that its profile allows.
#pragma once
#include <expected>
#include <vector>

#include "bus/codec/fault.hpp"
#include "bus/port/line.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/register_image.hpp"
#include "core/plan/read_grouping.hpp"

namespace phasewright::profile {

[[nodiscard]] std::expected<RegisterImage, codec::Fault> read_pieces(
    port::Line& line, std::uint8_t unit, Profile const& profile,
    std::vector<plan::RegisterRun> const& pieces);

}  // namespace phasewright::profile
