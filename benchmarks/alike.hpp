// Is the wiring that was named first the one that was planted? Two wirings are alike when, for every supply
// and every load, one of them shows with the conductors renamed what the other shows as they are; only
// renamings that keep the nominal supply count: turns where the rotation was told, mirrors too where it was
// not. Asked by trying: four random supplies and loads, predicted by this world's own model, never by the
// engine's.
#pragma once
#include <optional>
#include <string>

#include "benchmarks/world.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::benchmarks {

// The engine's answer in this world's terms.
[[nodiscard]] Landing landing_of(wiring::Wiring const& named);
// Whether this world makes such wirings at all: no joined loops, no raw coils, no wrong settings of the meter.
[[nodiscard]] bool is_known_here(wiring::Wiring const& named);

class Likeness {
   public:
    Likeness(Meter const& meter, bool rotation_told, bool angles);
    [[nodiscard]] bool alike(Landing const& x, Landing const& y) const;
    // In what the planted wiring and the one that was named instead of it differ, for a balanced load.
    [[nodiscard]] std::string cause_of_confusion(Landing const& planted, Landing const& named) const;

   private:
    using Renaming = std::array<std::size_t, 3>;
    struct Probe {
        Supply supply;
        Load load;
    };
    [[nodiscard]] bool same_readings(Landing const& x, Landing const& y, Renaming const& renaming) const;

    Meter const& meter_;
    bool angles_;
    std::vector<Renaming> renamings_;
    std::vector<Probe> probes_;
};

// Could anybody know the true power from such a wiring? Every current is seen with a voltage of its own
// beside it (three wires: all but one), and no ratio is wrong.
[[nodiscard]] bool recoverable(Meter const& meter, Landing const& landing);

}  // namespace phasewright::benchmarks
