#include "app/commands/twin_command.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <string>
#include <string_view>
#include <thread>

#include <fmt/core.h>
#include <poll.h>
#include <unistd.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
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

struct Files {
    plan::Site site;
    twin::WiredSite wired;
    std::optional<twin::BusTruth> bus;
};
std::expected<Files, quantity::Fault> read_files(TwinOptions const& options) {
    auto const plan_text = text_of(options.plan_file, "the plan");
    if (!plan_text) return std::unexpected(plan_text.error());
    auto site = read_plan(*plan_text, options.plan_file.string());
    if (!site) return std::unexpected(site.error());
    auto const wired_text = text_of(options.wired_file, "how it is wired");
    if (!wired_text) return std::unexpected(wired_text.error());
    auto wired = twin::read_wired(*wired_text, options.wired_file.string(), *site);
    if (!wired) return std::unexpected(wired.error());
    Files files{.site = std::move(*site), .wired = std::move(*wired), .bus = {}};
    if (!options.bus_file) return files;
    auto const bus_text = text_of(*options.bus_file, "what is on the bus");
    if (!bus_text) return std::unexpected(bus_text.error());
    auto bus = twin::read_bus(*bus_text, options.bus_file->string(), files.site);
    if (!bus) return std::unexpected(bus.error());
    files.bus = std::move(*bus);
    return files;
}

// Reads how leads and buses run anew. A mistake in a file is told, and everything stays as it is.
void rewire(TwinOptions const& options, twin::Server const& server) {
    auto files = read_files(options);
    auto const told = [](quantity::Fault const& fault) {
        fmt::print(stderr, "not rewired: {}\n", quantity::to_sentence(fault));
    };
    if (!files) return told(files.error());
    if (auto const done = server.rewire(std::move(files->wired), std::move(files->bus)); !done)
        return told(done.error());
    fmt::print("rewired\n");
    std::fflush(stdout);
}

// Answers once standard input has closed, a signal has come, or `over` is asked for. The line "rewire" on it
// has the wired file and the bus file read again.
void wait_for_the_end(std::stop_token const& over, TwinOptions const& options, twin::Server const& server) {
    std::string line;
    constexpr int patience_ms = 100;
    while (!signal_has_come() && !over.stop_requested()) {
        pollfd input{.fd = STDIN_FILENO, .events = POLLIN, .revents = 0};
        int const ready = poll(&input, 1, patience_ms);
        if (ready < 0 && errno != EINTR) return;
        if (ready <= 0) continue;
        std::array<char, 256> said{};
        auto const count = read(STDIN_FILENO, said.data(), said.size());
        if (count == 0 || (count < 0 && errno != EINTR && errno != EAGAIN)) return;
        for (char const letter :
             std::string_view(said.data(), static_cast<std::size_t>(std::max<ssize_t>(count, 0)))) {
            if (letter != '\n') {
                if (line.size() < said.size()) line += letter;
                continue;
            }
            if (line == "rewire") rewire(options, server);
            line.clear();
        }
    }
}

std::expected<twin::Server, quantity::Fault> opened(TwinOptions const& options) {
    auto const files = read_files(options);
    if (!files) return std::unexpected(files.error());
    auto const folder = profiles_folder(options.profiles_folder);
    auto const profiles = [&folder](std::string const& name) {
        return profile::read_profile_file((folder / (name + ".toml")).string());
    };
    auto const start = std::chrono::steady_clock::now();
    auto const clock = [start] {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    };
    auto server = twin::Server::open(files->site, files->wired, profiles, clock, files->bus);
    if (!server || !options.ports_file) return server;
    auto const written = write_whole(*options.ports_file, ports_text(server->ports(), server->devices()),
                                     "file of ports", "name another file with --ports");
    if (!written) return std::unexpected(written.error());
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
    std::jthread const watch{[&server, &options](std::stop_token const& over) {
        wait_for_the_end(over, options, *server);
        server->stop();
    }};
    server->run();
    return 0;
}

}  // namespace phasewright::commands
