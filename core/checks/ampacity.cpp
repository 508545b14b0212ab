#include "core/checks/ampacity.hpp"

#include <array>

namespace phasewright::checks {
namespace {
using plan::SizeUnit;

constexpr std::array<Ampacity, 6> metric{{{{SizeUnit::mm2, 1.5}, 17.5},
                                          {{SizeUnit::mm2, 2.5}, 24.0},
                                          {{SizeUnit::mm2, 4.0}, 32.0},
                                          {{SizeUnit::mm2, 6.0}, 41.0},
                                          {{SizeUnit::mm2, 10.0}, 57.0},
                                          {{SizeUnit::mm2, 16.0}, 76.0}}};
constexpr std::array<Ampacity, 20> awg{
    {{{SizeUnit::awg, 14}, 20},     {{SizeUnit::awg, 12}, 25},     {{SizeUnit::awg, 10}, 35},
     {{SizeUnit::awg, 8}, 50},      {{SizeUnit::awg, 6}, 65},      {{SizeUnit::awg, 4}, 85},
     {{SizeUnit::awg, 3}, 100},     {{SizeUnit::awg, 2}, 115},     {{SizeUnit::awg, 1}, 130},
     {{SizeUnit::awg, 0}, 150},     {{SizeUnit::awg, -1}, 175},    {{SizeUnit::awg, -2}, 200},
     {{SizeUnit::awg, -3}, 230},    {{SizeUnit::kcmil, 250}, 255}, {{SizeUnit::kcmil, 300}, 285},
     {{SizeUnit::kcmil, 350}, 310}, {{SizeUnit::kcmil, 400}, 335}, {{SizeUnit::kcmil, 500}, 380},
     {{SizeUnit::kcmil, 600}, 420}, {{SizeUnit::kcmil, 750}, 475}}};

constexpr RuleSource iec{"IEC 60364-5-52", "", "Table B.52.2, method B1", plan::Footing::memory};
constexpr RuleSource nec{"NEC", "2023", "Table 310.16, 75 degrees C", plan::Footing::seen};
}  // namespace

std::span<Ampacity const> metric_ampacities() { return metric; }
std::span<Ampacity const> awg_ampacities() { return awg; }

std::optional<Carried> carried_by(plan::ConductorSize const& size, plan::Metal metal, Limits const& limits) {
    if (metal != plan::Metal::copper) return std::nullopt;
    bool const is_metric = size.unit == SizeUnit::mm2;
    auto const own = is_metric ? metric_ampacities() : awg_ampacities();
    auto const& set = is_metric ? limits.metric : limits.awg;
    auto const table = set.empty() ? own : std::span<Ampacity const>(set);
    double const area = plan::area_mm2(size);
    std::optional<Carried> best;
    double nearest = 0.0;
    for (auto const& row : table) {
        double const row_area = plan::area_mm2(row.size);
        if (row_area > area * 1.001 || row_area < nearest) continue;
        nearest = row_area;
        best = Carried{row.amperes, is_metric ? iec : nec};
    }
    if (best && !set.empty()) best->source = {"the user's table", "", "", plan::Footing::practice};
    return best;
}

}  // namespace phasewright::checks
