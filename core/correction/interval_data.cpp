#include "core/correction/interval_data.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace phasewright::correction {

namespace {
constexpr std::array<std::pair<RegisterKind, std::string_view>, 5> kinds{
    {{RegisterKind::net, "net"},
     {RegisterKind::import_only, "import"},
     {RegisterKind::export_only, "export"},
     {RegisterKind::absolute, "absolute"},
     {RegisterKind::per_phase, "per-phase"}}};
}  // namespace

std::string_view name_of(RegisterKind kind) { return kinds[static_cast<std::size_t>(kind)].second; }

std::optional<RegisterKind> register_kind_of(std::string_view name) {
    for (auto const& [kind, known] : kinds)
        if (known == name) return kind;
    return std::nullopt;
}

double registered_wh(IntervalData const& data, RegisterKind kind, std::size_t row) {
    if (data.one_way) return std::abs(data.at(row, 0).real());
    double sum = 0.0;
    double amounts = 0.0;
    double imports = 0.0;
    for (std::size_t k = 0; k < data.columns; ++k) {
        double const wh = data.at(row, k).real();
        sum += wh;
        amounts += std::abs(wh);
        imports += std::max(wh, 0.0);
    }
    switch (kind) {
        case RegisterKind::net: return sum;
        case RegisterKind::import_only: return std::max(sum, 0.0);
        case RegisterKind::export_only: return std::max(-sum, 0.0);
        case RegisterKind::absolute: return amounts;
        case RegisterKind::per_phase: return imports;
    }
    return sum;
}

}  // namespace phasewright::correction
