#include "bus/twin/building.hpp"

#include <algorithm>
#include <cmath>

#include "bus/twin/meter.hpp"

namespace phasewright::twin {

VirtualMeter::VirtualMeter(plan::MeteringPoint const& point, Supply supply, WiredPoint wired, Face face,
                           std::uint64_t seed)
    : model_(plan::model_of(point.service, point.model_options)),
      supply_(std::move(supply)),
      wired_(std::move(wired)),
      face_(std::move(face)),
      seed_(seed),
      identity_(identity_of(face_)) {}

profile::RegisterImage const& VirtualMeter::registers_at(double time_s) {
    double const held_since_s = std::floor(time_s / refresh_s) * refresh_s;
    if (held_since_s_ != held_since_s) {
        held_ = image_of(face_, shown_at(model_, supply_, wired_, seed_, held_since_s));
        held_since_s_ = held_since_s;
    }
    return held_;
}

codec::Bytes VirtualMeter::answer(codec::BytesView request, double time_s) {
    return answer_pdu(request, registers_at(time_s), identity_);
}

namespace {
std::expected<Face, quantity::Fault> face_of(plan::MeteringPoint const& point, WiredPoint const& wired,
                                             Supply const& supply, ProfileSource const& profiles) {
    Face face{.float_numbers = wired.float_numbers,
              .service = point.service,
              .serial = point.meter_serial,
              .unit = point.address.unit};
    if (!wired.cts.empty()) face.programmed = wired.cts.front().programmed;
    face.highest_v = *std::ranges::max_element(supply.v);
    if (point.meter_profile == "sunspec") return face;
    auto profile = profiles(point.meter_profile);
    if (!profile) return std::unexpected(profile.error());
    if (std::ranges::find(profile->services, point.service, &profile::ServiceShape::service) ==
        profile->services.end())
        return std::unexpected(quantity::Fault{
            .what = "the meter's profile does not list the service of the point",
            .where = "point " + point.id,
            .found =
                std::string{plan::code_of(point.service)} + " with profile \"" + point.meter_profile + "\"",
            .allowed = "a service that the profile lists",
            .remedy = {}});
    face.profile = std::move(*profile);
    return face;
}

// Points that share a gateway, or the same port of their own, share a listening place.
Host& host_of(std::vector<Host>& hosts, plan::MeteringPoint const& point) {
    auto const& address = point.address;
    auto const name = address.gateway.empty() ? point.id : address.gateway;
    auto const shared = std::ranges::find_if(hosts, [&](Host const& host) {
        return address.port == 0 ? host.name == name : host.port == address.port;
    });
    if (shared != hosts.end()) return *shared;
    hosts.push_back({.name = name, .port = address.port, .units = {}, .points = {}});
    return hosts.back();
}
}  // namespace

std::expected<std::vector<Host>, quantity::Fault> hosts_of(plan::Site const& site, WiredSite const& wired,
                                                           ProfileSource const& profiles) {
    std::vector<Host> hosts;
    for (auto const& point : site.points) {
        auto const& as_wired = wired.points.at(point.id);
        auto const& supply = wired.supplies.at(point.panel);
        auto face = face_of(point, as_wired, supply, profiles);
        if (!face) return std::unexpected(face.error());
        auto& host = host_of(hosts, point);
        bool const is_new = host.units
                                .emplace(point.address.unit,
                                         VirtualMeter{point, supply, as_wired, std::move(*face), wired.seed})
                                .second;
        if (!is_new)
            return std::unexpected(quantity::Fault{
                .what = "two virtual meters would have the same port and unit on this machine",
                .where = "point " + point.id,
                .found = "port " + std::to_string(host.port) + " unit " + std::to_string(point.address.unit),
                .allowed = "another port or unit for each, or port 0",
                .remedy = {}});
        host.points.push_back(point.id);
    }
    return hosts;
}

}  // namespace phasewright::twin
