// Numbers and things in the words of a proposal.
#pragma once
#include <string>

#include "core/design/catalogue.hpp"
#include "core/plan/metering_point.hpp"

namespace phasewright::design {

[[nodiscard]] std::string amps(double value);                               // "63 A"; below a tenth "0.4 mA"
[[nodiscard]] std::string metres(double value);                             // "12.5 m"
[[nodiscard]] std::string percent(double value);                            // "1.02 %"
[[nodiscard]] std::string ratio_words(plan::CurrentTransformer const& ct);  // "100/5 A", "200 A / 0.333 V"
[[nodiscard]] std::string ct_words(CtOffer const& offer);     // "100/5 A, class 0.5S (Quillwick Q21-100-5)"
[[nodiscard]] std::string wire_words(WireOffer const& wire);  // "2.5 mm2 stranded copper"

}  // namespace phasewright::design
