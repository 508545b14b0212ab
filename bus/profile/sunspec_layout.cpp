#include "bus/profile/sunspec_layout.hpp"

#include <algorithm>
#include <array>

namespace phasewright::profile {

namespace {

// Copied from the Apache-2.0 model files named in the header. Names: model 203 for the integer meters, 213
// for the floating-point ones, line voltages called PPVph.. throughout.
constexpr std::array common_points{
    SunspecPoint{"ID", 0, 1, PointType::uint16, ""},   SunspecPoint{"L", 1, 1, PointType::uint16, ""},
    SunspecPoint{"Mn", 2, 16, PointType::string, ""},  SunspecPoint{"Md", 18, 16, PointType::string, ""},
    SunspecPoint{"Opt", 34, 8, PointType::string, ""}, SunspecPoint{"Vr", 42, 8, PointType::string, ""},
    SunspecPoint{"SN", 50, 16, PointType::string, ""}, SunspecPoint{"DA", 66, 1, PointType::uint16, ""},
    SunspecPoint{"Pad", 67, 1, PointType::pad, ""},
};

constexpr std::array integer_meter_points{
    SunspecPoint{"ID", 0, 1, PointType::uint16, ""},
    SunspecPoint{"L", 1, 1, PointType::uint16, ""},
    SunspecPoint{"A", 2, 1, PointType::int16, "A_SF"},
    SunspecPoint{"AphA", 3, 1, PointType::int16, "A_SF"},
    SunspecPoint{"AphB", 4, 1, PointType::int16, "A_SF"},
    SunspecPoint{"AphC", 5, 1, PointType::int16, "A_SF"},
    SunspecPoint{"A_SF", 6, 1, PointType::sunssf, ""},
    SunspecPoint{"PhV", 7, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PhVphA", 8, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PhVphB", 9, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PhVphC", 10, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PPV", 11, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PPVphAB", 12, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PPVphBC", 13, 1, PointType::int16, "V_SF"},
    SunspecPoint{"PPVphCA", 14, 1, PointType::int16, "V_SF"},
    SunspecPoint{"V_SF", 15, 1, PointType::sunssf, ""},
    SunspecPoint{"Hz", 16, 1, PointType::int16, "Hz_SF"},
    SunspecPoint{"Hz_SF", 17, 1, PointType::sunssf, ""},
    SunspecPoint{"W", 18, 1, PointType::int16, "W_SF"},
    SunspecPoint{"WphA", 19, 1, PointType::int16, "W_SF"},
    SunspecPoint{"WphB", 20, 1, PointType::int16, "W_SF"},
    SunspecPoint{"WphC", 21, 1, PointType::int16, "W_SF"},
    SunspecPoint{"W_SF", 22, 1, PointType::sunssf, ""},
    SunspecPoint{"VA", 23, 1, PointType::int16, "VA_SF"},
    SunspecPoint{"VAphA", 24, 1, PointType::int16, "VA_SF"},
    SunspecPoint{"VAphB", 25, 1, PointType::int16, "VA_SF"},
    SunspecPoint{"VAphC", 26, 1, PointType::int16, "VA_SF"},
    SunspecPoint{"VA_SF", 27, 1, PointType::sunssf, ""},
    SunspecPoint{"VAR", 28, 1, PointType::int16, "VAR_SF"},
    SunspecPoint{"VARphA", 29, 1, PointType::int16, "VAR_SF"},
    SunspecPoint{"VARphB", 30, 1, PointType::int16, "VAR_SF"},
    SunspecPoint{"VARphC", 31, 1, PointType::int16, "VAR_SF"},
    SunspecPoint{"VAR_SF", 32, 1, PointType::sunssf, ""},
    SunspecPoint{"PF", 33, 1, PointType::int16, "PF_SF"},
    SunspecPoint{"PFphA", 34, 1, PointType::int16, "PF_SF"},
    SunspecPoint{"PFphB", 35, 1, PointType::int16, "PF_SF"},
    SunspecPoint{"PFphC", 36, 1, PointType::int16, "PF_SF"},
    SunspecPoint{"PF_SF", 37, 1, PointType::sunssf, ""},
    SunspecPoint{"TotWhExp", 38, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhExpPhA", 40, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhExpPhB", 42, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhExpPhC", 44, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhImp", 46, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhImpPhA", 48, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhImpPhB", 50, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWhImpPhC", 52, 2, PointType::acc32, "TotWh_SF"},
    SunspecPoint{"TotWh_SF", 54, 1, PointType::sunssf, ""},
    SunspecPoint{"TotVAhExp", 55, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhExpPhA", 57, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhExpPhB", 59, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhExpPhC", 61, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhImp", 63, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhImpPhA", 65, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhImpPhB", 67, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAhImpPhC", 69, 2, PointType::acc32, "TotVAh_SF"},
    SunspecPoint{"TotVAh_SF", 71, 1, PointType::sunssf, ""},
    SunspecPoint{"TotVArhImpQ1", 72, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ1PhA", 74, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ1PhB", 76, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ1PhC", 78, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ2", 80, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ2PhA", 82, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ2PhB", 84, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhImpQ2PhC", 86, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ3", 88, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ3PhA", 90, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ3PhB", 92, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ3PhC", 94, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ4", 96, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ4PhA", 98, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ4PhB", 100, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArhExpQ4PhC", 102, 2, PointType::acc32, "TotVArh_SF"},
    SunspecPoint{"TotVArh_SF", 104, 1, PointType::sunssf, ""},
    SunspecPoint{"Evt", 105, 2, PointType::bitfield32, ""},
};

constexpr std::array float_meter_points{
    SunspecPoint{"ID", 0, 1, PointType::uint16, ""},
    SunspecPoint{"L", 1, 1, PointType::uint16, ""},
    SunspecPoint{"A", 2, 2, PointType::float32, ""},
    SunspecPoint{"AphA", 4, 2, PointType::float32, ""},
    SunspecPoint{"AphB", 6, 2, PointType::float32, ""},
    SunspecPoint{"AphC", 8, 2, PointType::float32, ""},
    SunspecPoint{"PhV", 10, 2, PointType::float32, ""},
    SunspecPoint{"PhVphA", 12, 2, PointType::float32, ""},
    SunspecPoint{"PhVphB", 14, 2, PointType::float32, ""},
    SunspecPoint{"PhVphC", 16, 2, PointType::float32, ""},
    SunspecPoint{"PPV", 18, 2, PointType::float32, ""},
    SunspecPoint{"PPVphAB", 20, 2, PointType::float32, ""},
    SunspecPoint{"PPVphBC", 22, 2, PointType::float32, ""},
    SunspecPoint{"PPVphCA", 24, 2, PointType::float32, ""},
    SunspecPoint{"Hz", 26, 2, PointType::float32, ""},
    SunspecPoint{"W", 28, 2, PointType::float32, ""},
    SunspecPoint{"WphA", 30, 2, PointType::float32, ""},
    SunspecPoint{"WphB", 32, 2, PointType::float32, ""},
    SunspecPoint{"WphC", 34, 2, PointType::float32, ""},
    SunspecPoint{"VA", 36, 2, PointType::float32, ""},
    SunspecPoint{"VAphA", 38, 2, PointType::float32, ""},
    SunspecPoint{"VAphB", 40, 2, PointType::float32, ""},
    SunspecPoint{"VAphC", 42, 2, PointType::float32, ""},
    SunspecPoint{"VAR", 44, 2, PointType::float32, ""},
    SunspecPoint{"VARphA", 46, 2, PointType::float32, ""},
    SunspecPoint{"VARphB", 48, 2, PointType::float32, ""},
    SunspecPoint{"VARphC", 50, 2, PointType::float32, ""},
    SunspecPoint{"PF", 52, 2, PointType::float32, ""},
    SunspecPoint{"PFphA", 54, 2, PointType::float32, ""},
    SunspecPoint{"PFphB", 56, 2, PointType::float32, ""},
    SunspecPoint{"PFphC", 58, 2, PointType::float32, ""},
    SunspecPoint{"TotWhExp", 60, 2, PointType::float32, ""},
    SunspecPoint{"TotWhExpPhA", 62, 2, PointType::float32, ""},
    SunspecPoint{"TotWhExpPhB", 64, 2, PointType::float32, ""},
    SunspecPoint{"TotWhExpPhC", 66, 2, PointType::float32, ""},
    SunspecPoint{"TotWhImp", 68, 2, PointType::float32, ""},
    SunspecPoint{"TotWhImpPhA", 70, 2, PointType::float32, ""},
    SunspecPoint{"TotWhImpPhB", 72, 2, PointType::float32, ""},
    SunspecPoint{"TotWhImpPhC", 74, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhExp", 76, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhExpPhA", 78, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhExpPhB", 80, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhExpPhC", 82, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhImp", 84, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhImpPhA", 86, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhImpPhB", 88, 2, PointType::float32, ""},
    SunspecPoint{"TotVAhImpPhC", 90, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ1", 92, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ1phA", 94, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ1phB", 96, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ1phC", 98, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ2", 100, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ2phA", 102, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ2phB", 104, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhImpQ2phC", 106, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ3", 108, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ3phA", 110, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ3phB", 112, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ3phC", 114, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ4", 116, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ4phA", 118, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ4phB", 120, 2, PointType::float32, ""},
    SunspecPoint{"TotVArhExpQ4phC", 122, 2, PointType::float32, ""},
    SunspecPoint{"Evt", 124, 2, PointType::bitfield32, ""},
};

}  // namespace

bool is_sunspec_meter(int model) { return (model >= 201 && model <= 204) || (model >= 211 && model <= 214); }

bool is_float_meter(int model) { return model >= 211 && model <= 214; }

std::uint16_t length_of_model(int model) {
    if (model == common_model) return common_length;
    if (!is_sunspec_meter(model)) return 0;
    return is_float_meter(model) ? float_meter_length : integer_meter_length;
}

std::span<SunspecPoint const> points_of_model(int model) {
    if (model == common_model) return common_points;
    if (!is_sunspec_meter(model)) return {};
    if (is_float_meter(model)) return float_meter_points;
    return integer_meter_points;
}

SunspecPoint const* find_point(int model, std::string_view name) {
    auto const points = points_of_model(model);
    auto const found = std::ranges::find(points, name, &SunspecPoint::name);
    return found == points.end() ? nullptr : &*found;
}

}  // namespace phasewright::profile
