// What the plan knows of a point and what its meter said become one reading set, the diagnosis's door.
#pragma once
#include <string>
#include <vector>

#include "bus/profile/meter_reading.hpp"
#include "bus/profile/profile.hpp"
#include "core/plan/site.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

struct TimedReading {
    profile::MeterReading reading;
    std::string time;  // ISO 8601 with offset
};

// The terminals as the meter's profile names them, picked for the inputs that this service uses; default
// names where the profile has none. `profile` is null for a SunSpec meter, which does not say what is printed
// on it.
[[nodiscard]] plan::TerminalNames terminals_for(profile::Profile const* profile,
                                                plan::ServiceModel const& model);

// `readings` holds at least one, in the order of time. `with_load_kind` false: as if the plan did not tell.
[[nodiscard]] readings::ReadingSet reading_set_of(plan::Site const& site, plan::MeteringPoint const& point,
                                                  std::vector<TimedReading> const& readings,
                                                  profile::Profile const* profile, bool with_load_kind);

}  // namespace phasewright::commands
