// What can be wrong with a serial line, and how often it is before anything was asked.
// Nobody has published how often these mistakes are made: every number is common practice, no source. They are data, in
// one table, so that whoever counts their own jobs can change them (docs/reference/bus-check.md).
// Four things are independent before the first question: the trunk, the line as a whole, its electrical dress
// (terminators, polarization, common), and each device. Any of them may be wrong together.
#pragma once
#include <string_view>
#include <vector>

namespace phasewright::linefault {

enum class LineFault {
    // the trunk: at the head (after = 0), or between the after-th device and the next
    crossed,      // D0 and D1 exchanged: everything behind hears nothing that it understands
    broken,       // both conductors open
    half_broken,  // one conductor open: what still couples is weak
    crossed_twice,  // exchanged at one joint and back again at a later one: only those between are cut off
    // the line as a whole
    wrong_format,    // speed or parity of the plan is not that of the devices
    supply_off,      // no device has its supply, or all are switched off
    gaps_too_short,  // devices need more silence before the next question
    another_master,
    adapter_echo,    // the adapter hears itself; a setting, hardly a fault
    something_else,  // nothing in this list
    // electrical dress: bytes cannot tell these from each other
    missing_terminator,
    surplus_terminators,
    no_bias,
    two_biases,
    missing_common,
    disturbed,  // interference, a poor joint, a shield at both ends
    // one device
    device_dead,
    wrong_address,
    device_wrong_format,
    drop_crossed,     // D0 and D1 exchanged at its own terminals, the trunk goes on well
    device_slow,
    duplicate_address,  // another device answers at its address too
    device_something_else,
};
[[nodiscard]] std::string_view name_of(LineFault fault);  // "crossed"; stored by name
[[nodiscard]] bool is_electrical(LineFault fault);        // only volts and ohms take one of these above one half
[[nodiscard]] bool is_of_device(LineFault fault);
[[nodiscard]] bool is_of_trunk(LineFault fault);

struct NamedFault {
    LineFault kind = LineFault::something_else;
    int after = -1;   // trunk faults: 0 at the head, 8 between the 8th and the 9th device
    int until = -1;   // crossed_twice: the later joint
    int device = -1;  // device faults: its place in Evidence::devices, from 0
    friend bool operator==(NamedFault const&, NamedFault const&) = default;
    friend auto operator<=>(NamedFault const&, NamedFault const&) = default;
};

// Probabilities before the first question.
struct Priors {
    struct Trunk {
        double crossed_at_head = 0.02, crossed_at_a_joint = 0.035;  // a joint: over all joints together
        double broken_at_head = 0.012, broken_at_a_joint = 0.028;
        double half_broken = 0.015;
        double crossed_twice = 0.004;
    } trunk;
    struct Line {
        double wrong_format = 0.03, supply_off = 0.01, gaps_too_short = 0.01, another_master = 0.01;
        double adapter_echo = 0.02, something_else = 0.02;
    } line;
    // No one of them may reach half of their sum: then bytes, which cannot tell them apart, never take one above 0.5.
    struct Electrical {
        double missing_terminator = 0.08, surplus_terminators = 0.03, no_bias = 0.05, two_biases = 0.02;
        double missing_common = 0.05, disturbed = 0.04;
    } electrical;
    struct Device {  // each device
        double dead = 0.012, wrong_address = 0.015, wrong_format = 0.012, drop_crossed = 0.008, slow = 0.004;
        double duplicate_by_stranger = 0.003, something_else = 0.003;
    } device;
    double duplicate_by_planned = 0.025;  // over all pairs: one planned device answers at another's address
};

// The electrical faults in the order of the enum, with their probabilities.
struct ElectricalPrior {
    LineFault fault;
    double probability;
};
[[nodiscard]] std::vector<ElectricalPrior> electrical_priors(Priors const& priors);

}  // namespace phasewright::linefault
