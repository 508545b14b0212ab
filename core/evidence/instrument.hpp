// What a reading of an instrument is worth. A maker states an accuracy as a sum of three parts:
//   a = r % of reading + f % of range + n digits         (of the last place of the display)
// a limit, of which nothing else is known: rectangular, u = a / sqrt(3) (JCGM 100:2008, 4.3.7, from memory).
// It holds within the range, and until the next calibration is due; after that day the statement is history.
// A phase error of a clamp or of a wattmeter costs active power delta tan(phi): nothing at power factor 1,
// 0.05 % a minute at 0.5 (docs/physics/chain.md, equation 12).
#pragma once
#include <expected>
#include <optional>
#include <string>

#include "core/quantity/fault.hpp"

namespace phasewright::evidence {

struct Accuracy {
    double of_reading_percent = 0.0;
    double of_range_percent = 0.0;
    double digits = 0.0;
    double range = 0.0;               // full scale, in the unit of the reading
    double last_place = 0.0;          // what one digit is worth, same unit
    std::optional<double> phase_min;  // plus or minus, minutes of angle, of active power
};

struct Instrument {
    std::string name;  // what it is, for people
    std::string serial;
    Accuracy accuracy;
    std::string certificate;      // its number
    std::string calibrated, due;  // dates: 2026-03-02
};

// The limit at a reading, in its unit. A reading beyond the range is a fault: the statement says nothing
// there.
[[nodiscard]] std::expected<double, quantity::Fault> limit_at(Accuracy const& accuracy, double reading);

// The phase's part of active power, in % of it; nothing where the accuracy says nothing of phase.
[[nodiscard]] double phase_limit_percent(Accuracy const& accuracy, double power_factor);

enum class Calibration { valid, overdue, not_yet, not_said };
// Of the day `on` ("2026-11-25", or a time that begins so). Dates that cannot be read count as not said.
[[nodiscard]] Calibration calibration_on(Instrument const& instrument, std::string const& on);
// Why a result is not provable with it; empty where the calibration holds.
[[nodiscard]] std::optional<std::string> calibration_doubt(Instrument const& instrument,
                                                           std::string const& on);

}  // namespace phasewright::evidence
