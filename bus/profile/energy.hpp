// The counters of a meter: what they count, which way, and where they begin anew.
//   energy in Wh, varh or VAh = raw * scale * 10^(scale register) * unit factor
// A counter that only rises wraps: after `wraps_at` it stands at zero again, so that between two readings
//   gained = now - before          when now >= before
//   gained = now - before + W      when it has wrapped once
// docs/reference/profile.md, "[energies.NAME]", is the file format.
#pragma once
#include <expected>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bus/codec/fault.hpp"
#include "bus/port/line.hpp"
#include "bus/profile/field.hpp"
#include "bus/profile/register_image.hpp"
#include "core/plan/read_grouping.hpp"

namespace phasewright::profile {

struct Profile;

enum class EnergyQuantity { active, reactive, apparent };  // Wh, varh, VAh
enum class EnergyKind {
    net,       // forwards less backwards: rises and falls
    import,    // from source to load only
    export_,   // from load to source only
    absolute,  // both ways, added up: a reversed CT does not show in it
};
[[nodiscard]] std::string_view name_of(EnergyQuantity quantity);  // "active"
[[nodiscard]] std::string_view name_of(EnergyKind kind);          // "import"
[[nodiscard]] std::string_view unit_of(EnergyQuantity quantity);  // "Wh"

// How a counter behaves.
struct EnergyHabit {
    std::string name;  // as the profile calls it: "import"; of one phase "import_phases 2"
    EnergyQuantity quantity = EnergyQuantity::active;
    EnergyKind kind = EnergyKind::import;
    int quadrant = 0;  // 1 to 4: reactive energy of that quadrant only; 0: of both quadrants of its kind
    int phase = 0;     // 1 to 3; 0: of all phases together
    bool wrap_known = false;  // the profile says where it begins anew, or that it does not
    std::optional<double>
        wraps_at;                // Wh, varh, VAh: one step above the last count; empty: never, or not known
    std::optional<double> step;  // smallest change that it can show; empty for floating point
};

struct EnergyRegisters {
    EnergyHabit
        habit;  // `phase` is 0; wraps_at and step are those of `fields` where no scale register has a say
    std::vector<Field> fields;  // one, or one a phase
    bool per_phase = false;
    std::optional<double> wraps_after;  // the last count before zero, in the unit of the scaled number
    bool wraps_at_full_width = false;   // the last count is all bits of its (unsigned) type
    std::optional<double>
        resolution;  // in SI; the meter counts in steps this large, coarser than its register
};

struct EnergyCount {
    EnergyHabit habit;
    std::optional<double> value;  // Wh, varh, VAh; empty when the register says that there is no value
};

struct Energies {
    std::vector<EnergyCount> counts;
    double skew_s = 0.0;  // from the first question to the last answer
};

// Counts in the order of the profile, phases in order. Pure: from registers that were read.
[[nodiscard]] std::vector<EnergyCount> energies_in(Profile const& profile, RegisterImage const& image);
// The registers behind the counters, as pieces that must each come in one answer.
[[nodiscard]] std::vector<plan::RegisterRun> energy_registers(Profile const& profile);
// The counter's registers hold this energy; beyond its wrap it begins anew, as the real one does.
void put_energy(RegisterImage& image, EnergyRegisters const& registers, std::size_t phase_index,
                double value);

[[nodiscard]] std::expected<Energies, codec::Fault> read_energies(port::Line& line, std::uint8_t unit,
                                                                  Profile const& profile);

// The energy points of a SunSpec meter model; `body` starts with its ID register. Names are those of the
// points
// ("TotWhImpPhA"). A total that the models demand (TotWhExp, TotWhImp) may stand at zero; any other
// accumulator at zero means "not counted here".
[[nodiscard]] std::vector<EnergyCount> sunspec_energies(int model, std::span<std::uint16_t const> body);
// For virtual meters: into a device made by sunspec_image() with the same model and base. Points that the
// model does not have are left out.
struct SunspecEnergy {
    std::string_view point;
    double value = 0.0;  // Wh, varh, VAh
};
void put_sunspec_energies(RegisterImage& image, int model, std::span<SunspecEnergy const> energies,
                          std::uint16_t base = 40000);

}  // namespace phasewright::profile
