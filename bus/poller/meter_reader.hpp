// A meter as the poller reads it: by its profile, or by the SunSpec models. What changes from second to
// second is asked for; settings and identity are not. A SunSpec meter is looked for once, and again after it
// gave no answer.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "bus/poller/poller.hpp"
#include "bus/profile/profile.hpp"
#include "core/plan/read_grouping.hpp"

namespace phasewright::poller {

using MeterRead = std::function<std::expected<MeterNumbers, codec::Fault>(port::Line& line)>;

// Measurements and energies, as pieces that must each come in one answer.
[[nodiscard]] std::vector<plan::RegisterRun> polled_registers(profile::Profile const& profile);

// `cost` groups the registers: plan::cost_on() a serial line whose times are known.
[[nodiscard]] MeterRead read_by_profile(std::shared_ptr<profile::Profile const> profile, std::uint8_t unit,
                                        std::optional<plan::Service> planned,
                                        plan::ReadCost const& cost = plan::fewest_questions);
[[nodiscard]] MeterRead read_by_sunspec(std::uint8_t unit, std::optional<plan::Service> planned);

}  // namespace phasewright::poller
