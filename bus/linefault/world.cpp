#include "bus/linefault/posterior.hpp"

namespace phasewright::linefault {

bool has_line_fault(World const& world) { return world.line != LineFault::device_dead; }
bool has_electrical_fault(World const& world) { return world.electrical != LineFault::device_dead; }

bool is_cut_off(World const& world, std::size_t device) {
    int const position = static_cast<int>(device) + 1;
    auto const& trunk = world.trunk;
    return trunk.cut_between(0, position) || trunk.crossed_between(0, position);
}

std::vector<NamedFault> faults_of(World const& world) {
    std::vector<NamedFault> faults;
    if (is_of_trunk(world.trunk.kind))
        faults.push_back({.kind = world.trunk.kind, .after = world.trunk.after, .until = world.trunk.until});
    if (has_line_fault(world)) faults.push_back({.kind = world.line});
    if (has_electrical_fault(world)) faults.push_back({.kind = world.electrical});
    if (world.shared >= 0) faults.push_back({.kind = LineFault::duplicate_address, .device = world.shared});
    for (std::size_t i = 0; i < world.devices.size(); ++i) {
        int const device = static_cast<int>(i);
        if (device == world.moved) {
            faults.push_back({.kind = LineFault::wrong_address, .device = device});
            continue;
        }
        if (device == world.shared) continue;
        switch (world.devices[i]) {
            case DeviceState::ok: break;
            case DeviceState::dead: faults.push_back({.kind = LineFault::device_dead, .device = device}); break;
            case DeviceState::wrong_address: faults.push_back({.kind = LineFault::wrong_address, .device = device}); break;
            case DeviceState::wrong_format:
                faults.push_back({.kind = LineFault::device_wrong_format, .device = device});
                break;
            case DeviceState::drop_crossed: faults.push_back({.kind = LineFault::drop_crossed, .device = device}); break;
            case DeviceState::slow: faults.push_back({.kind = LineFault::device_slow, .device = device}); break;
            case DeviceState::shared_address:
                faults.push_back({.kind = LineFault::duplicate_address, .device = device});
                break;
            case DeviceState::something_else:
                faults.push_back({.kind = LineFault::device_something_else, .device = device});
                break;
        }
    }
    return faults;
}

}  // namespace phasewright::linefault
