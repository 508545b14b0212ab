#include "app/commands/program_connections.hpp"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "app/commands/plan_lines.hpp"
#include "bus/finder/serial_search.hpp"
#include "bus/port/tcp_line.hpp"

namespace phasewright::commands {

namespace {

using codec::Fault;
using codec::FaultKind;

class TcpConnection final : public program::Connection {
public:
    TcpConnection(plan::BusAddress const& address, finder::Stop& stop)
        : line_(port::tcp_line({.host = address.host, .port = static_cast<std::uint16_t>(address.port)})),
          hold_(stop, [this] { line_->cancel(); }) {}
    port::Line& line() override { return *line_; }
    std::optional<plan::SerialFormat> format() const override { return std::nullopt; }
    std::expected<void, Fault> reopen(plan::SerialFormat const&) override {
        return std::unexpected(Fault{.kind = FaultKind::not_offered,
                                     .detail = "a line over TCP has no format",
                                     .where = line_->place()});
    }
    std::size_t strange() const override {
        return 0;
    }  // TCP carries whole answers, each with its question's number

private:
    std::unique_ptr<port::Line> line_;
    finder::Stop::Hold hold_;
};

class SerialConnection final : public program::Connection {
public:
    SerialConnection(plan::SerialLine const& planned, plan::SerialFormat const& format, finder::Stop& stop)
        : planned_(planned),
          format_(format),
          channel_(port::serial_channel(planned.device, format)),
          hold_(stop, [this] { channel_->cancel(); }) {}

    std::expected<void, Fault> listen(finder::Stop const& stop) {
        auto const listening =
            finder::listen_first(*channel_, finder::least_listening_s, finder::real_means(), stop);
        if (listening.fault) return std::unexpected(*listening.fault);
        return reopen(format_);
    }
    port::Line& line() override { return *line_; }
    std::optional<plan::SerialFormat> format() const override { return format_; }
    std::expected<void, Fault> reopen(plan::SerialFormat const& format) override {
        line_.reset();
        auto const set = channel_->set_format(format);
        if (set) format_ = format;
        auto settings = rtu_settings_of(planned_);
        settings.format = format_;
        settings.listener = [this](port::Exchange const& exchange) {
            if (program::is_strange(exchange)) ++strange_;
        };
        line_ = port::rtu_line(finder::borrowed(*channel_), std::move(settings));
        return set;
    }
    std::size_t strange() const override { return strange_; }

private:
    plan::SerialLine planned_;
    plan::SerialFormat format_;
    std::unique_ptr<port::Channel> channel_;
    finder::Stop::Hold hold_;
    std::unique_ptr<port::Line> line_;
    std::size_t strange_ = 0;
};

}  // namespace

ProgramConnections::ProgramConnections(plan::Site const& site, finder::Stop& stop,
                                       std::function<void(std::string const&)> told)
    : site_(site), stop_(stop), told_(std::move(told)) {}
ProgramConnections::~ProgramConnections() = default;

std::expected<program::Connection*, Fault> ProgramConnections::to(plan::BusAddress const& address,
                                                                  std::optional<plan::SerialFormat> format) {
    bool const serial = !address.serial_line.empty();
    auto const key = serial ? address.serial_line : fmt::format("{}:{}", address.host, address.port);
    auto& open = open_[key];
    if (!serial) {
        if (!open) open = std::make_unique<TcpConnection>(address, stop_);
        return open.get();
    }
    auto const planned = std::ranges::find(site_.serial_lines, address.serial_line, &plan::SerialLine::id);
    auto const wanted = format.value_or(planned->format);
    if (!open) {
        if (planned->device.empty())
            return std::unexpected(Fault{.kind = FaultKind::unreachable,
                                         .detail = "the plan does not say yet which device the line is on",
                                         .where = planned->id});
        auto made = std::make_unique<SerialConnection>(*planned, wanted, stop_);
        if (told_)
            told_(fmt::format("listening on {} for {:.0f} s before anything is sent", planned->name,
                              finder::least_listening_s));
        if (auto const heard = made->listen(stop_); !heard) return std::unexpected(heard.error());
        open = std::move(made);
    }
    // The meter before may have taken the line to another format.
    if (open->format() != wanted)
        if (auto const done = open->reopen(wanted); !done) return std::unexpected(done.error());
    return open.get();
}

}  // namespace phasewright::commands
