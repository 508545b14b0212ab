#include "core/design/words.hpp"

#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
// At most so many decimals, none of them a trailing nought.
std::string short_number(double value, int decimals) {
    double const step = std::pow(10.0, decimals);
    return quantity::shortest(std::round(value * step) / step);
}
std::string maker_and_model(std::string const& maker, std::string const& model) {
    return maker.empty() ? model : maker + " " + model;
}
}  // namespace

std::string amps(double value) {
    return value > 0.0 && value < 0.1 ? short_number(1000.0 * value, 1) + " mA"
                                      : short_number(value, 2) + " A";
}
std::string metres(double value) { return short_number(value, 1) + " m"; }
std::string percent(double value) { return quantity::fixed(value, 2) + " %"; }

std::string ratio_words(plan::CurrentTransformer const& ct) {
    auto const primary = quantity::shortest(ct.ratio.primary);
    switch (ct.output) {
        case plan::CtOutput::millivolts:
        case plan::CtOutput::coil:
            return primary + " A / " + short_number(1000.0 * ct.ratio.secondary, 2) + " mV" +
                   (ct.output == plan::CtOutput::coil ? " coil" : "");
        case plan::CtOutput::milliamperes:
            return primary + " A / " + short_number(1000.0 * ct.ratio.secondary, 2) + " mA";
        default: return primary + "/" + quantity::shortest(ct.ratio.secondary) + " A";
    }
}

std::string ct_words(CtOffer const& offer) {
    auto words = ratio_words(offer.ct);
    if (!offer.ct.accuracy_class.empty()) words += ", class " + offer.ct.accuracy_class;
    return words + " (" + maker_and_model(offer.maker, offer.ct.model) + ")";
}

std::string wire_words(WireOffer const& wire) {
    return plan::text_of(wire.size) + " " + std::string{plan::name_of(wire.strands)} + " " +
           std::string{plan::name_of(wire.metal)};
}

}  // namespace phasewright::design
