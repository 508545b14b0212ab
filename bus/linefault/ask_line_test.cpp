#include <doctest/doctest.h>

#include <utility>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/linefault/ask_line.hpp"
#include "bus/linefault/evidence.hpp"

namespace phasewright::linefault {

namespace {
using codec::Fault;
using codec::FaultKind;

class NoChannel final : public port::Channel {
public:
    std::expected<void, Fault> open() override { return {}; }
    void close() override {}
    std::expected<void, Fault> send(codec::BytesView, port::SteadyTime) override { return {}; }
    std::expected<port::Piece, Fault> receive(port::SteadyTime) override { return port::Piece{}; }
    void discard_input() override {}
    std::optional<plan::SerialFormat> format() const override { return plan::SerialFormat{}; }
    std::expected<void, Fault> set_format(plan::SerialFormat const&) override { return {}; }
    void cancel() noexcept override { cancelled = true; }
    void resume() noexcept override {}
    std::string place() const override { return "/dev/simulated"; }
    bool cancelled = false;
};

// Unit 1 refuses, unit 7 has a second device whose answer follows, unit 9 is silent.
struct Means {
    bool echoes = false;
    int questions = 0;
    std::uint8_t last_unit = 0;
    port::Overheard traffic;

    struct ALine final : port::Line {
        ALine(Means& means, port::RtuSettings settings) : means_(means), settings_(std::move(settings)) {}
        std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override {
            ++means_.questions;
            means_.last_unit = unit;
            port::Exchange exchange{.unit = unit};
            exchange.sent = codec::to_bytes({.unit = unit, .pdu = codec::Bytes(question.begin(), question.end())});
            if (means_.echoes) exchange.heard = exchange.sent;
            if (means_.echoes && settings_.echoes) exchange.echoed = exchange.sent.size();
            auto const pdu = codec::exception_pdu(codec::u8_at(question, 0), codec::ExceptionCode::illegal_data_address);
            if (unit == 9) exchange.fault = Fault{.kind = FaultKind::no_answer};
            if (unit != 9) codec::put_bytes(exchange.heard, codec::to_bytes({.unit = unit, .pdu = pdu}));
            exchange.arrivals = {{0.02, exchange.heard.size()}};
            settings_.listener(exchange);
            if (exchange.fault) return std::unexpected(*exchange.fault);
            return pdu;
        }
        std::string place() const override { return "/dev/simulated"; }
        double now_s() const override { return 0.1 * means_.questions; }
        Means& means_;
        port::RtuSettings settings_;
    };

    finder::SerialMeans made() {
        return {.listen = [this](port::Channel&, double seconds) -> std::expected<port::Overheard, Fault> {
                    if (seconds > 1.0) return traffic;
                    port::Overheard more;
                    if (last_unit != 7) return more;
                    more.bytes = codec::to_bytes({.unit = 7, .pdu = codec::hex("83 02")});
                    more.arrivals = {{0.01, more.bytes.size()}};
                    return more;
                },
                .line = [this](std::unique_ptr<port::Channel>, port::RtuSettings settings) {
                    return std::make_unique<ALine>(*this, std::move(settings));
                }};
    }
};

AskedLine asked_with(Means& means) {
    NoChannel channel;
    finder::Stop stop;
    AskSettings settings{.format = {}, .units = {1, 7, 9}, .tries = 4};
    settings.means = means.made();
    return ask_line(channel, settings, stop);
}
}  // namespace

TEST_CASE("every unit is asked in turn, with questions that take turns, and a second answer is kept") {
    Means means;
    auto const asked = asked_with(means);
    CHECK_FALSE(asked.fault);
    REQUIRE(asked.exchanges.size() == 12);
    CHECK(asked.exchanges[1].unit == 7);
    CHECK(codec::u8_at(asked.exchanges[0].sent, 1) == 0x03);
    CHECK(codec::u8_at(asked.exchanges[6].sent, 1) == 0x2B);
    CHECK(seen_in(asked.exchanges[0], 1.0).came == Came::good);
    CHECK(seen_in(asked.exchanges[1], 1.0).came == Came::two_answers);
    CHECK(seen_in(asked.exchanges[2], 1.0).came == Came::nothing);
}

TEST_CASE("a line in use is not asked") {
    Means means;
    means.traffic.bytes = codec::hex("01 03 00 00 00 01 84 0A");
    auto const asked = asked_with(means);
    REQUIRE(asked.fault);
    CHECK(asked.fault->kind == FaultKind::line_in_use);
    CHECK(means.questions == 0);
}

TEST_CASE("an adapter that hears itself is asked on, its echo told apart") {
    Means means;
    means.echoes = true;
    auto const asked = asked_with(means);
    REQUIRE(asked.exchanges.size() == 12);
    for (auto const& exchange : asked.exchanges) CHECK(seen_in(exchange, 1.0).echoed);
    CHECK(seen_in(asked.exchanges[3], 1.0).came == Came::good);
    CHECK(seen_in(asked.exchanges[5], 1.0).came == Came::nothing);
}

}  // namespace phasewright::linefault
