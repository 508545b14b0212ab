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
    hosts.push_back({.name = name, .port = address.port, .meters = {}});
    return hosts.back();
}
}  // namespace

HostedMeter* Host::meter_at(int unit) {
    auto const found =
        std::ranges::find_if(meters, [&](HostedMeter const& one) { return one.meter->unit() == unit; });
    return found == meters.end() ? nullptr : &*found;
}

BusLine::BusLine(plan::SerialLine planned, Pair pair, std::uint64_t seed)
    : planned_(std::move(planned)), pair_(std::move(pair)), seed_(seed) {}

void BusLine::add(std::string point, int position, BusManners const& manners,
                  std::unique_ptr<VirtualMeter> meter) {
    auto const answer = [answering = meter.get()](codec::BytesView pdu, double time_s) {
        return answering->answer(pdu, time_s);
    };
    devices_.push_back({.name = std::move(point),
                        .position = position,
                        .unit = meter->unit(),
                        .manners = manners,
                        .answer = answer});
    devices_.back().manners.format = meter->format(planned_.format);
    meters_.push_back(std::move(meter));
}

void BusLine::take_settings() {
    for (std::size_t k = 0; k < meters_.size(); ++k) {
        auto& device = bus_ ? bus_->devices()[k] : devices_[k];
        device.unit = meters_[k]->unit();
        device.manners.format = meters_[k]->format(planned_.format);
    }
}

std::vector<TimedByte> BusLine::respond(codec::BytesView question, plan::SerialFormat const& format,
                                        double start_s) {
    if (!bus_) bus_.emplace(pair_, std::move(devices_), seed_for(seed_, planned_.id, 0));
    auto heard = bus_->respond(question, format, start_s);
    take_settings();
    return heard;
}

void BusLine::set_anew(Pair pair, std::map<std::string, MeterTruth> const& meters, double time_s) {
    pair_ = std::move(pair);
    if (bus_) bus_->lay(pair_);
    auto& devices = bus_ ? bus_->devices() : devices_;
    for (std::size_t k = 0; k < devices.size(); ++k) {
        auto const told = meters.find(devices[k].name);
        if (told == meters.end()) continue;
        devices[k].manners = told->second.manners;
        meters_[k]->set_anew(told->second, time_s);
    }
    take_settings();
}

namespace {
std::optional<quantity::Fault> put_on_host(Building& building, plan::MeteringPoint const& point,
                                           BusManners const& manners, std::unique_ptr<VirtualMeter> meter) {
    auto& host = host_of(building.hosts, point);
    if (host.meter_at(meter->unit()) != nullptr)
        return quantity::Fault{
            .what = "two virtual meters would have the same port and unit on this machine",
            .where = "point " + point.id,
            .found = "port " + std::to_string(host.port) + " unit " + std::to_string(meter->unit()),
            .allowed = "another port or unit for each, or port 0",
            .remedy = {}};
    host.meters.push_back({.point = point.id, .manners = manners, .meter = std::move(meter)});
    return std::nullopt;
}

int position_of(plan::Site const& site, plan::MeteringPoint const& point) {
    if (point.address.position > 0) return point.address.position;
    auto const points = along(site, point.address.serial_line);
    return static_cast<int>(std::ranges::find(points, &point) - points.begin()) + 1;
}
}  // namespace

std::expected<Building, quantity::Fault> building_of(plan::Site const& site, WiredSite const& wired,
                                                     BusTruth const& bus, ProfileSource const& profiles) {
    Building building;
    for (auto const& line : site.serial_lines)
        building.lines.emplace_back(line, bus.lines.at(line.id), wired.seed);
    for (auto const& point : site.points) {
        auto const& as_wired = wired.points.at(point.id);
        auto const& supply = wired.supplies.at(point.panel);
        auto face = face_of(point, as_wired, supply, profiles);
        if (!face) return std::unexpected(face.error());
        auto const truth = truth_of(bus, site, point);
        if (face->profile)
            if (auto const fault = without_effect(*face->profile, truth.twist, point.id))
                return std::unexpected(*fault);
        auto meter =
            std::make_unique<VirtualMeter>(point, supply, as_wired, std::move(*face), wired.seed, truth);
        building.by_point.emplace(point.id, meter.get());
        auto const line = std::ranges::find_if(building.lines, [&](BusLine const& one) {
            return one.planned().id == point.address.serial_line;
        });
        if (line != building.lines.end())
            line->add(point.id, position_of(site, point), truth.manners, std::move(meter));
        else if (auto const clash = put_on_host(building, point, truth.manners, std::move(meter)))
            return std::unexpected(*clash);
    }
    return building;
}

}  // namespace phasewright::twin
