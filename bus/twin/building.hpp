// The virtual meters of a plan, each with its place on the bus, before any socket is opened.
#pragma once
#include <expected>
#include <map>
#include <string>
#include <vector>

#include "bus/twin/registers.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired.hpp"

namespace phasewright::twin {

// One meter: what it is wired to, and the registers that it holds since its last measurement.
class VirtualMeter {
public:
    VirtualMeter(plan::MeteringPoint const& point, Supply supply, WiredPoint wired, Face face,
                 std::uint64_t seed);
    [[nodiscard]] profile::RegisterImage const& registers_at(double time_s);
    [[nodiscard]] codec::Bytes answer(codec::BytesView request, double time_s);

private:
    plan::ServiceModel model_;
    Supply supply_;
    WiredPoint wired_;
    Face face_;
    std::uint64_t seed_;
    std::vector<codec::IdentificationObject> identity_;
    std::optional<double> held_since_s_;
    profile::RegisterImage held_;
};

// One listening place and the meters behind it.
struct Host {
    std::string name;  // the gateway's id, or the point's
    int port = 0;      // as planned
    std::map<int, VirtualMeter> units;
    std::vector<std::string> points;
};

[[nodiscard]] std::expected<std::vector<Host>, quantity::Fault> hosts_of(plan::Site const& site,
                                                                         WiredSite const& wired,
                                                                         ProfileSource const& profiles);

}  // namespace phasewright::twin
