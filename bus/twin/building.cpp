#include "bus/twin/building.hpp"

#include <algorithm>
#include <utility>

#include "bus/twin/dice.hpp"
namespace phasewright::twin {

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
    hosts.push_back({.name = name, .port = address.port, .meters = {}, .points = {}});
    return hosts.back();
}
}  // namespace

VirtualMeter* Host::meter_at(int unit) {
    auto const found = std::ranges::find_if(meters, [&](auto const& meter) { return meter->unit() == unit; });
    return found == meters.end() ? nullptr : found->get();
}

void BusLine::add(std::string name, int position, BusManners const& manners, std::unique_ptr<VirtualMeter> meter) {
    auto* const answering = meter.get();
    devices_.push_back({.name = std::move(name),
                        .position = position,
                        .unit = meter->unit(),
                        .manners = manners,
                        .answer = [answering](codec::BytesView pdu, double time_s) { return answering->answer(pdu, time_s); }});
    devices_.back().manners.format = meter->format(planned_.format);
    meters_.push_back(std::move(meter));
}

std::vector<TimedByte> BusLine::respond(codec::BytesView question, plan::SerialFormat const& format, double start_s) {
    if (!bus_) bus_.emplace(pair_, std::move(devices_), seed_for(seed_, planned_.id, 0));
    auto heard = bus_->respond(question, format, start_s);
    // Address and format may have been written just now.
    for (std::size_t k = 0; k < meters_.size(); ++k) {
        bus_->devices()[k].unit = meters_[k]->unit();
        bus_->devices()[k].manners.format = meters_[k]->format(planned_.format);
    }
    return heard;
}

namespace {
std::optional<quantity::Fault> put_on_host(Building& building, plan::MeteringPoint const& point,
                                           std::unique_ptr<VirtualMeter> meter) {
    auto& host = host_of(building.hosts, point);
    if (host.meter_at(meter->unit()) != nullptr)
        return quantity::Fault{
            .what = "two virtual meters would have the same port and unit on this machine",
            .where = "point " + point.id,
            .found = "port " + std::to_string(host.port) + " unit " + std::to_string(meter->unit()),
            .allowed = "another port or unit for each, or port 0",
            .remedy = {}};
    host.points.push_back(point.id);
    host.meters.push_back(std::move(meter));
    return std::nullopt;
}

int position_of(plan::Site const& site, plan::MeteringPoint const& point) {
    if (point.address.position > 0) return point.address.position;
    auto const points = along(site, point.address.serial_line);
    return static_cast<int>(std::ranges::find(points, &point) - points.begin()) + 1;
}
}  // namespace

std::expected<Building, quantity::Fault> building_of(plan::Site const& site, WiredSite const& wired, BusTruth const& bus,
                                                     ProfileSource const& profiles) {
    Building building;
    for (auto const& line : site.serial_lines) building.lines.emplace_back(line, bus.lines.at(line.id), wired.seed);
    for (auto const& point : site.points) {
        auto const& as_wired = wired.points.at(point.id);
        auto const& supply = wired.supplies.at(point.panel);
        auto face = face_of(point, as_wired, supply, profiles);
        if (!face) return std::unexpected(face.error());
        auto const told = bus.meters.find(point.id);
        auto truth = told == bus.meters.end() ? MeterTruth{} : told->second;
        for (auto const& line : site.serial_lines)
            if (line.id == point.address.serial_line && !truth.format) truth.format = line.format;
        auto meter = std::make_unique<VirtualMeter>(point, supply, as_wired, std::move(*face), wired.seed, truth);
        building.by_point.emplace(point.id, meter.get());
        auto const line = std::ranges::find_if(
            building.lines, [&](BusLine const& one) { return one.planned().id == point.address.serial_line; });
        if (line != building.lines.end())
            line->add(point.id, position_of(site, point), truth.manners, std::move(meter));
        else if (auto const clash = put_on_host(building, point, std::move(meter)))
            return std::unexpected(*clash);
    }
    return building;
}

}  // namespace phasewright::twin
