// `phasewright mistakes`: the page docs/reference/mistakes.md, written by the forward model. Every mistake
// that the diagnosis weighs is made on a right wiring, one at a time, under a balanced load, and what each
// element of the meter then shows is computed: nothing on the page is typed by hand.
#pragma once
#include <optional>
#include <string>

namespace phasewright::commands {

// x as a small fraction or a small multiple of the square root of three: "-1/2", "sqrt3/2" and so on, in
// Unicode. Empty where it is neither.
[[nodiscard]] std::optional<std::string> as_surd(double x);

// Registered / true power of a balanced load whose current lags by phi: rational + slope * tan phi.
struct ShareLaw {
    double constant = 0.0;
    double slope = 0.0;
    [[nodiscard]] double at_power_factor(double lagging) const;
};
[[nodiscard]] std::string words_of(ShareLaw const& law);  // "1/2 − tan φ/(2√3)"

[[nodiscard]] std::string mistakes_page();

}  // namespace phasewright::commands
