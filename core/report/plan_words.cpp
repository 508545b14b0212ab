// Words that several papers of a plan share.
#include <cmath>

#include "core/quantity/text.hpp"
#include "core/report/plan_wiring.hpp"

namespace phasewright::report {

std::string ct_words(plan::MeteringPoint const& point) {
    if (point.to_choose.ct) return "to be chosen";
    auto const& ct = point.ct;
    std::string unit = " A";
    auto secondary = ct.ratio.secondary;
    if (ct.output == plan::CtOutput::millivolts || ct.output == plan::CtOutput::coil) {
        unit = " mV";
        secondary *= 1e3;
    } else if (ct.output == plan::CtOutput::milliamperes) {
        unit = " mA";
        secondary *= 1e3;
    }
    bool const one_unit = unit == " A";
    std::string words = quantity::shortest(ct.ratio.primary) + (one_unit ? "/" : " A/") +
                        quantity::shortest(std::round(secondary * 1e6) / 1e6) + unit;
    if (ct.output == plan::CtOutput::coil) words += ", air-core coil";
    if (!ct.accuracy_class.empty()) words += ", class " + ct.accuracy_class;
    return words;
}

std::string nominal_words(plan::Nominal const& nominal) {
    std::string words;
    if (nominal.v_ll > 0.0) words = quantity::shortest(nominal.v_ll);
    if (nominal.v_ln > 0.0) words += (words.empty() ? "" : "/") + quantity::shortest(nominal.v_ln);
    words += " V";
    if (nominal.hz > 0.0) words += ", " + quantity::shortest(nominal.hz) + " Hz";
    return words;
}

std::string earth_word(plan::Region const& region) { return region.earth == "G" ? "ground" : "earth"; }

std::string size_words(std::optional<plan::ConductorSize> const& size) {
    if (!size) return {};
    auto text = plan::text_of(*size);
    if (text.ends_with("mm2")) text.replace(text.size() - 3, 3, "mm\u00b2");
    // A number and its unit stay on one line.
    if (auto const space = text.find(' '); space != std::string::npos) text.replace(space, 1, "\u00a0");
    return text;
}

std::string length_words(plan::Region const& region, double metres) {
    if (region.sizes != plan::SizeSystem::awg) return quantity::shortest(metres) + "\u00a0m";
    constexpr double metres_in_a_foot = 0.3048;
    double const feet = metres / metres_in_a_foot;
    return quantity::fixed(feet, feet < 10.0 ? 1 : 0) + "\u00a0ft";
}

std::string joint_words(Joint const& joint) {
    return joint.terminal.empty() ? joint.place : joint.place + " " + joint.terminal;
}

plan::Panel const* panel_of(plan::Site const& site, std::string_view id) {
    for (auto const& panel : site.panels)
        if (panel.id == id) return &panel;
    return nullptr;
}

bool wants_block(plan::CurrentTransformer const& ct) {
    return plan::is_current_loop(ct.output) && ct.shorting != plan::Shorting::none &&
           ct.shorting != plan::Shorting::built_in;
}

std::string rule_words(plan::Region const& region, std::string_view id) {
    auto const* const rule = plan::rule_of(region, id);
    if (rule == nullptr) return {};
    std::string words = rule->text + " (" + rule->standard;
    words += rule->edition.empty() ? ", edition in force" : ", " + rule->edition;
    if (!rule->clause.empty()) words += ", " + rule->clause;
    return words + ")";
}

}  // namespace phasewright::report
