// Finds the devices on one serial line. First it only listens: a line on which another master is at work is never
// given a second one (MODBUS over Serial Line V1.02, 2.1: one master at a time). Then the search plan's probes: one
// register read (function 3), the cheapest question that every device answers, be it with a refusal.
#pragma once
#include <functional>
#include <memory>

#include "bus/finder/found.hpp"
#include "bus/finder/search_plan.hpp"
#include "bus/finder/stop.hpp"
#include "bus/port/rtu_line.hpp"

namespace phasewright::finder {

inline constexpr double least_listening_s = 10.0;

// How it listens and asks; tests put their own line here.
struct SerialMeans {
    std::function<std::expected<port::Overheard, codec::Fault>(port::Channel&, double)> listen;
    std::function<std::unique_ptr<port::Line>(std::unique_ptr<port::Channel>, port::RtuSettings)> line;
};
[[nodiscard]] SerialMeans real_means();

struct SerialSearch {
    SearchSettings search;
    double listen_s = least_listening_s;  // less counts as that
    SerialMeans means;  // real_means() on a real line
};

[[nodiscard]] Found find_on_serial(port::Channel& channel, SerialSearch const& search, Stop& stop,
                                   ProgressListener const& progress = {});

// Listens, and gives what was heard; anything at all is a reason to send nothing (fault of kind line_in_use). One or
// two lone bytes, as a plug makes them, are listened after once more.
struct Listening {
    std::optional<Heard> heard;
    std::optional<codec::Fault> fault;  // line_in_use, cancelled, or why it could not listen
};
[[nodiscard]] Listening listen_first(port::Channel& channel, double listen_s, SerialMeans const& means, Stop const& stop);

// The same channel under several lines, one after the other: it stays open and claimed between them.
[[nodiscard]] std::unique_ptr<port::Channel> borrowed(port::Channel& channel);

}  // namespace phasewright::finder
