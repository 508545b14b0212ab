// A building's virtual meters on the network and on serial lines: one TCP port for each meter or gateway, one
// pseudo-terminal for each serial line, any number of clients at once, one thread. Which unit is asked
// decides which meter answers; a unit that is not there is answered over TCP as a gateway answers for a
// silent line (exception 0B). Source: MODBUS Messaging on TCP/IP Implementation Guide V1.0b.
#pragma once
#include <expected>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>

#include "bus/profile/profile.hpp"
#include "bus/twin/bus_truth.hpp"
#include "bus/twin/wired.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::twin {

using Clock = std::function<double()>;  // seconds since whatever moment the loads should wander from
using ProfileSource =
    std::function<std::expected<profile::Profile, quantity::Fault>(std::string const& name)>;

class Server {
public:
    // Listens on 127.0.0.1 for every point of the plan that is reached over TCP; a port of 0 is chosen by the
    // operating system. The bus is as planned where nothing else is told.
    [[nodiscard]] static std::expected<Server, quantity::Fault> open(plan::Site const& site,
                                                                     WiredSite const& wired,
                                                                     ProfileSource const& profiles,
                                                                     Clock clock,
                                                                     std::optional<BusTruth> const& bus = {});
    Server(Server&&) noexcept;
    Server& operator=(Server&&) noexcept;
    Server(Server const&) = delete;
    Server& operator=(Server const&) = delete;
    ~Server();

    [[nodiscard]] std::map<std::string, int> const& ports() const;  // by point id
    [[nodiscard]] std::map<std::string, std::string> const& devices()
        const;  // "/dev/pts/7", by serial line id
    // From any thread: the leads of these points run otherwise from now on, and the buses are as told, where
    // they are told of. Points of another plan are passed over. What is asked afterwards finds it so.
    // Refused as a whole: registers that are told to be laid out as the meter's profile does not allow.
    [[nodiscard]] std::expected<void, quantity::Fault> rewire(WiredSite wired,
                                                              std::optional<BusTruth> bus = {}) const;
    void run();         // answers until stop(); call it once
    void stop() const;  // from any thread, before or during run()

private:
    struct State;
    explicit Server(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace phasewright::twin
