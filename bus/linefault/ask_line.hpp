// Asks every planned device of a line several times and keeps all that came back, for the diagnosis. Listens first: a
// line that another master is at work on is not asked. The questions only read, and take turns: one register; the
// serial number of a SunSpec meter, so that two alike at one address do not give the same bytes; function 43/14. Whether
// the device knows them does not matter, a refusal is an answer too.
#pragma once
#include <functional>
#include <optional>
#include <vector>

#include "bus/finder/overheard.hpp"
#include "bus/finder/serial_search.hpp"
#include "bus/finder/stop.hpp"
#include "bus/port/rtu_line.hpp"

namespace phasewright::linefault {

struct AskSettings {
    plan::SerialFormat format;
    int answer_timeout_ms = 1000;  // the planned one; waited is half as long again, so that late answers are seen
    std::vector<std::uint8_t> units;
    int tries = 5;
    double listen_s = finder::least_listening_s;
    finder::SerialMeans means;  // finder::real_means() on a real line
};

struct AskProgress {
    std::uint8_t unit = 0;  // 0: listening
    std::size_t asked = 0, of = 0;
    double left_s = 0.0;
};

struct AskedLine {
    std::vector<port::Exchange> exchanges;
    std::optional<finder::Heard> heard;  // before the first question, when anything was
    std::optional<codec::Fault> fault;   // line_in_use, cancelled, a port that is gone
};
[[nodiscard]] AskedLine ask_line(port::Channel& channel, AskSettings const& settings, finder::Stop& stop,
                                 std::function<void(AskProgress const&)> const& progress = {});

}  // namespace phasewright::linefault
