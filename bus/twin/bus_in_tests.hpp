// For tests: a building of one riser with serial meters and one meter on Ethernet, served while the test
// runs.
#pragma once
#include <doctest/doctest.h>

#include <chrono>
#include <string>
#include <thread>
#include <utility>

#include "bus/port/rtu_line.hpp"
#include "bus/port/tcp_line.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

namespace phasewright::twin {

inline profile::Profile shipped(std::string const& name) {
    auto read = profile::read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/" + name + ".toml");
    REQUIRE(read);
    return std::move(*read);
}

inline plan::MeteringPoint riser_point(std::string const& id, int position, std::string const& profile) {
    plan::MeteringPoint point{.id = id, .name = id, .panel = "main"};
    point.service = plan::Service::four_wire_wye;
    point.ct.ratio = {200.0, 5.0};
    point.meter_profile = profile;
    point.address = {.unit = position, .serial_line = "riser", .position = position};
    return point;
}

// p1 to p4 on the riser at addresses 1 to 4, and "roof" on Ethernet.
inline plan::Site riser_site(plan::SerialFormat const& format = {}) {
    plan::Site site;
    site.panels.push_back({.id = "main", .name = "Main", .nominal = {230.0, 400.0, 50.0}});
    site.serial_lines.push_back(
        {.id = "riser", .name = "Riser", .device = {}, .format = format, .length_m = 50.0});
    for (int k = 1; k <= 4; ++k)
        site.points.push_back(riser_point("p" + std::to_string(k), k, "hollowick-h1"));
    auto roof = riser_point("roof", 1, "hollowick-h1");
    roof.address = {.host = "127.0.0.1", .port = 0, .unit = 1};
    site.points.push_back(roof);
    return site;
}

inline WiredPoint forty_amps(plan::MeteringPoint const& point) {
    auto wired = as_planned(point);
    for (auto const phase : {plan::Conductor::a, plan::Conductor::b, plan::Conductor::c})
        wired.loads.push_back(
            {.between = std::pair{phase, plan::Conductor::n}, .amps = 40.0, .lag_deg = 20.0});
    return wired;
}

inline WiredSite riser_wired(plan::Site const& site) {
    WiredSite wired;
    wired.supplies["main"] = {.v = {230.0, 230.0, 230.0}};
    for (auto const& point : site.points) wired.points[point.id] = forty_amps(point);
    return wired;
}

class Served {
public:
    Served(plan::Site const& site, BusTruth const& bus)
        : server_(*Server::open(
              site, riser_wired(site), [](std::string const& name) { return shipped(name); }, clock(), bus)),
          running_([this] { server_.run(); }) {}
    Served(Served const&) = delete;
    Served& operator=(Served const&) = delete;
    ~Served() { server_.stop(); }

    [[nodiscard]] Server const& server() const { return server_; }
    [[nodiscard]] std::string device() const { return server_.devices().at("riser"); }
    [[nodiscard]] std::unique_ptr<port::Line> serial(plan::SerialFormat const& format = {},
                                                     int timeout_ms = 3000,
                                                     port::ExchangeListener listener = {}) const {
        port::RtuSettings settings{.format = format, .answer_timeout_ms = timeout_ms, .tries = 1};
        settings.listener = std::move(listener);
        return port::rtu_line(port::serial_channel(device(), format), settings);
    }
    [[nodiscard]] std::unique_ptr<port::Line> roof() const {
        auto const port = static_cast<std::uint16_t>(server_.ports().at("roof"));
        return port::tcp_line({.host = "127.0.0.1", .port = port, .answer_timeout_ms = 3000, .tries = 1});
    }

private:
    static Clock clock() {
        auto const began = std::chrono::steady_clock::now();
        return [began] {
            return std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
        };
    }
    Server server_;
    std::jthread running_;
};

}  // namespace phasewright::twin
