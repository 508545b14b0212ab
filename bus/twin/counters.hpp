// The counters of a virtual meter. They count steadily what the loads draw without their straying, as the
// wiring and the programmed ratio show it, so that the same file at the same time gives the same counts, and
// no count ever goes back.
//   E(t) = E(t0) + P * (t - t0)        active: import and export apart; reactive: by quadrant
// A counter of all phases together counts the sum of the phases (vector metering), as most meters do (common
// practice, no source).
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "bus/profile/energy.hpp"
#include "bus/twin/wired.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::twin {

class Counters {
public:
    // Where they stand at time 0 depends on the seed and the meter's name; `import_wh` is told of all phases
    // together.
    Counters(std::uint64_t seed, std::string_view name, std::optional<double> import_wh = {});

    // From this moment on they count what this snapshot shows.
    void run_on(readings::Snapshot const& steady, double time_s);
    // What was counted before is shown by another ratio.
    void rescale(double factor, double time_s);

    // Wh, varh or VAh of one counter; `phase` 1 to 3, 0: all together.
    [[nodiscard]] double value(profile::EnergyHabit const& habit, int phase, double time_s) const;

private:
    struct Rates {  // W, var, VA
        double imported = 0.0, exported = 0.0;
        std::array<double, 4> quadrant{};
        double apparent = 0.0;
    };
    [[nodiscard]] static Rates rates_of(double p, double q);
    [[nodiscard]] Rates counted(int phase, double time_s) const;

    std::array<Rates, 4> base_{}, rate_{};  // of all, then of each phase
    double since_s_ = 0.0;
};

}  // namespace phasewright::twin
