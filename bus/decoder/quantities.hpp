// What a meter can show, as the decoder tells it apart: the measurements of a profile, the means and sums that many
// meters put beside them, and the counters of energy.
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "bus/profile/profile.hpp"

namespace phasewright::decoder {

enum class Quantity : std::uint8_t {
    v, v_ll, i, p, q, s, pf,                                     // one a phase
    hz, v_mean, v_ll_mean, i_mean, i_sum, i_n,                   // single numbers
    p_total, q_total, s_total, pf_total,
    energy_import, energy_export, reactive_energy, apparent_energy,  // counters: Wh, Wh, varh, VAh
};
inline constexpr std::size_t quantity_count = 21;
inline constexpr std::array all_quantities{
    Quantity::v, Quantity::v_ll, Quantity::i, Quantity::p, Quantity::q, Quantity::s, Quantity::pf,
    Quantity::hz, Quantity::v_mean, Quantity::v_ll_mean, Quantity::i_mean, Quantity::i_sum, Quantity::i_n,
    Quantity::p_total, Quantity::q_total, Quantity::s_total, Quantity::pf_total,
    Quantity::energy_import, Quantity::energy_export, Quantity::reactive_energy, Quantity::apparent_energy};
static_assert(all_quantities.size() == quantity_count);

[[nodiscard]] constexpr std::size_t index_of(Quantity quantity) { return static_cast<std::size_t>(quantity); }
[[nodiscard]] constexpr bool is_per_phase(Quantity quantity) { return quantity <= Quantity::pf; }
[[nodiscard]] constexpr bool is_counter(Quantity quantity) { return quantity >= Quantity::energy_import; }
enum class Family : std::uint8_t { voltage, current, power, factor, frequency, energy };  // kept and scaled alike
[[nodiscard]] Family family_of(Quantity quantity);
[[nodiscard]] std::string_view name_of(Quantity quantity);   // "p_total", as in a profile where a profile knows it
[[nodiscard]] std::string_view words_of(Quantity quantity);  // "total active power"
[[nodiscard]] std::string_view unit_of(Quantity quantity);   // "W"
[[nodiscard]] std::optional<Quantity> quantity_of(profile::Measure measure);
[[nodiscard]] std::optional<profile::Measure> measure_of(Quantity quantity);

}  // namespace phasewright::decoder
