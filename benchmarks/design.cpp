// How long a plan of 2 000 points takes to be designed, on one core: 125 panels in a building of 120 m by 80
// m and five floors, 16 points each, nothing chosen, from the catalogue and the profiles that came along.
//   cmake --preset measure && cmake --build --preset measure --target benchmark_design &&
//   build/measure/benchmark_design
#include "core/design/design.hpp"

#include <array>
#include <chrono>
#include <filesystem>
#include <string>

#include <fmt/format.h>

#include "app/commands/catalogue_file.hpp"
#include "app/commands/plan_design_command.hpp"

using namespace phasewright;

namespace {
constexpr int panels = 125;
constexpr int points_each = 16;

plan::Site large_site() {
    plan::Site site;
    for (int k = 0; k < panels; ++k) {
        plan::Panel panel{.id = "p" + std::to_string(k),
                          .name = "p" + std::to_string(k),
                          .nominal = {.v_ln = 230.0, .v_ll = 400.0, .hz = 50.0}};
        panel.fault_ka = 16.0;
        panel.place = plan::PlaceInBuilding{static_cast<double>(k * 37 % 120),
                                            static_cast<double>(k * 53 % 80), 4.0 * (k % 5)};
        site.panels.push_back(panel);
        for (int j = 0; j < points_each; ++j) {
            plan::MeteringPoint point;
            point.id = point.name = panel.id + "-" + std::to_string(j);
            point.panel = panel.id;
            point.breaker_a = std::array{25.0, 63.0, 100.0, 250.0}.at(static_cast<std::size_t>((k + j) % 4));
            point.usual_a = 0.4 * *point.breaker_a;
            point.cable = plan::Cable{.diameter_mm = 6.0 + 2.0 * ((k + j) % 5)};
            point.to_choose = {.ct = true, .meter = true, .address = true};
            site.points.push_back(point);
        }
    }
    return site;
}
}  // namespace

int main() {
    auto const catalogue = commands::read_catalogue_file(commands::shipped_catalogue());
    auto const meters = commands::meters_in(std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "profiles");
    if (!catalogue || !meters) return 1;
    auto const site = large_site();
    auto const before = std::chrono::steady_clock::now();
    auto const result = design::design(site, *catalogue, *meters);
    double const seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - before).count();
    auto const counts = design::counted(result.proposals);
    fmt::print("{} ({})\n{} points in {} panels: {:.2f} s; {} taken, {} offered, {} open; {} lines\n",
               PHASEWRIGHT_BUILT, "one core", site.points.size(), site.panels.size(), seconds, counts.taken,
               counts.offered, counts.open, result.site.serial_lines.size());
    return counts.open == 0 ? 0 : 1;
}
