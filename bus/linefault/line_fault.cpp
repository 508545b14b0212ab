#include "bus/linefault/line_fault.hpp"

namespace phasewright::linefault {

std::string_view name_of(LineFault fault) {
    switch (fault) {
        case LineFault::crossed: return "crossed";
        case LineFault::broken: return "broken";
        case LineFault::half_broken: return "half_broken";
        case LineFault::crossed_twice: return "crossed_twice";
        case LineFault::wrong_format: return "wrong_format";
        case LineFault::supply_off: return "supply_off";
        case LineFault::gaps_too_short: return "gaps_too_short";
        case LineFault::another_master: return "another_master";
        case LineFault::adapter_echo: return "adapter_echo";
        case LineFault::something_else: return "something_else";
        case LineFault::missing_terminator: return "missing_terminator";
        case LineFault::surplus_terminators: return "surplus_terminators";
        case LineFault::no_bias: return "no_bias";
        case LineFault::two_biases: return "two_biases";
        case LineFault::missing_common: return "missing_common";
        case LineFault::disturbed: return "disturbed";
        case LineFault::device_dead: return "device_dead";
        case LineFault::wrong_address: return "wrong_address";
        case LineFault::device_wrong_format: return "device_wrong_format";
        case LineFault::drop_crossed: return "drop_crossed";
        case LineFault::device_slow: return "device_slow";
        case LineFault::duplicate_address: return "duplicate_address";
        case LineFault::device_something_else: return "device_something_else";
    }
    return "unknown";
}

bool is_electrical(LineFault fault) {
    return fault >= LineFault::missing_terminator && fault <= LineFault::disturbed;
}
bool is_of_device(LineFault fault) { return fault >= LineFault::device_dead; }
bool is_of_trunk(LineFault fault) { return fault <= LineFault::crossed_twice; }

std::vector<ElectricalPrior> electrical_priors(Priors const& priors) {
    auto const& electrical = priors.electrical;
    return {{LineFault::missing_terminator, electrical.missing_terminator},
            {LineFault::surplus_terminators, electrical.surplus_terminators},
            {LineFault::no_bias, electrical.no_bias},
            {LineFault::two_biases, electrical.two_biases},
            {LineFault::missing_common, electrical.missing_common},
            {LineFault::disturbed, electrical.disturbed}};
}

}  // namespace phasewright::linefault
