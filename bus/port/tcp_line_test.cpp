// The TCP line against servers that behave, and against servers that do not. Bytes are those of the
// standard's examples (MODBUS Messaging on TCP/IP V1.0b; MODBUS Application Protocol V1.1b3, clause 6.3).
#include "bus/port/tcp_line.hpp"

#include <doctest/doctest.h>

#include <mutex>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/port/server_in_tests.hpp"

namespace phasewright::port {

namespace {

using codec::FaultKind;
using codec::hex;

constexpr auto holding = codec::Function::read_holding_registers;

std::unique_ptr<Line> line_to(Server const& server, int answer_timeout_ms = 1000, int tries = 2) {
    return tcp_line({.host = "127.0.0.1",
                     .port = server.port(),
                     .connect_timeout_ms = 1000,
                     .answer_timeout_ms = answer_timeout_ms,
                     .tries = tries});
}

// 555, 0 and 100 in answer to this question, with its transaction and unit.
codec::Bytes good_answer(codec::Bytes const& question) {
    codec::Bytes answer(question.begin(), question.begin() + 2);
    codec::put_bytes(answer, hex("00 00 00 09"));
    answer.push_back(question.at(6));
    codec::put_bytes(answer, hex("03 06 02 2B 00 00 00 64"));
    return answer;
}

// What this bad answer to every question is reported as.
codec::Fault fault_of(codec::Bytes const& bad, bool then_close, int answer_timeout_ms = 1000) {
    Server const server([&](Peer const& peer, int) {
        while (!peer.receive().empty()) {
            peer.send(bad);
            if (then_close) return;
        }
    });
    auto const line = line_to(server, answer_timeout_ms, 1);
    auto const values = read_registers(*line, 3, holding, 107, 3);
    REQUIRE_FALSE(values.has_value());
    CHECK(values.error().where == "127.0.0.1:" + std::to_string(server.port()) + " unit 3");
    return values.error();
}

}  // namespace

TEST_CASE("three registers come over a connection that is kept for the next question") {
    std::mutex mutex;
    std::vector<std::string> questions;
    Server const server([&](Peer const& peer, int) {
        for (auto question = peer.receive(); !question.empty(); question = peer.receive()) {
            {
                std::scoped_lock const lock(mutex);
                questions.push_back(codec::to_hex(question));
            }
            peer.send(good_answer(question));
        }
    });
    auto const line = line_to(server);
    CHECK(read_registers(*line, 1, holding, 107, 3).value() == codec::Registers{555, 0, 100});
    CHECK(read_registers(*line, 9, holding, 107, 3).value() == codec::Registers{555, 0, 100});
    CHECK(server.connections() == 1);
    std::scoped_lock const lock(mutex);
    REQUIRE(questions.size() == 2);
    CHECK(questions[0] == "00 01 00 00 00 06 01 03 00 6B 00 03");
    CHECK(questions[1] == "00 02 00 00 00 06 09 03 00 6B 00 03");
}

TEST_CASE("an answer that comes byte by byte is put together") {
    Server const server([](Peer const& peer, int) {
        auto const question = peer.receive();
        for (auto const byte : good_answer(question)) {
            peer.send(codec::BytesView(&byte, 1));
            peer.pause_ms(5);
        }
        (void)peer.receive();
    });
    auto const line = line_to(server);
    CHECK(read_registers(*line, 1, holding, 107, 3).value() == codec::Registers{555, 0, 100});
}

TEST_CASE("silence is no answer, after as many waits as tries") {
    std::atomic<int> questions = 0;
    Server const server([&](Peer const& peer, int) {
        while (!peer.receive().empty()) ++questions;
    });
    auto const line = line_to(server, 60, 3);
    double const begun = line->now_s();
    auto const values = read_registers(*line, 1, holding, 107, 3);
    double const took = line->now_s() - begun;
    REQUIRE_FALSE(values.has_value());
    CHECK(values.error().kind == FaultKind::no_answer);
    CHECK(values.error().detail == "silence within 60 ms");
    CHECK(questions == 3);
    CHECK(took >= 0.18);
    CHECK(took < 3.0);
}

TEST_CASE("each way of answering badly has its own name") {
    auto const garbage = fault_of(hex("48 54 54 50 2F 31 2E 31 20 34 30 30"), false);
    CHECK(garbage.kind == FaultKind::garbled);
    CHECK(garbage.detail == "the protocol id is 21584, Modbus is 0");

    auto const flood = fault_of(codec::Bytes(100000, std::byte{0}), false);
    CHECK(flood.kind == FaultKind::garbled);

    auto const truncated = fault_of(hex("00 01 00 00 00 09 03 03 06 02 2B"), true);
    CHECK(truncated.kind == FaultKind::closed);
    CHECK(truncated.detail == "11 bytes of an unfinished answer came");

    auto const closed = fault_of({}, true);
    CHECK(closed.kind == FaultKind::closed);
    CHECK(closed.detail == "not one byte of the answer came");

    auto const stuck = fault_of(hex("00 01 00 00 00 09 03 03 06 02 2B"), false, 60);
    CHECK(stuck.kind == FaultKind::no_answer);
    CHECK(stuck.detail == "11 bytes came within 60 ms, and the rest of the answer did not");

    auto const other_unit = fault_of(hex("00 01 00 00 00 09 04 03 06 02 2B 00 00 00 64"), false);
    CHECK(other_unit.kind == FaultKind::wrong_unit);
    CHECK(other_unit.detail == "unit 3 was asked, unit 4 answered");

    auto const other_transaction = fault_of(hex("00 63 00 00 00 09 03 03 06 02 2B 00 00 00 64"), false, 60);
    CHECK(other_transaction.kind == FaultKind::wrong_transaction);
    CHECK(other_transaction.detail == "transaction 1 was asked, only 99 came within 60 ms");

    auto const short_count = fault_of(hex("00 01 00 00 00 05 03 03 02 02 2B"), false);
    CHECK(short_count.kind == FaultKind::malformed);
    CHECK(short_count.detail == "the byte count is 2; 3 registers have 6");

    auto const behind_gateway = fault_of(hex("00 01 00 00 00 03 03 83 0B"), false);
    CHECK(behind_gateway.kind == FaultKind::refused);
    CHECK(behind_gateway.exception == 0x0B);
}

TEST_CASE("after a silent question the next one gets its own answer, however late the first answer comes") {
    Server const server([](Peer const& peer, int connection) {
        auto const question = peer.receive();
        if (connection == 0) peer.pause_ms(400);
        auto answer = good_answer(question);
        if (connection == 0) answer.back() = std::byte{0x65};  // 101 instead of 100: must never be seen
        peer.send(answer);
        (void)peer.receive();
    });
    auto const line = line_to(server, 300, 1);
    CHECK(read_registers(*line, 1, holding, 107, 3).error().kind == FaultKind::no_answer);
    CHECK(read_registers(*line, 1, holding, 107, 3).value_or(codec::Registers{}) == codec::Registers{555, 0, 100});
}

TEST_CASE("a late answer on the same connection does not pass for the answer to the question asked again") {
    Server const server([](Peer const& peer, int) {
        auto const first = peer.receive();
        auto const second = peer.receive();  // the same question, asked again after the first wait
        auto late = good_answer(first);
        late.back() = std::byte{0x65};
        peer.send(late);
        peer.pause_ms(20);
        peer.send(good_answer(second));
        (void)peer.receive();
    });
    auto const line = line_to(server, 300, 2);
    CHECK(read_registers(*line, 1, holding, 107, 3).value() == codec::Registers{555, 0, 100});
    CHECK(server.connections() == 1);
}

TEST_CASE("when only a late answer comes, the fault says so") {
    Server const server([](Peer const& peer, int) {
        auto const first = peer.receive();
        (void)peer.receive();
        peer.send(good_answer(first));
        (void)peer.receive();
    });
    auto const line = line_to(server, 250, 2);
    auto const values = read_registers(*line, 1, holding, 107, 3);
    REQUIRE_FALSE(values.has_value());
    CHECK(values.error().kind == FaultKind::no_answer);
    CHECK(values.error().detail == "only a late answer to an earlier question came within 250 ms");
}

TEST_CASE("a refusal is not asked again") {
    std::atomic<int> questions = 0;
    Server const server([&](Peer const& peer, int) {
        for (auto question = peer.receive(); !question.empty(); question = peer.receive()) {
            ++questions;
            codec::Bytes answer(question.begin(), question.begin() + 2);
            codec::put_bytes(answer, hex("00 00 00 03 01 83 02"));
            peer.send(answer);
        }
    });
    auto const line = line_to(server, 1000, 5);
    CHECK(read_registers(*line, 1, holding, 107, 3).error().exception == 2);
    CHECK(questions == 1);
}

TEST_CASE("a device that closes after every answer is asked over a new connection without a lost try") {
    Server const server([](Peer const& peer, int) { peer.send(good_answer(peer.receive())); });
    auto const line = line_to(server, 1000, 1);
    for (int count = 0; count < 3; ++count) {
        CHECK(read_registers(*line, 1, holding, 107, 3).has_value());
    }
    CHECK(server.connections() == 3);
}

TEST_CASE("after garbage the line starts over on a new connection") {
    Server const server([](Peer const& peer, int connection) {
        for (auto question = peer.receive(); !question.empty(); question = peer.receive()) {
            peer.send(connection == 0 ? hex("FF FF FF FF FF FF FF FF") : good_answer(question));
        }
    });
    auto const line = line_to(server, 1000, 2);
    CHECK(read_registers(*line, 1, holding, 107, 3).value() == codec::Registers{555, 0, 100});
    CHECK(server.connections() == 2);
}

TEST_CASE("a whole answer with garbage behind it is taken, and the connection given up") {
    Server const server([](Peer const& peer, int) {
        for (auto question = peer.receive(); !question.empty(); question = peer.receive()) {
            auto answer = good_answer(question);
            codec::put_bytes(answer, hex("FF FF FF FF FF FF"));
            peer.send(answer);
        }
    });
    auto const line = line_to(server, 1000, 1);
    CHECK(read_registers(*line, 1, holding, 107, 3).has_value());
    CHECK(read_registers(*line, 1, holding, 107, 3).has_value());
    CHECK(server.connections() == 2);
}

TEST_CASE("where nothing listens the host is unreachable, at once") {
    std::uint16_t port = 0;
    {
        Server const server([](Peer const&, int) {});
        port = server.port();
    }
    auto const line = tcp_line({.host = "127.0.0.1", .port = port, .connect_timeout_ms = 500, .tries = 2});
    auto const values = read_registers(*line, 1, holding, 0, 1);
    REQUIRE_FALSE(values.has_value());
    CHECK(values.error().kind == FaultKind::unreachable);
    CHECK(values.error().where == "127.0.0.1:" + std::to_string(port) + " unit 1");
    CHECK(codec::to_finding(values.error()).find("Next: check the host address and the port") !=
          std::string::npos);
}

TEST_CASE("a host name is looked up, and one that cannot exist is unreachable") {
    Server const server([](Peer const& peer, int) { peer.send(good_answer(peer.receive())); });
    auto const named = tcp_line({.host = "localhost", .port = server.port()});
    CHECK(read_registers(*named, 1, holding, 107, 3).has_value());
    auto const nowhere = tcp_line({.host = "no such host", .port = server.port(), .tries = 1});
    CHECK(read_registers(*nowhere, 1, holding, 107, 3).error().kind == FaultKind::unreachable);
}

TEST_CASE("a question that breaks the limits never reaches the line") {
    Server const server([](Peer const&, int) {});
    auto const line = line_to(server);
    CHECK(read_registers(*line, 1, holding, 0, 126).error().kind == FaultKind::bad_question);
    CHECK(line->ask(1, {}).error().kind == FaultKind::bad_question);
    CHECK(server.connections() == 0);
}

TEST_CASE("unit 0 is read, and never written") {
    std::atomic<int> questions = 0;
    Server const server([&](Peer const& peer, int) {
        ++questions;
        peer.send(good_answer(peer.receive()));
        (void)peer.receive();
    });
    auto const line = line_to(server);
    CHECK(write_register(*line, 0, 1, 3).error().kind == FaultKind::bad_question);
    CHECK(write_registers(*line, 0, 1, {3}).error().kind == FaultKind::bad_question);
    CHECK(line->ask(0, hex("05 00 01 FF 00")).error().kind == FaultKind::bad_question);
    CHECK(questions == 0);
    CHECK(read_registers(*line, 0, holding, 107, 3).has_value());
}

TEST_CASE("all tries together end with their budget") {
    std::atomic<int> questions = 0;
    Server const server([&](Peer const& peer, int) {
        while (!peer.receive().empty()) ++questions;
    });
    auto const line = tcp_line(
        {.host = "127.0.0.1", .port = server.port(), .answer_timeout_ms = 200, .tries = 100, .budget_ms = 500});
    double const begun = line->now_s();
    auto const values = read_registers(*line, 1, holding, 107, 3);
    CHECK(line->now_s() - begun < 10.0);  // of twenty
    CHECK(values.error().kind == FaultKind::no_answer);
    CHECK(values.error().detail.find("the 500 ms that all tries together may take are over") != std::string::npos);
    CHECK(questions <= 3);
}

TEST_CASE("another thread ends the wait for an answer at once, and every later one until it is resumed") {
    std::atomic<bool> asked = false;
    Server const server([&](Peer const& peer, int connection) {
        if (connection == 0 && !peer.receive().empty()) asked = true;
        while (!asked) peer.pause_ms(5);
        for (auto question = peer.receive(); !question.empty(); question = peer.receive())
            peer.send(good_answer(question));
    });
    auto const line = line_to(server, 30000, 3);
    std::optional<codec::Fault> fault;
    double ended = 0.0;
    std::thread asking([&] {
        auto const values = read_registers(*line, 1, holding, 107, 3);
        ended = line->now_s();
        if (!values) fault = values.error();
    });
    while (!asked) std::this_thread::sleep_for(std::chrono::milliseconds(1));
    double const cancelled = line->now_s();
    line->cancel();
    asking.join();
    REQUIRE(fault.has_value());
    CHECK(fault->kind == FaultKind::cancelled);
    MESSAGE("the wait of 30 s ended " << 1e3 * (ended - cancelled) << " ms after it was cancelled");
    CHECK(ended - cancelled < 2.0);  // a busy machine; usually below a millisecond
    CHECK(read_registers(*line, 1, holding, 107, 3).error().kind == FaultKind::cancelled);
    line->resume();
    CHECK(read_registers(*line, 1, holding, 107, 3).has_value());
}

TEST_CASE("a connection that is not taken up is given up as soon as it is cancelled") {
    // A server whose queue is full lets further connections wait.
    int const listening = ::socket(AF_INET, SOCK_STREAM, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    auto* const plain = reinterpret_cast<sockaddr*>(&address);
    REQUIRE(::bind(listening, plain, size) == 0);
    REQUIRE(::listen(listening, 0) == 0);
    REQUIRE(::getsockname(listening, plain, &size) == 0);
    std::vector<int> waiting;
    for (int count = 0; count < 4; ++count) {
        waiting.push_back(::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0));
        (void)::connect(waiting.back(), plain, size);
    }
    auto const line = tcp_line({.host = "127.0.0.1",
                                .port = ntohs(address.sin_port),
                                .connect_timeout_ms = 30000,
                                .answer_timeout_ms = 30000,
                                .tries = 1});
    std::optional<codec::Fault> fault;
    double const begun = line->now_s();
    std::thread asking([&] { fault = read_registers(*line, 1, holding, 0, 1).error(); });
    std::this_thread::sleep_for(std::chrono::milliseconds(30));
    line->cancel();
    asking.join();
    CHECK(line->now_s() - begun < 5.0);
    CHECK(fault->kind == FaultKind::cancelled);
    for (int const socket : waiting)
        ::close(socket);
    ::close(listening);
}

TEST_CASE("a write is confirmed by its echo") {
    Server const server([](Peer const& peer, int) {
        for (auto question = peer.receive(); !question.empty(); question = peer.receive()) {
            question.resize(12);
            question.at(5) = std::byte{6};
            peer.send(question);
        }
    });
    auto const line = line_to(server);
    CHECK(write_register(*line, 1, 1, 3).has_value());
    CHECK(write_registers(*line, 1, 1, {0x000A, 0x0102}).has_value());
}

}  // namespace phasewright::port
