// What a meter stored while its wiring was wrong: the energy of one interval after the other, of each element
// or of all together, in the meter's own signs (import positive, vars from source to load positive). Energies
// are complex, Wh + j varh. A row that was not measured is not here at all.
#pragma once
#include <complex>
#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

namespace phasewright::correction {

using Energy = std::complex<double>;  // Wh + j varh

// What the register that somebody was billed by counts. The same wrong wiring makes each of them wrong by
// another amount (docs/physics/correction.md, "Registers").
enum class RegisterKind {
    net,          // the signed sum of the elements, forwards and backwards
    import_only,  // the sum while it is positive; it stands still while the sum is negative
    export_only,  // the other direction, counted as a positive number
    absolute,     // the sum of the elements' amounts, whatever their signs
    per_phase,    // each element's import, added up
};
[[nodiscard]] std::string_view name_of(RegisterKind kind);  // "import"
[[nodiscard]] std::optional<RegisterKind> register_kind_of(std::string_view name);

struct IntervalData {
    std::size_t columns = 1;  // energies a row: one an element, or one of all together
    bool totals = false;
    bool vars_recorded = true;  // false: every imaginary part is 0 and means nothing
    bool one_way = false;       // a total that is never negative: its register counts one direction alone
    std::vector<double> start_s, duration_s;  // s since 1970 UTC; s
    std::vector<Energy> energy;               // row by row
    std::vector<double> volts;                // V, row by row, one an element; empty when not recorded
    std::vector<double> load_lag_rad;         // of the load, known from elsewhere; one a row, or empty

    [[nodiscard]] std::size_t rows() const { return start_s.size(); }
    [[nodiscard]] Energy at(std::size_t row, std::size_t column) const {
        return energy[row * columns + column];
    }
};

// What a register of that kind counted of one row, Wh.
[[nodiscard]] double registered_wh(IntervalData const& data, RegisterKind kind, std::size_t row);

}  // namespace phasewright::correction
