#include "core/plan/meter_hardware.hpp"

#include <algorithm>

namespace phasewright::plan {

std::string_view name_of(BusRole role) {
    switch (role) {
        case BusRole::d1: return "d1";
        case BusRole::d0: return "d0";
        case BusRole::common: return "common";
        case BusRole::shield: return "shield";
        case BusRole::socket: return "socket";
    }
    return "d1";
}

std::string_view name_of(SupplyRole role) {
    switch (role) {
        case SupplyRole::line: return "line";
        case SupplyRole::neutral: return "neutral";
        case SupplyRole::second_line: return "second-line";
        case SupplyRole::positive: return "positive";
        case SupplyRole::negative: return "negative";
        case SupplyRole::earth: return "earth";
    }
    return "line";
}

std::string_view name_of(WireUse use) {
    switch (use) {
        case WireUse::voltage: return "voltage";
        case WireUse::current: return "current";
        case WireUse::supply: return "supply";
        case WireUse::bus: return "bus";
        case WireUse::earth: return "earth";
    }
    return "voltage";
}

std::string_view name_of(SupplyKind kind) {
    switch (kind) {
        case SupplyKind::ac: return "ac";
        case SupplyKind::dc: return "dc";
        case SupplyKind::ac_or_dc: return "ac-or-dc";
        case SupplyKind::voltage_inputs: return "voltage-inputs";
    }
    return "ac";
}

std::string_view name_of(BusKind kind) {
    switch (kind) {
        case BusKind::serial: return "serial";
        case BusKind::ethernet: return "ethernet";
        case BusKind::either: return "either";
        case BusKind::both: return "both";
    }
    return "serial";
}

CurrentInput const* input_for(MeterHardware const& meter, CtOutput output) {
    auto const found = std::ranges::find(meter.current_inputs, output, &CurrentInput::output);
    return found == meter.current_inputs.end() ? nullptr : &*found;
}

WireRange const* wires_for(MeterHardware const& meter, WireUse use) {
    auto const found = std::ranges::find(meter.wires, use, &WireRange::use);
    return found == meter.wires.end() ? nullptr : &*found;
}

}  // namespace phasewright::plan
