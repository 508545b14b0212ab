// For tests: one virtual SunSpec meter, unit 3 behind a loopback port that the system chooses.
#pragma once
#include <optional>
#include <thread>

#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

namespace phasewright::journeys {

class OneMeter {
public:
    OneMeter() {
        site_.panels = {{.id = "main", .name = {}, .nominal = {230.0, 400.0, 50.0}}};
        wired_.supplies["main"] = {.v = {231.0, 229.0, 232.0}};
        plan::MeteringPoint point{.id = "tenant",
                                  .panel = "main",
                                  .service = plan::Service::four_wire_wye,
                                  .meter_profile = "sunspec",
                                  .meter_serial = "S-1",
                                  .address = {"127.0.0.1", 0, 3, "line-1"}};
        point.ct.ratio = {100.0, 5.0};
        wired_.points.emplace("tenant", twin::as_planned(point));
        site_.points.push_back(point);
        auto opened = twin::Server::open(
            site_, wired_,
            [](std::string const& name) -> std::expected<profile::Profile, quantity::Fault> {
                return std::unexpected(quantity::Fault{.what = "no profile " + name});
            },
            [] { return 0.0; });
        if (!opened) throw std::runtime_error(opened.error().what);
        server_.emplace(std::move(*opened));
        thread_ = std::thread([this] { server_->run(); });
    }
    OneMeter(OneMeter const&) = delete;
    OneMeter& operator=(OneMeter const&) = delete;
    ~OneMeter() {
        server_->stop();
        thread_.join();
    }
    [[nodiscard]] int port() const { return server_->ports().at("tenant"); }

private:
    plan::Site site_;
    twin::WiredSite wired_;
    std::optional<twin::Server> server_;
    std::thread thread_;
};

}  // namespace phasewright::journeys
