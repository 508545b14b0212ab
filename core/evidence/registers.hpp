// A register that counts, held against power that was read over the same time.
//   advance = (after - before) + wraps * modulus              (docs/physics/evidence.md, equation 5)
//   true    = integral of P dt, by the trapezoid rule over readings of the same load
// What a register hides is its last place: a reading is cut off, so a difference of two is off by up to one
// last place either way, triangular. A wrap makes the difference negative; more than one shows only by the
// integral. The meter's clock counts where its own time stamps say when a reading was taken: P times its
// error at either end. What the trapezoid rule misses between two readings is estimated by leaving out every
// second one: an engineering choice, labelled so. A pulse carries Kh TF on the primary side; so many pulses
// over a register's advance say what it really carries.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/judgement.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::evidence {

struct RegisterReading {
    double seconds = 0.0;  // on one clock with the powers
    double wh = 0.0;
};
struct PowerReading {
    double seconds = 0.0;
    double watts = 0.0;
};
struct AdvanceTest {
    RegisterReading before, after;
    double last_place_wh = 1000.0;
    std::optional<double> modulus_wh;  // where the register begins again: 99 999.9 kWh wraps at 100 000 kWh
    std::vector<PowerReading> powers;  // by rising time, from `before` to `after`
    double power_u_percent = 0.0;      // standard uncertainty of the powers
    double clock_s = 0.0;              // how well the register's moments are known, half width
    double longest_gap_s = 120.0;      // without a power reading
};
struct AdvanceResult {
    double advance_wh = 0.0;
    int wraps = 0;
    double integrated_wh = 0.0;
    double error_percent = 0.0;
    Judgement judgement;
    std::string hint;             // "the register counts 1000 times as much: Wh shown as kWh"; may be empty
    double seconds_needed = 0.0;  // for the last place to weigh less than a tenth of the limit, at this load
};
[[nodiscard]] std::expected<AdvanceResult, quantity::Fault> advanced(AdvanceTest const& test,
                                                                     AcceptanceLimit const& limit);

struct PulseTest {
    double pulses = 0.0;
    double advance_wh = 0.0;
    double last_place_wh = 1.0;
    double declared_wh = 1.0;  // of a pulse, on the register's side
};
struct PulseResult {
    double wh_per_pulse = 0.0;
    double error_percent = 0.0;  // of the weight against what is declared
    Judgement judgement;
};
[[nodiscard]] std::expected<PulseResult, quantity::Fault> pulse_weighed(PulseTest const& test,
                                                                        AcceptanceLimit const& limit);

}  // namespace phasewright::evidence
