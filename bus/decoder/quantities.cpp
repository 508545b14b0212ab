#include "bus/decoder/quantities.hpp"

namespace phasewright::decoder {

namespace {
using profile::Measure;
struct Words {
    std::string_view name, words, unit;
    std::optional<Measure> measure;
};
constexpr std::array<Words, quantity_count> table{{
    {"v", "phase voltages", "V", Measure::v},
    {"v_ll", "line voltages", "V", Measure::v_ll},
    {"i", "currents", "A", Measure::i},
    {"p", "active power", "W", Measure::p},
    {"q", "reactive power", "var", Measure::q},
    {"s", "apparent power", "VA", Measure::s},
    {"pf", "power factor", "", Measure::pf},
    {"hz", "frequency", "Hz", Measure::hz},
    {"v_mean", "mean of the phase voltages", "V", std::nullopt},
    {"v_ll_mean", "mean of the line voltages", "V", std::nullopt},
    {"i_mean", "mean of the currents", "A", std::nullopt},
    {"i_sum", "sum of the currents", "A", std::nullopt},
    {"i_n", "neutral current", "A", Measure::i_n},
    {"p_total", "total active power", "W", Measure::p_total},
    {"q_total", "total reactive power", "var", Measure::q_total},
    {"s_total", "total apparent power", "VA", Measure::s_total},
    {"pf_total", "total power factor", "", Measure::pf_total},
    {"energy_import", "energy drawn", "Wh", std::nullopt},
    {"energy_export", "energy fed back", "Wh", std::nullopt},
    {"reactive_energy", "reactive energy", "varh", std::nullopt},
    {"apparent_energy", "apparent energy", "VAh", std::nullopt},
}};
}  // namespace

Family family_of(Quantity quantity) {
    using enum Quantity;
    switch (quantity) {
        case v:
        case v_ll:
        case v_mean:
        case v_ll_mean: return Family::voltage;
        case i:
        case i_mean:
        case i_sum:
        case i_n: return Family::current;
        case p:
        case q:
        case s:
        case p_total:
        case q_total:
        case s_total: return Family::power;
        case pf:
        case pf_total: return Family::factor;
        case hz: return Family::frequency;
        default: return Family::energy;
    }
}

std::string_view name_of(Quantity quantity) { return table.at(index_of(quantity)).name; }
std::string_view words_of(Quantity quantity) { return table.at(index_of(quantity)).words; }
std::string_view unit_of(Quantity quantity) { return table.at(index_of(quantity)).unit; }
std::optional<Measure> measure_of(Quantity quantity) { return table.at(index_of(quantity)).measure; }
std::optional<Quantity> quantity_of(Measure measure) {
    for (auto const quantity : all_quantities)
        if (table.at(index_of(quantity)).measure == measure) return quantity;
    return std::nullopt;
}

}  // namespace phasewright::decoder
