// The lines of a plan, opened when they are first needed: one TCP connection for each host and port, one RTU line for
// each serial line, shared by all meters on it.
#pragma once
#include <map>
#include <memory>
#include <string>
#include <utility>

#include "bus/port/line.hpp"
#include "bus/port/rtu_line.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

class PlanLines {
public:
    // The site must outlive the lines. `listener` is told of every try on every serial line.
    explicit PlanLines(plan::Site const& site, port::ExchangeListener listener = {});

    // `address` is one of the site's points.
    [[nodiscard]] port::Line& to(plan::BusAddress const& address);
    void cancel() noexcept;  // every line that is open

private:
    plan::Site const& site_;
    port::ExchangeListener listener_;
    std::map<std::pair<std::string, int>, std::unique_ptr<port::Line>> open_;  // by host or serial line, and port
};

// The settings of one planned serial line.
[[nodiscard]] port::RtuSettings rtu_settings_of(plan::SerialLine const& line);

}  // namespace phasewright::commands
