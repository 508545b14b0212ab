// Finds devices over Modbus TCP: the units behind one gateway, or the hosts of a list that somebody named.
// A gateway answers for its serial side: exceptions 0A and 0B say that the unit is not there (MODBUS Application
// Protocol V1.1b3, clause 7), and they come when the gateway's own wait is over. So the wait here is long, and what it
// really takes is measured.
#pragma once
#include <expected>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "bus/finder/found.hpp"
#include "bus/finder/search_plan.hpp"
#include "bus/finder/stop.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::finder {

struct HostPlace {
    std::string host;
    std::uint16_t port = 502;
    friend bool operator==(HostPlace const&, HostPlace const&) = default;
};

inline constexpr std::size_t most_hosts = 1024;       // in one list
inline constexpr std::size_t hosts_at_a_time = 16;    // asked in parallel

// "192.0.2.10-20", "192.0.2.10-192.0.2.20", "meter-3:1502,192.0.2.7"
[[nodiscard]] std::expected<std::vector<HostPlace>, quantity::Fault> read_host_list(std::string_view text,
                                                                                     std::uint16_t port = 502);
[[nodiscard]] std::string to_text(HostPlace const& place);  // "192.0.2.7:502"

using LineMaker = std::function<std::unique_ptr<port::Line>(HostPlace const&)>;
[[nodiscard]] LineMaker real_tcp_lines(int answer_timeout_ms);

struct GatewaySearch {
    SearchSettings search;  // formats are ignored; quick_wait_ms is what one silent unit is expected to take at first
};
[[nodiscard]] Found find_behind_gateway(port::Line& line, GatewaySearch const& search, Stop& stop,
                                        ProgressListener const& progress = {});

struct HostSearch {
    std::vector<HostPlace> places;
    // Asked in this order at each host, until one answers: a device on its own takes any of the last three
    // (MODBUS Messaging on TCP/IP V1.0b, clause 3.1.3, wants 255; 1 and 0 are common practice, no source).
    std::vector<std::uint8_t> units{1, 255, 0};
    std::size_t at_a_time = hosts_at_a_time;
};
// One entry a host, in the order of the list. `progress` is told from several threads, one at a time.
[[nodiscard]] std::vector<Found> find_hosts(HostSearch const& search, LineMaker const& line_to, Stop& stop,
                                            ProgressListener const& progress = {});

}  // namespace phasewright::finder
