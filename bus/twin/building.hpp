// The virtual meters of a plan, each with its place on the bus, before any socket or port is opened.
#pragma once
#include <expected>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bus/twin/serial_bus.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/virtual_meter.hpp"
#include "bus/twin/wired.hpp"

namespace phasewright::twin {

// A meter that is reached over TCP.
struct HostedMeter {
    std::string point;
    BusManners manners;
    std::unique_ptr<VirtualMeter> meter;
    int answers = 0;  // so far
};

// One listening place and the meters behind it.
struct Host {
    std::string name;  // the gateway's id, or the point's
    int port = 0;      // as planned
    std::vector<HostedMeter> meters;

    [[nodiscard]] HostedMeter* meter_at(int unit);  // null: nobody has this address
};

// One serial line and the meters on it, before any port is opened.
class BusLine {
public:
    BusLine(plan::SerialLine planned, Pair pair, std::uint64_t seed);
    void add(std::string point, int position, BusManners const& manners, std::unique_ptr<VirtualMeter> meter);

    [[nodiscard]] plan::SerialLine const& planned() const { return planned_; }
    [[nodiscard]] std::vector<TimedByte> respond(codec::BytesView question, plan::SerialFormat const& format,
                                                 double start_s);
    // The pair lies otherwise from now on, and its meters are set and behave as told.
    void set_anew(Pair pair, std::map<std::string, MeterTruth> const& meters, double time_s);

private:
    void take_settings();  // of the meters: address and format may have been written

    plan::SerialLine planned_;
    Pair pair_;
    std::uint64_t seed_;
    std::vector<std::unique_ptr<VirtualMeter>> meters_;
    std::vector<BusDevice> devices_;
    std::optional<SerialBus> bus_;  // made with the first question
};

struct Building {
    std::vector<Host> hosts;
    std::vector<BusLine> lines;
    std::map<std::string, VirtualMeter*> by_point;  // they live as long as hosts and lines
};
[[nodiscard]] std::expected<Building, quantity::Fault> building_of(plan::Site const& site,
                                                                   WiredSite const& wired,
                                                                   BusTruth const& bus,
                                                                   ProfileSource const& profiles);

}  // namespace phasewright::twin
