#include "core/checks/check_plan.hpp"

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {

std::vector<Subject> const& subjects() {
    static std::vector<Subject> const all{
        {"What the plan leaves open", completeness_rules()},
        {"Service and elements", service_rules()},
        {"Voltages", voltage_rules()},
        {"Voltage taps and their protection", tap_rules()},
        {"Terminals", terminal_rules()},
        {"Current transformers", transformer_rules()},
        {"Burden and window", burden_rules()},
        {"Surroundings", environment_rules()},
        {"Control supply", supply_rules()},
        {"Ground loops", ground_loop_rules()},
        {"Serial lines", line_rules()},
        {"Addresses", address_rules()},
        {"Panels and ways", panel_rules()},
        {"Colours and names", colour_rules()},
        {"Meter tree and sums", tree_rules()},
    };
    return all;
}

Rule const* rule_named(std::string_view id) {
    for (auto const& subject : subjects())
        for (auto const& rule : subject.rules)
            if (rule.id == id) return &rule;
    return nullptr;
}

std::vector<Finding> check_plan(plan::Site const& site, MeterLibrary const& meters, Limits const& limits) {
    Ground const ground(site, meters, limits);
    Notes notes(limits);
    for (auto const& subject : subjects())
        for (auto const& rule : subject.rules) {
            notes.begin(rule);
            rule.look(ground, notes);
        }
    return notes.take();
}

}  // namespace phasewright::checks
