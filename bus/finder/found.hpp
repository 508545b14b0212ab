// What a search found, and how far it is while it goes on.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "bus/codec/fault.hpp"
#include "bus/finder/identity.hpp"
#include "bus/finder/overheard.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::finder {

struct FoundDevice {
    std::uint8_t unit = 0;
    std::optional<plan::SerialFormat> format;  // empty where the line has none
    double answered_s = 0.0;                   // from the question on
    bool asked_who = false;                    // false: the search ended before that
    Identity identity;
};

// Bytes came at this unit and made no frame: two devices at one address, or one that speaks otherwise.
struct DoubtfulUnit {
    std::uint8_t unit = 0;
    std::optional<plan::SerialFormat> format;
};

struct Found {
    std::string place;     // "/dev/ttyUSB0", "192.0.2.7:502"
    std::string line;      // id of the plan's serial line or gateway, where it is one
    std::vector<FoundDevice> devices;
    std::vector<DoubtfulUnit> doubtful;
    std::optional<codec::Fault> fault;  // why it could not be searched, or not to the end
    std::optional<Heard> heard;         // what was heard before the first question, when anything was
    bool echoes = false;                // the adapter hears itself
    bool any_unit = false;              // one device that answers whatever unit is asked
    std::size_t asked = 0;
    double took_s = 0.0;
    std::vector<std::string> notes;     // one sentence each

    [[nodiscard]] bool cancelled() const { return fault && fault->kind == codec::FaultKind::cancelled; }
};

struct SearchProgress {
    std::string place;
    std::string doing;      // "listening", "asking", "identifying"
    std::string format;     // "19200 8E1"; empty where the line has none
    int unit = 0;
    std::size_t asked = 0, left = 0, found = 0;
    double left_s = 0.0;    // at most
};
using ProgressListener = std::function<void(SearchProgress const&)>;

}  // namespace phasewright::finder
