// Who a device is, as far as it says so itself: function 43/14 (MODBUS Application Protocol V1.1b3, clause 6.21) and
// model 1 of SunSpec. Both are asked, because many devices know only one. Nothing is written, and what is not offered
// leaves its field empty.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "bus/port/line.hpp"

namespace phasewright::finder {

struct Identity {
    std::string maker, model, version, serial;
    bool by_function_43 = false;
    bool sunspec = false;             // the marker was found
    std::uint16_t sunspec_base = 0;   // where
    int sunspec_meter_model = 0;      // the first of 201..204, 211..214 that follows; 0: none found
    std::vector<std::string> notes;   // one sentence each

    [[nodiscard]] bool known() const { return by_function_43 || sunspec; }
    friend bool operator==(Identity const&, Identity const&) = default;
};
[[nodiscard]] std::string to_text(Identity const& identity);  // "maker model, serial 1234"; "says nothing about itself"

// Cancelled or closed lines are faults; a device that says nothing is not.
[[nodiscard]] std::expected<Identity, codec::Fault> identify(port::Line& line, std::uint8_t unit);

}  // namespace phasewright::finder
