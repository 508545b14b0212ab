// How many reads of 100 registers a second over one TCP connection on loopback: our line against a bare loop
// of libmodbus, on the same server and the same kind of connection, one after the other in short turns of one
// run. The server is a process of its own in plain sockets and belongs to neither.
//   build/measure/benchmark_bus_tcp [turns] [seconds a turn]
#include <algorithm>
#include <array>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <vector>

#include <arpa/inet.h>
#include <fmt/core.h>
#include <modbus.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "bus/port/tcp_line.hpp"

namespace {
using namespace phasewright;
using Clock = std::chrono::steady_clock;

constexpr std::uint16_t registers = 100;
constexpr std::size_t question_bytes = 12;

bool take(int socket, unsigned char* to, std::size_t count) {
    for (std::size_t have = 0; have < count;) {
        auto const came = recv(socket, to + have, count - have, 0);
        if (came <= 0) return false;
        have += static_cast<std::size_t>(came);
    }
    return true;
}

// Answers every read of holding registers on one connection with 100 registers.
void answer_all(int socket) {
    int const yes = 1;
    setsockopt(socket, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    std::array<unsigned char, 9 + 2 * registers> answer{};
    for (std::size_t k = 9; k < answer.size(); ++k) answer[k] = static_cast<unsigned char>(k);
    std::array<unsigned char, question_bytes> question{};
    while (take(socket, question.data(), question.size())) {
        std::copy_n(question.begin(), 4, answer.begin());
        answer[4] = 0;
        answer[5] = 3 + 2 * registers;
        answer[6] = question[6];
        answer[7] = question[7];
        answer[8] = 2 * registers;
        if (send(socket, answer.data(), answer.size(), MSG_NOSIGNAL) != static_cast<ssize_t>(answer.size()))
            break;
    }
    close(socket);
}

struct Server {
    pid_t process = -1;
    int port = 0;
};

// Two connections, each in its own process, so that neither client waits for the other's.
Server start_server() {
    int const listening = socket(AF_INET, SOCK_STREAM, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    auto* const plain = reinterpret_cast<sockaddr*>(&address);
    if (bind(listening, plain, size) != 0 || listen(listening, 4) != 0 ||
        getsockname(listening, plain, &size) != 0)
        return {};
    pid_t const process = fork();
    if (process == 0) {
        for (int k = 0; k < 2; ++k) {
            int const socket = accept(listening, nullptr, nullptr);
            if (fork() == 0) {
                answer_all(socket);
                _exit(0);
            }
            close(socket);
        }
        while (wait(nullptr) > 0) {
        }
        _exit(0);
    }
    close(listening);
    return {process, ntohs(address.sin_port)};
}

template <class Read>
double reads_a_second(double seconds, Read const& read) {
    auto const begun = Clock::now();
    double took = 0.0;
    int count = 0;
    while (took < seconds) {
        for (int k = 0; k < 200; ++k)
            if (!read()) return 0.0;
        count += 200;
        took = std::chrono::duration<double>(Clock::now() - begun).count();
    }
    return count / took;
}

double median(std::vector<double> values) {
    std::ranges::sort(values);
    return values[values.size() / 2];
}
}  // namespace

int main(int argc, char** argv) {
    int const turns = argc > 1 ? std::max(1, std::atoi(argv[1])) : 15;
    double const seconds = argc > 2 ? std::atof(argv[2]) : 0.5;
    auto const server = start_server();
    if (server.process < 0) return 2;
    int status = 2;
    {
        modbus_t* const theirs = modbus_new_tcp("127.0.0.1", server.port);
        auto const ours = port::tcp_line({.port = static_cast<std::uint16_t>(server.port)});
        modbus_set_slave(theirs, 1);
        if (modbus_connect(theirs) == 0) {
            std::array<std::uint16_t, registers> words{};
            std::uint64_t sum = 0;
            auto const read_theirs = [&] {
                bool const good = modbus_read_registers(theirs, 0, registers, words.data()) == registers;
                sum += words[7];
                return good;
            };
            auto const read_ours = [&] {
                auto const read =
                    port::read_registers(*ours, 1, codec::Function::read_holding_registers, 0, registers);
                if (read) sum -= (*read)[7];
                return read.has_value();
            };
            (void)reads_a_second(0.2, read_theirs);
            (void)reads_a_second(0.2, read_ours);
            std::vector<double> their_rates, our_rates, ratios;
            for (int turn = 0; turn < turns; ++turn) {
                their_rates.push_back(reads_a_second(seconds, read_theirs));
                our_rates.push_back(reads_a_second(seconds, read_ours));
                ratios.push_back(our_rates.back() / their_rates.back());
            }
            fmt::print("{} turns of {} s each, alternating, {} registers a read, loopback ({})\n", turns,
                       seconds, registers, PHASEWRIGHT_BUILT);
            fmt::print(
                "libmodbus {}: {:.0f} reads/s   our line: {:.0f} reads/s   ratio of a pair of turns: {:.3f} "
                "(from {:.3f} to {:.3f})\n",
                LIBMODBUS_VERSION_STRING, median(their_rates), median(our_rates), median(ratios),
                std::ranges::min(ratios), std::ranges::max(ratios));
            status = sum == 1 ? 1 : 0;
        }
        modbus_close(theirs);
        modbus_free(theirs);
    }
    kill(server.process, SIGTERM);
    waitpid(server.process, nullptr, 0);
    return status;
}
