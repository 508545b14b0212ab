#include "core/plan/panel.hpp"

#include <algorithm>
#include <charconv>

namespace phasewright::plan {

Way const* way_of(Panel const& panel, std::string_view id) {
    auto const found = std::ranges::find(panel.ways, id, &Way::id);
    return found == panel.ways.end() ? nullptr : &*found;
}

Conductor conductor_of_pole(int pole, PoleNumbering numbering, int live) {
    int const row = numbering == PoleNumbering::odd_left ? (pole - 1) / 2 : pole - 1;
    return static_cast<Conductor>(row % live);
}

std::optional<Conductor> conductor_of_way(Panel const& panel, std::string_view way) {
    if (auto const* const mapped = way_of(panel, way); mapped != nullptr && !mapped->conductors.empty())
        return mapped->conductors.front();
    int pole = 0;
    auto const parsed = std::from_chars(way.data(), way.data() + way.size(), pole);
    bool const is_pole = parsed.ec == std::errc{} && parsed.ptr == way.data() + way.size() && pole >= 1;
    if (!is_pole || !panel.numbering || !panel.service) return std::nullopt;
    auto const live = model_of(*panel.service).live.size();
    return conductor_of_pole(pole, *panel.numbering, static_cast<int>(live));
}

}  // namespace phasewright::plan
