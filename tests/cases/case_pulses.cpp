#include "tests/cases/case_pulses.hpp"

#include <cmath>

#include "core/evidence/timing.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::cases {

namespace {
std::optional<std::string> unless_near(Words& words, double value, double wanted) {
    words.must("within");
    double const within = words.number();
    if (words.fault() || std::abs(value - wanted) <= within) return std::nullopt;
    return quantity::shortest(value);
}
}  // namespace

std::optional<std::string> wrong_pulse(Words& words) {
    if (!words.take("time")) {
        double const wanted = words.number_in("Wh");
        words.must("of");
        return unless_near(words, evidence::kh_of_constant(words.number_in("imp/kWh")), wanted);
    }
    double const wanted = words.number_in("s");
    words.must("at Kh");
    double const kh_wh = words.number_in("Wh");
    words.must("TF");
    double const factor = words.number();
    words.must("and");
    return unless_near(words, evidence::seconds_per_pulse(kh_wh, factor, words.number_in("W")), wanted);
}

std::optional<std::string> wrong_pulses(Words& words) {
    double const wanted = words.number_in("W");
    words.must("of");
    double const pulses = words.number();
    words.must("in");
    double const seconds = words.number_in("s");
    words.must("at Kh");
    double const kh_wh = words.number_in("Wh");
    words.must("TF");
    return unless_near(words, evidence::power_by_pulses(kh_wh, words.number(), pulses, seconds), wanted);
}

}  // namespace phasewright::cases
