#include "bus/profile/measure_words.hpp"

#include <algorithm>

namespace phasewright::profile {

namespace {

std::vector<UnitWord> with_prefixes(std::string_view unit, std::string_view kilo, std::string_view mega) {
    return {{unit, 1.0}, {kilo, 1e3}, {mega, 1e6}};
}

std::vector<MeasureWords> made() {
    using enum Measure;
    std::vector<UnitWord> const volts{{"V", 1.0}, {"kV", 1e3}, {"mV", 1e-3}};
    std::vector<UnitWord> const amperes{{"A", 1.0}, {"kA", 1e3}, {"mA", 1e-3}};
    std::vector<UnitWord> const watts = with_prefixes("W", "kW", "MW");
    std::vector<UnitWord> const vars = with_prefixes("var", "kvar", "Mvar");
    std::vector<UnitWord> const volt_amperes = with_prefixes("VA", "kVA", "MVA");
    std::vector<UnitWord> const shares{{"1", 1.0}, {"%", 0.01}};
    std::vector<UnitWord> const degrees{{"deg", 1.0}};
    std::vector<UnitWord> const hertz{{"Hz", 1.0}, {"mHz", 1e-3}};
    std::string_view const import_first = "import-positive";
    std::string_view const export_first = "export-positive";
    std::string_view const lagging = "lagging-positive";
    std::string_view const leading = "leading-positive";
    return {{v, "v", true, volts, {}, {}},
            {v_ll, "v_ll", true, volts, {}, {}},
            {i, "i", true, amperes, {}, {}},
            {p, "p", true, watts, import_first, export_first},
            {q, "q", true, vars, lagging, leading},
            {s, "s", true, volt_amperes, {}, {}},
            {pf, "pf", true, shares, {}, {}},
            {v_angle, "v_angle", true, degrees, leading, lagging},
            {i_angle, "i_angle", true, degrees, leading, lagging},
            {thd_i, "thd_i", true, shares, {}, {}},
            {i_n, "i_n", false, amperes, {}, {}},
            {hz, "hz", false, hertz, {}, {}},
            {p_total, "p_total", false, watts, import_first, export_first},
            {q_total, "q_total", false, vars, lagging, leading},
            {s_total, "s_total", false, volt_amperes, {}, {}},
            {pf_total, "pf_total", false, shares, {}, {}}};
}

}  // namespace

std::span<MeasureWords const> all_measures() {
    static std::vector<MeasureWords> const all = made();
    return all;
}

MeasureWords const& words_for(Measure measure) {
    return *std::ranges::find(all_measures(), measure, &MeasureWords::measure);
}

std::string_view name_of(Measure measure) { return words_for(measure).name; }

bool is_per_element(Measure measure) { return words_for(measure).is_list; }

int registers_of(ValueType type) {
    switch (type) {
        case ValueType::int16:
        case ValueType::uint16: return 1;
        case ValueType::int32:
        case ValueType::uint32:
        case ValueType::float32: return 2;
        case ValueType::int64:
        case ValueType::uint64:
        case ValueType::float64: return 4;
    }
    return 1;
}

ServiceShape const& shape_for(Profile const& profile, std::optional<plan::Service> service) {
    if (service) {
        auto const found = std::ranges::find(profile.services, *service, &ServiceShape::service);
        if (found != profile.services.end()) return *found;
    }
    return profile.services.front();
}

}  // namespace phasewright::profile
