// A SunSpec device as registers: the marker "SunS", then models one after the other, then an end mark.
// These are pure functions over an image; find_sunspec (meter_reading.hpp) fetches one over a line. Missing
// values are told by sentinels (0x8000, 0xFFFF, NaN, ...); they become empty optionals. The sign of PF is
// not trusted: makers disagree about it; W and VAR carry the direction.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bus/profile/register_image.hpp"
#include "core/plan/service.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::profile {

inline constexpr std::uint16_t sunspec_bases[] = {40000, 0, 50000};  // where the marker may stand

struct SunspecIdentity {
    std::string maker, model, options, version, serial;
    std::uint16_t address = 1;
};
struct SunspecScales {  // powers of ten of the integer models
    int a = -2, v = -1, hz = -2, w = 0, va = 0, var = 0, pf = -1, energy = 0;
};
struct SunspecMeter {
    readings::Snapshot snapshot;
    readings::Resolution resolution;
    readings::SignHabit pf_sign = readings::SignHabit::unknown;
    std::vector<std::string> notes;
};

[[nodiscard]] plan::Service service_of_model(int model);  // 203 and 213: four-wire wye

// `body` starts with the model's ID register. `planned` decides which elements are returned.
[[nodiscard]] SunspecMeter decode_sunspec(int model, std::span<std::uint16_t const> body,
                                          std::optional<plan::Service> planned = std::nullopt);
[[nodiscard]] SunspecIdentity decode_common(std::span<std::uint16_t const> body);
[[nodiscard]] std::string to_text(SunspecIdentity const& identity);  // "maker model, serial 1234"

// The whole device in holding registers: marker, model 1, the meter model, end mark. The snapshot has one,
// two or three elements: phases A, B, C in order (a service with two elements V12, V32 gives PPV A-B, B-C
// and currents A, C).
[[nodiscard]] RegisterImage sunspec_image(int model, readings::Snapshot const& shown,
                                          SunspecIdentity const& identity, SunspecScales const& scales = {},
                                          std::uint16_t base = 40000);

}  // namespace phasewright::profile
