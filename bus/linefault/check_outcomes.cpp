#include "bus/linefault/check_outcomes.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace phasewright::linefault {

namespace {

LineFault electrical_of(World const& world) {
    return has_electrical_fault(world) ? world.electrical : LineFault::something_else;
}

// Integrates a density over the stretches between the bounds and makes the sum one.
template <class Density>
Chances in_stretches(std::span<double const> bounds, double from, double to, double step, Density const& density) {
    Chances chances(bounds.size() + 1, 0.0);
    for (double x = from + 0.5 * step; x < to; x += step) {
        auto const at = static_cast<std::size_t>(std::upper_bound(bounds.begin(), bounds.end(), x) - bounds.begin());
        chances[at] += density(x);
    }
    double sum = 0.0;
    for (double const one : chances) sum += one;
    for (double& one : chances) one /= sum;
    return chances;
}

DeviceState state_of(World const& world, int device) {
    if (device < 0 || device >= static_cast<int>(world.devices.size())) return DeviceState::ok;
    if (device == world.shared) return DeviceState::shared_address;
    if (device == world.moved) return DeviceState::wrong_address;
    return world.devices[static_cast<std::size_t>(device)];
}

Behaviour behaviour_of(World const& world, int device) {
    if (world.line == LineFault::something_else) return Behaviour::anything;
    if (is_cut_off(world, static_cast<std::size_t>(device)))
        return world.trunk.kind == LineFault::half_broken ? Behaviour::behind_half_break : Behaviour::silent;
    switch (state_of(world, device)) {
        case DeviceState::dead:
        case DeviceState::wrong_address:
        case DeviceState::drop_crossed: return Behaviour::silent;
        case DeviceState::wrong_format: return Behaviour::mismatched;
        case DeviceState::slow: return Behaviour::slow;
        case DeviceState::shared_address: return Behaviour::two_at_once;
        case DeviceState::something_else: return Behaviour::anything;
        case DeviceState::ok: break;
    }
    switch (world.line) {
        case LineFault::wrong_format: return Behaviour::mismatched;
        case LineFault::supply_off: return Behaviour::silent;
        case LineFault::gaps_too_short: return Behaviour::short_of_gaps;
        case LineFault::another_master: return Behaviour::under_two_masters;
        default: return has_electrical_fault(world) ? Behaviour::mildly_disturbed : Behaviour::ok;
    }
}

bool any_device(World const& world, std::initializer_list<DeviceState> states) {
    for (std::size_t i = 0; i < world.devices.size(); ++i) {
        if (is_cut_off(world, i)) continue;
        auto const state = state_of(world, static_cast<int>(i));
        if (std::find(states.begin(), states.end(), state) != states.end()) return true;
    }
    return false;
}
}  // namespace

Chances idle_chances(World const& world, int position, std::size_t devices) {
    auto trunk = world.trunk;
    // Exchanged at its own terminals: there the pair reads the other way round.
    if (position > 0 && state_of(world, position - 1) == DeviceState::drop_crossed && !is_of_trunk(trunk.kind))
        trunk = {LineFault::crossed_twice, position - 1, position};
    return in_stretches(idle_bounds_v, -6.0, 6.0, 0.02, [&](double volts) {
        return idle_density({volts, position}, trunk, electrical_of(world), devices);
    });
}

Chances ohms_chances(World const& world, std::size_t devices, double length_m) {
    std::array<double, std::size(ohms_bounds)> logs{};
    std::transform(std::begin(ohms_bounds), std::end(ohms_bounds), logs.begin(), [](double ohm) { return std::log(ohm); });
    return in_stretches(logs, std::log(1.0), std::log(1e7), 0.05, [&](double log_ohms) {
        return ohms_density(std::exp(log_ohms), world.trunk, electrical_of(world), devices, length_m);
    });
}

Chances common_chances(World const& world) {
    return in_stretches(common_bounds_v, 0.0, 400.0, 0.1,
                        [&](double volts) { return common_density(volts, electrical_of(world)); });
}

Chances other_format_chances(World const& world) {
    bool const there = (world.line == LineFault::wrong_format && world.trunk.after != 0) ||
                       any_device(world, {DeviceState::wrong_format});
    return there ? Chances{0.9, 0.1} : Chances{0.01, 0.99};
}

Chances search_chances(World const& world) {
    bool stranger = false;
    for (std::size_t i = 0; i < world.devices.size(); ++i)
        stranger = stranger || (!is_cut_off(world, i) && static_cast<int>(i) != world.moved &&
                                world.devices[i] == DeviceState::wrong_address);
    return stranger ? Chances{0.95, 0.05} : Chances{0.05, 0.95};
}

Chances listen_chances(World const& world) {
    return world.line == LineFault::another_master ? Chances{0.95, 0.05} : Chances{0.01, 0.99};
}

Chances swap_chances(World const& world, int after) {
    bool const here = (world.trunk.kind == LineFault::crossed && world.trunk.after == after) ||
                      (after >= 0 && !is_of_trunk(world.trunk.kind) && after + 1 == static_cast<int>(world.devices.size()) &&
                       state_of(world, after) == DeviceState::drop_crossed);
    return here ? Chances{0.97, 0.03} : Chances{0.01, 0.99};
}

Chances look_chances(World const& world, int device) {
    if (world.line == LineFault::supply_off) return {0.95, 0.03, 0.01, 0.01};
    if (world.line == LineFault::wrong_format) return {0.01, 0.05, 0.01, 0.93};
    if (is_cut_off(world, static_cast<std::size_t>(device))) return {0.01, 0.96, 0.015, 0.015};
    switch (state_of(world, device)) {
        case DeviceState::dead: return {0.8, 0.18, 0.01, 0.01};  // lit, and its bus terminals not connected
        case DeviceState::wrong_address: return {0.01, 0.04, 0.94, 0.01};
        case DeviceState::wrong_format: return {0.01, 0.04, 0.01, 0.94};
        default: return {0.01, 0.96, 0.015, 0.015};
    }
}

Chances unplug_chances(World const& world, int device) {
    return state_of(world, device) == DeviceState::shared_address ? Chances{0.93, 0.07} : Chances{0.01, 0.99};
}

Chances again_chances(World const& world, int device) {
    switch (behaviour_of(world, device)) {
        case Behaviour::ok: return {0.97, 0.02, 0.005, 0.005};
        case Behaviour::mildly_disturbed: return {0.55, 0.40, 0.01, 0.04};
        case Behaviour::strongly_disturbed: return {0.10, 0.60, 0.10, 0.20};
        case Behaviour::drowned: return {0.02, 0.18, 0.20, 0.60};
        case Behaviour::left_idle: return {0.90, 0.06, 0.02, 0.02};
        case Behaviour::silent:
        case Behaviour::behind_crossing: return {0.005, 0.01, 0.965, 0.02};
        case Behaviour::behind_half_break: return {0.10, 0.30, 0.40, 0.20};
        case Behaviour::mismatched: return {0.01, 0.03, 0.70, 0.26};
        case Behaviour::slow: return {0.15, 0.50, 0.34, 0.01};
        case Behaviour::two_at_once: return {0.05, 0.25, 0.03, 0.67};
        case Behaviour::short_of_gaps: return {0.25, 0.60, 0.10, 0.05};
        case Behaviour::under_two_masters: return {0.20, 0.50, 0.05, 0.25};
        case Behaviour::anything: break;
    }
    return {0.25, 0.25, 0.25, 0.25};
}

Chances halve_chances(World const& world, int after) {
    if (world.line != LineFault::device_dead && world.line != LineFault::adapter_echo) return {0.05, 0.95};
    if (is_of_trunk(world.trunk.kind)) return world.trunk.after >= after ? Chances{0.95, 0.05} : Chances{0.03, 0.97};
    if (world.shared >= 0) return world.shared >= after || world.moved >= after ? Chances{0.9, 0.1} : Chances{0.05, 0.95};
    return has_electrical_fault(world) ? Chances{0.5, 0.5} : Chances{0.9, 0.1};
}

}  // namespace phasewright::linefault
