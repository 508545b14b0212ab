// The ways to the meters that are programmed: one for each line of the plan, opened when it is first needed.
// A serial line is listened to for 10 s before anything is sent; where another master is heard it stays
// closed.
#pragma once
#include <expected>
#include <functional>
#include <map>
#include <memory>
#include <string>

#include "bus/finder/stop.hpp"
#include "bus/program/connection.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

class ProgramConnections {
public:
    // `told` hears what is waited for: "listening on line 2 for 10 s".
    ProgramConnections(plan::Site const& site, finder::Stop& stop,
                       std::function<void(std::string const&)> told);
    ~ProgramConnections();
    ProgramConnections(ProgramConnections const&) = delete;
    ProgramConnections& operator=(ProgramConnections const&) = delete;
    ProgramConnections(ProgramConnections&&) = delete;
    ProgramConnections& operator=(ProgramConnections&&) = delete;

    // On a serial line in that format, or in the planned one.
    [[nodiscard]] std::expected<program::Connection*, codec::Fault> to(
        plan::BusAddress const& address, std::optional<plan::SerialFormat> format);

private:
    plan::Site const& site_;
    finder::Stop& stop_;
    std::function<void(std::string const&)> told_;
    std::map<std::string, std::unique_ptr<program::Connection>> open_;
};

}  // namespace phasewright::commands
