// Questions over a pseudo-terminal whose far end takes a serial line's time.
#include "bus/port/rtu_line.hpp"

#include <doctest/doctest.h>

#include <future>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/port/pty_in_tests.hpp"
#include "bus/port/server_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::port;
using codec::hex;

namespace {
codec::Bytes framed(std::uint8_t unit, std::string_view pdu) { return codec::to_bytes({unit, hex(pdu)}); }
codec::Bytes const question = hex("03 00 6B 00 03");
codec::Bytes const answer = hex("03 06 02 2B 00 00 00 64");
auto const good = [](codec::Bytes const&) { return framed(17, "03 06 02 2B 00 00 00 64"); };

RtuSettings patient(int answer_timeout_ms = 300) {
    RtuSettings chosen;
    chosen.answer_timeout_ms = answer_timeout_ms;
    return chosen;
}

struct Heard {
    std::vector<Exchange> exchanges;
    RtuSettings settings(int answer_timeout_ms = 300) {
        auto chosen = patient(answer_timeout_ms);
        chosen.listener = [this](Exchange const& exchange) { exchanges.push_back(exchange); };
        return chosen;
    }
};

std::unique_ptr<Line> line_to(FarEnd const& far, RtuSettings settings) {
    return rtu_line(serial_channel(far.device(), settings.format), std::move(settings));
}
}  // namespace

TEST_CASE("a question over a serial line is answered, and every try is shown with its bytes") {
    std::promise<codec::Bytes> question_seen;
    std::atomic<bool> seen = false;
    FarEnd far;
    far.answers_with([&](auto const& bytes) {
        if (!seen.exchange(true)) question_seen.set_value(bytes);
        return framed(17, "03 06 02 2B 00 00 00 64");
    });
    Heard heard;
    auto const line = line_to(far, heard.settings(5000));
    auto const came = line->ask(17, question);
    REQUIRE(came);
    CHECK(*came == answer);
    auto const asked = question_seen.get_future().get();
    CHECK(asked == framed(17, "03 00 6B 00 03"));
    REQUIRE(heard.exchanges.size() == 1);
    auto const& exchange = heard.exchanges[0];
    CHECK(exchange.sent == asked);
    CHECK(exchange.heard == framed(17, "03 06 02 2B 00 00 00 64"));
    CHECK_FALSE(exchange.fault);
    CHECK_FALSE(exchange.arrivals.empty());
}

TEST_CASE("noise, an echo, or another's answer before it do not hide the answer") {
    for (auto const* before : {"00", "FF 00"}) {
        FarEnd far;
        far.answers_with([&](auto const&) {
            auto bytes = hex(before);
            codec::put_bytes(bytes, good({}));
            return bytes;
        });
        CHECK(line_to(far, patient())->ask(17, question) == answer);
    }
    FarEnd echoing;
    echoing.answers_with([](auto bytes) {
        codec::put_bytes(bytes, good({}));
        return bytes;
    });
    Heard heard;
    CHECK(line_to(echoing, heard.settings())->ask(17, question) == answer);
    CHECK(heard.exchanges[0].echoed == 8);
}

TEST_CASE("what went wrong has its own name, and is tried again as often as allowed") {
    struct Row {
        codec::Bytes back;
        codec::FaultKind kind;
    };
    auto broken = good({});
    broken[4] ^= std::byte{4};
    auto truncated = good({});
    truncated.resize(6);
    for (auto const& row : {Row{{}, codec::FaultKind::no_answer}, Row{broken, codec::FaultKind::garbled},
                            Row{truncated, codec::FaultKind::garbled},
                            Row{framed(18, "03 06 02 2B 00 00 00 64"), codec::FaultKind::wrong_unit},
                            Row{framed(17, "03 02 00 00"), codec::FaultKind::malformed}}) {
        std::atomic<int> asked = 0;
        FarEnd far;
        far.answers_with([&](auto const&) {
            ++asked;
            return row.back;
        });
        Heard heard;
        auto const came = line_to(far, heard.settings(120))->ask(17, question);
        REQUIRE_FALSE(came);
        CHECK(came.error().kind == row.kind);
        CHECK(came.error().where == far.device() + " unit 17");
        CHECK(heard.exchanges.size() == 2);
        CHECK(heard.exchanges[1].heard == row.back);
        CHECK(asked == 2);
    }
    FarEnd refusing;
    refusing.answers_with([](auto const&) { return framed(17, "83 02"); });
    Heard heard;
    CHECK(line_to(refusing, heard.settings())->ask(17, question) == hex("83 02"));
    CHECK(heard.exchanges.size() == 1);
}

TEST_CASE("nothing is broadcast, and reserved addresses are not asked") {
    FarEnd far;
    auto const line = line_to(far, {});
    for (int const unit : {0, 248, 255}) {
        auto const came = line->ask(static_cast<std::uint8_t>(unit), question);
        REQUIRE_FALSE(came);
        CHECK(came.error().kind == codec::FaultKind::bad_question);
    }
    CHECK(line->ask(1, hex("41 00")).error().kind == codec::FaultKind::bad_question);
}

TEST_CASE("an answer that comes after its time is not taken for the next question's") {
    FarEnd far;
    std::atomic<int> asked = 0;
    far.answers_with([&](auto const& bytes) -> codec::Bytes {
        // Three registers, with the address that was asked for as the first.
        auto reply = codec::to_bytes({17, [&] {
                                          auto pdu = hex("03 06");
                                          codec::put_u16(pdu, codec::u16_at(bytes, 2));
                                          codec::put_bytes(pdu, hex("00 00 00 00"));
                                          return pdu;
                                      }()});
        if (++asked == 1) std::this_thread::sleep_for(std::chrono::milliseconds(350));
        return reply;
    });
    auto settings = patient(200);
    settings.tries = 1;
    auto const line = line_to(far, settings);
    CHECK(line->ask(17, hex("03 00 01 00 03")).error().kind == codec::FaultKind::no_answer);
    auto const next = line->ask(17, hex("03 00 02 00 03"));
    REQUIRE(next);
    CHECK(codec::u16_at(*next, 2) == 2);
}

TEST_CASE("a wait is ended at once by another thread, and so is every later one until it is resumed") {
    FarEnd far;
    auto const line = line_to(far, patient(30'000));
    auto waiting = std::async(std::launch::async, [&] { return line->ask(17, question); });
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    auto const before = std::chrono::steady_clock::now();
    line->cancel();
    auto const came = waiting.get();
    CHECK(std::chrono::steady_clock::now() - before < std::chrono::seconds(5));  // of thirty, on a busy machine
    REQUIRE_FALSE(came);
    CHECK(came.error().kind == codec::FaultKind::cancelled);
    CHECK(line->ask(17, question).error().kind == codec::FaultKind::cancelled);
    line->resume();
    far.answers_with(good);
    CHECK(line->ask(17, question) == answer);
}

TEST_CASE("a port that is not there, or that somebody else has, says so") {
    auto const missing = serial_channel("/dev/there-is-no-such-port", {})->open();
    REQUIRE_FALSE(missing);
    CHECK(missing.error().kind == codec::FaultKind::unreachable);
    CHECK(missing.error().detail.find("no such port") != std::string::npos);
    CHECK(serial_channel("/dev/null", {})->open().error().detail == "this is no serial port");
    FarEnd far;
    auto const first = serial_channel(far.device(), {});
    REQUIRE(first->open());
    auto const second = serial_channel(far.device(), {})->open();
    REQUIRE_FALSE(second);
    CHECK(second.error().detail.find("another program has the port open") != std::string::npos);
}

TEST_CASE("a port that was unplugged is a closed one, and is opened anew once it is back") {
    auto far = std::make_unique<FarEnd>();
    auto const channel = serial_channel(far->device(), {});
    REQUIRE(channel->open());
    far->unplug();
    auto const gone = channel->receive(std::chrono::steady_clock::now() + std::chrono::seconds(2));
    REQUIRE_FALSE(gone);
    CHECK(gone.error().kind == codec::FaultKind::closed);
    CHECK(channel->open().error().kind == codec::FaultKind::unreachable);
}

TEST_CASE("listening hands back what came, and ends early when it has heard enough") {
    FarEnd far;
    auto const channel = serial_channel(far.device(), {});
    REQUIRE(channel->open());
    far.send(hex("01 02 03"));
    auto const heard = listen(*channel, 20.0, [](Overheard const& so_far) { return so_far.bytes.size() >= 3; });
    REQUIRE(heard);
    CHECK(heard->bytes == hex("01 02 03"));
    CHECK(listen(*channel, 0.05)->bytes.empty());
}

TEST_CASE("a converter passes RTU frames over TCP, for as many units as its line has") {
    Server server([](Peer const& peer, int) {
        while (true) {
            auto const bytes = peer.receive();
            if (bytes.empty()) return;
            auto const unit = codec::u8_at(bytes, 0);
            if (unit == 9) continue;  // nobody there
            auto pdu = hex("03 02 00");
            codec::put_u8(pdu, unit);
            peer.send(codec::to_bytes({unit, pdu}));
        }
    });
    auto settings = patient(100);
    auto const line = rtu_line(tcp_channel({.port = server.port()}), settings);
    for (int const unit : {1, 2, 247}) {
        auto const came = line->ask(static_cast<std::uint8_t>(unit), hex("03 00 00 00 01"));
        REQUIRE(came);
        CHECK(codec::u8_at(*came, 3) == unit);
    }
    CHECK(line->ask(9, hex("03 00 00 00 01")).error().kind == codec::FaultKind::no_answer);
    CHECK(tcp_channel({.port = server.port()})->set_format({}).error().kind == codec::FaultKind::not_offered);
}
