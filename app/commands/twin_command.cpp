#include "app/commands/twin_command.hpp"

#include <array>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <thread>

#include <fmt/core.h>
#include <poll.h>
#include <unistd.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

namespace phasewright::commands {

namespace {
// SIGTERM and SIGINT. They are held back in every thread and asked for, so that no handler runs.
sigset_t ending_signals() {
    sigset_t set{};
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    return set;
}
bool signal_has_come() {
    auto const set = ending_signals();
    timespec const at_once{};
    return sigtimedwait(&set, nullptr, &at_once) > 0;
}

// Answers once standard input has closed, a signal has come, or `over` is asked for.
void wait_for_the_end(std::stop_token const& over) {
    constexpr int patience_ms = 100;
    while (!signal_has_come() && !over.stop_requested()) {
        pollfd input{.fd = STDIN_FILENO, .events = POLLIN, .revents = 0};
        int const ready = poll(&input, 1, patience_ms);
        if (ready < 0 && errno != EINTR) return;
        if (ready <= 0) continue;
        std::array<char, 256> ignored{};
        auto const count = read(STDIN_FILENO, ignored.data(), ignored.size());
        if (count == 0 || (count < 0 && errno != EINTR && errno != EAGAIN)) return;
    }
}

std::expected<twin::Server, quantity::Fault> opened(TwinOptions const& options) {
    auto const plan_text = text_of(options.plan_file, "the plan");
    if (!plan_text) return std::unexpected(plan_text.error());
    auto const site = read_plan(*plan_text, options.plan_file.string());
    if (!site) return std::unexpected(site.error());
    auto const wired_text = text_of(options.wired_file, "how it is wired");
    if (!wired_text) return std::unexpected(wired_text.error());
    auto const wired = twin::read_wired(*wired_text, options.wired_file.string(), *site);
    if (!wired) return std::unexpected(wired.error());

    auto const folder = profiles_folder(options.profiles_folder);
    auto const profiles = [&folder](std::string const& name) {
        return profile::read_profile_file((folder / (name + ".toml")).string());
    };
    auto const start = std::chrono::steady_clock::now();
    auto const clock = [start] {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    };
    auto server = twin::Server::open(*site, *wired, profiles, clock);
    if (server && options.ports_file)
        if (auto const written = write_whole(*options.ports_file, ports_text(server->ports()), "file of ports", "name another file with --ports"); !written)
            return std::unexpected(written.error());
    return server;
}
}  // namespace

int run_twin(TwinOptions const& options) {
    auto server = opened(options);
    if (!server) {
        fmt::print(stderr, "{}\n", quantity::to_sentence(server.error()));
        return 2;
    }
    auto const held_back = ending_signals();
    pthread_sigmask(SIG_BLOCK, &held_back, nullptr);
    fmt::print("ready\n");
    std::fflush(stdout);
    std::jthread const watch{[&server](std::stop_token const& over) {
        wait_for_the_end(over);
        server->stop();
    }};
    server->run();
    return 0;
}

}  // namespace phasewright::commands
