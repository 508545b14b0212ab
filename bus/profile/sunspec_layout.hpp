// Where the open SunSpec information models keep their points: model 1 (who the device is), the integer
// meters 201 to 204 (numbers with a shared power of ten beside them) and the floating-point meters 211 to
// 214.
// Source: the model files json/model_1.json, model_201.json .. model_204.json and model_211.json ..
// model_214.json of the public repository sunspec/models (Apache-2.0), commit
// 7abdf8982d5364f8ae916deee18aac86c11be36d; offsets, types and scale factors are theirs, the words ours.
// Points are matched by offset: the files spell some names in two ways.
#pragma once
#include <cstdint>
#include <span>
#include <string_view>

namespace phasewright::profile {

enum class PointType { int16, uint16, sunssf, acc32, bitfield32, float32, string, pad };

struct SunspecPoint {
    std::string_view name;
    std::uint16_t offset = 0;  // registers from the model's ID, which is at 0; L is at 1
    std::uint16_t size = 1;    // registers
    PointType type = PointType::int16;
    std::string_view scale;  // name of the scale-factor point, empty when there is none
};

inline constexpr int common_model = 1;
inline constexpr std::uint16_t common_length = 66;
inline constexpr std::uint16_t integer_meter_length = 105;
inline constexpr std::uint16_t float_meter_length = 124;

[[nodiscard]] bool is_sunspec_meter(int model);          // 201..204, 211..214
[[nodiscard]] bool is_float_meter(int model);            // 211..214
[[nodiscard]] std::uint16_t length_of_model(int model);  // L; 0 for a model that is not in these tables
[[nodiscard]] std::span<SunspecPoint const> points_of_model(int model);  // in order, ID and L included
[[nodiscard]] SunspecPoint const* find_point(int model, std::string_view name);  // null when there is none

}  // namespace phasewright::profile
