#include <doctest/doctest.h>

#include "bus/codec/question.hpp"
#include "bus/finder/host_search.hpp"
#include "bus/profile/image_in_tests.hpp"
#include "bus/profile/sunspec.hpp"

namespace phasewright::finder {

namespace {
using codec::Fault;
using codec::FaultKind;

profile::RegisterImage meter(std::string const& serial) {
    readings::Snapshot shown;
    shown.v = {230.0, 230.0, 230.0};
    return profile::sunspec_image(203, shown, {.maker = "Invented", .model = "Three", .serial = serial});
}

// A gateway with meters behind it; who is not there gets exception 0B after a second, as the gateway's own wait.
class SimulatedGateway final : public port::Line {
public:
    std::map<int, profile::RegisterImage> meters;
    bool any_unit = false;
    bool answers_at_all = true;
    int questions = 0;
    double clock_s = 0.0;

    std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override {
        ++questions;
        auto const at = any_unit ? meters.begin() : meters.find(unit);
        auto const function = codec::u8_at(question, 0);
        clock_s += at == meters.end() ? 1.0 : 0.05;
        if (!answers_at_all) return std::unexpected(Fault{.kind = FaultKind::unreachable});
        if (at == meters.end()) return codec::exception_pdu(function, codec::ExceptionCode::gateway_target_failed_to_respond);
        auto const asked = codec::parse_question(question);
        auto const* const read = asked ? std::get_if<codec::ReadRegisters>(&*asked) : nullptr;
        if (read == nullptr) return codec::exception_pdu(function, codec::ExceptionCode::illegal_function);
        auto const values = profile::serve(at->second, *read);
        return values ? codec::registers_pdu(*read, *values) : codec::exception_pdu(function, values.error());
    }
    std::string place() const override { return "192.0.2.7:502"; }
    double now_s() const override { return clock_s; }
};

std::vector<std::string> texts(std::string_view list) {
    std::vector<std::string> all;
    auto const places = read_host_list(list);
    if (!places) return {"refused: " + places.error().what};
    for (auto const& place : *places) all.push_back(to_text(place));
    return all;
}
}  // namespace

TEST_CASE("the units behind a gateway are those that answer, a refusal of their own included") {
    SimulatedGateway gateway;
    gateway.meters = {{3, meter("1")}, {60, meter("2")}, {61, {}}};
    Stop stop;
    double told_s = 0.0;
    auto const found = find_behind_gateway(gateway, {.search = {.planned = {60}, .quick_wait_ms = 3000}}, stop,
                                           [&](SearchProgress const& step) {
                                               if (step.asked == 100) told_s = step.left_s;
                                           });
    CHECK_FALSE(found.fault);
    REQUIRE(found.devices.size() == 3);
    CHECK(found.devices[0].identity.serial == "1");
    CHECK(found.devices[1].unit == 60);
    CHECK_FALSE(found.devices[2].identity.known());
    CHECK(told_s == doctest::Approx(147.0).epsilon(0.05));  // the gateway's second, not our three
}

TEST_CASE("one device that answers whatever unit is asked is one device") {
    SimulatedGateway gateway;
    gateway.meters = {{1, meter("9")}};
    gateway.any_unit = true;
    Stop stop;
    auto const found = find_behind_gateway(gateway, {}, stop);
    CHECK(found.any_unit);
    CHECK(found.devices.size() == 1);
    CHECK(gateway.questions < 60);
}

TEST_CASE("three meters in a row are three meters when their serial numbers differ") {
    SimulatedGateway gateway;
    for (int unit = 1; unit <= 3; ++unit) gateway.meters[unit] = meter(std::to_string(unit));
    Stop stop;
    auto const found = find_behind_gateway(gateway, {}, stop);
    CHECK_FALSE(found.any_unit);
    CHECK(found.devices.size() == 3);
}

TEST_CASE("a gateway that cannot be reached is said once, not 247 times") {
    SimulatedGateway gateway;
    gateway.answers_at_all = false;
    Stop stop;
    auto const found = find_behind_gateway(gateway, {}, stop);
    REQUIRE(found.fault);
    CHECK(found.fault->kind == FaultKind::unreachable);
    CHECK(gateway.questions == 1);
}

TEST_CASE("a list of hosts is read with its ranges and ports") {
    // Addresses of RFC 5737, which are nobody's.
    CHECK(texts("192.0.2.10-12") == std::vector<std::string>{"192.0.2.10:502", "192.0.2.11:502", "192.0.2.12:502"});
    CHECK(texts("192.0.2.255-192.0.3.1").size() == 3);
    CHECK(texts("meter-3:1502, 192.0.2.7") == std::vector<std::string>{"meter-3:1502", "192.0.2.7:502"});
    CHECK(texts("192.0.2.10-9")[0].starts_with("refused"));
    CHECK(texts("192.0.2.0-192.0.9.0")[0].starts_with("refused"));
    CHECK(texts("192.0.2.1,,192.0.2.2")[0].starts_with("refused"));
    CHECK(texts("192.0.2.1:0")[0].starts_with("refused"));
    CHECK(texts("")[0].starts_with("refused"));
    CHECK(texts("10 11")[0].starts_with("refused"));
    CHECK(texts("255.255.255.254-255.255.255.255").size() == 2);
}

TEST_CASE("hosts are asked in parallel up to the limit, and each keeps its place in the list") {
    std::atomic<int> open = 0, most = 0;
    struct Counted final : port::Line {
        Counted(std::atomic<int>& open_lines, std::atomic<int>& most_lines, bool there) : open_(open_lines), there_(there) {
            int const now = ++open_;
            for (int seen = most_lines; now > seen && !most_lines.compare_exchange_weak(seen, now);) {}
        }
        ~Counted() override { --open_; }
        std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override {
            if (!there_) return std::unexpected(Fault{.kind = FaultKind::unreachable});
            if (unit != 255) return std::unexpected(Fault{.kind = FaultKind::no_answer});
            return codec::exception_pdu(codec::u8_at(question, 0), codec::ExceptionCode::illegal_function);
        }
        std::string place() const override { return "there"; }
        std::atomic<int>& open_;
        bool there_;
    };
    HostSearch search{.places = *read_host_list("192.0.2.0-99"), .at_a_time = 4};
    Stop stop;
    auto const found = find_hosts(
        search, [&](HostPlace const& place) { return std::make_unique<Counted>(open, most, place.host.ends_with("7")); }, stop);
    REQUIRE(found.size() == 100);
    CHECK(most <= 4);
    CHECK(found[7].place == "192.0.2.7:502");
    REQUIRE(found[7].devices.size() == 1);
    CHECK(found[7].devices[0].unit == 255);
    CHECK(found[8].fault->kind == FaultKind::unreachable);
    CHECK(found[8].asked == 1);
}

TEST_CASE("a stopped search of hosts names those that were not asked") {
    Stop stop;
    stop.request();
    auto const found = find_hosts({.places = *read_host_list("192.0.2.1-3")}, real_tcp_lines(100), stop);
    REQUIRE(found.size() == 3);
    for (auto const& one : found) CHECK(one.cancelled());
}

}  // namespace phasewright::finder
