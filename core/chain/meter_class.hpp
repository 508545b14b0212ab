// What the class of an electricity meter lets its active energy be wrong by, over current and power factor. A
// row holds for a closed-open range of current in shares of the meter's rated current and for one power
// factor; the standards name power factor 1 and 0.5 inductive (0.8 capacitive) only. Between them the wider
// of both rows is taken as a bound: an engineering choice, and labelled so.
// docs/reference/accuracy-classes.md, section 4.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/chain/transformer_class.hpp"
#include "core/plan/meter_hardware.hpp"
#include "core/plan/panel.hpp"

namespace phasewright::chain {

enum class FactorRow {
    unity,
    half,     // 0.5 inductive, 0.8 capacitive
    quarter,  // 0.25 inductive, 0.5 capacitive: on request only
    all       // from 0.5 inductive to 0.8 capacitive, one limit
};
enum class Loading { balanced, one_phase };  // of a polyphase meter

struct MeterRow {
    double from = 0.0;         // share of the rated current, that value itself included
    std::optional<double> to;  // and not; empty: up to the highest current, that one included
    FactorRow factor = FactorRow::unity;
    double percent = 0.0;  // plus or minus
    Loading loading = Loading::balanced;
    std::optional<plan::DegreesCelsius> temperature_c;  // empty: at reference conditions
    plan::Footing footing = plan::Footing::memory;
    friend bool operator==(MeterRow const&, MeterRow const&) = default;
};

struct MeterClass {
    std::string word;  // "0.5S"
    std::vector<MeterRow> rows;
    double starts_at = 0.0;  // share of the rated current at which it must begin to count
    Citation source;
    friend bool operator==(MeterClass const&, MeterClass const&) = default;
};

struct MeterLoad {
    double share_of_rated = 1.0;
    double power_factor = 1.0;  // magnitude
    bool leading = false;
    Loading loading = Loading::balanced;
    double temperature_c = 23.0;       // the reference temperature of the series
    std::optional<double> most_share;  // highest current, in shares of the rated one
};

struct MeterLimit {
    std::optional<double> percent;  // plus or minus; empty: not stated here, and `why`
    NotStated why = NotStated::stated;
    bool between_factors = false;  // the wider of two rows, an engineering choice
    Citation source;
};
[[nodiscard]] MeterLimit limit_at(MeterClass const& of, MeterLoad const& load);

// IEC 61557-12: the class of a meter together with its transformer, 1.15 sqrt(sensor^2 + meter^2), rounded up
// to a listed class. Empty above the highest.
[[nodiscard]] double system_class_exact(double sensor, double meter);
[[nodiscard]] std::optional<double> system_class(double sensor, double meter);

[[nodiscard]] std::vector<MeterClass> iec_meter_classes();   // IEC 62053-22 and -21
[[nodiscard]] std::vector<MeterClass> ansi_meter_classes();  // ANSI C12.20, current class 20
[[nodiscard]] std::vector<MeterClass> eu_meter_classes();    // 2014/32/EU, Annex V: A, B, C
[[nodiscard]] std::vector<MeterClass> pmd_classes();         // IEC 61557-12

}  // namespace phasewright::chain
