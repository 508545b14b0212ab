// The twin command as a process: it says when it is ready, tells its ports, and is gone when whoever started
// it is. And the demo's files: what they must hold, and what they must not say.
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <set>
#include <sstream>
#include <thread>

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/profile_shelf.hpp"
#include "bus/port/rtu_line.hpp"
#include "bus/port/tcp_line.hpp"
#include "bus/profile/decode.hpp"
#include "bus/profile/meter_reading.hpp"
#include "bus/twin/building.hpp"
#include "bus/twin/wired_file.hpp"

using namespace phasewright;

namespace {
std::string const demo = PHASEWRIGHT_SOURCE_DIR "/demo/";

std::string text_of(std::filesystem::path const& path) {
    std::ifstream in{path, std::ios::binary};
    REQUIRE_MESSAGE(in.good(), path.string());
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

// The program, with its three streams in our hands.
class Process {
public:
    explicit Process(std::vector<std::string> arguments) {
        std::array<int, 2> in{};
        std::array<int, 2> out{};
        REQUIRE(pipe2(in.data(), O_CLOEXEC) == 0);
        REQUIRE(pipe2(out.data(), O_CLOEXEC) == 0);
        arguments.insert(arguments.begin(), PHASEWRIGHT_PROGRAM);
        std::vector<char*> words;
        for (auto& argument : arguments) words.push_back(argument.data());
        words.push_back(nullptr);
        id_ = fork();
        REQUIRE(id_ >= 0);
        if (id_ == 0) {
            dup2(in[0], STDIN_FILENO);
            dup2(out[1], STDOUT_FILENO);
            dup2(out[1], STDERR_FILENO);
            execv(words.front(), words.data());
            _exit(127);
        }
        close(in[0]);
        close(out[1]);
        to_it_ = in[1];
        from_it_ = out[0];
    }
    ~Process() {
        close_input();
        if (id_ > 0) {
            kill(id_, SIGKILL);
            waitpid(id_, nullptr, 0);
        }
        close(from_it_);
    }
    Process(Process const&) = delete;
    Process& operator=(Process const&) = delete;

    void close_input() {
        if (to_it_ >= 0) close(to_it_);
        to_it_ = -1;
    }
    void say(std::string const& text) const {
        REQUIRE(write(to_it_, text.data(), text.size()) == static_cast<ssize_t>(text.size()));
    }
    [[nodiscard]] bool runs() const { return waitpid(id_, nullptr, WNOHANG) == 0; }
    void signal(int number) const { kill(id_, number); }

    // The next line it prints, or what there is of one when it ends or ten seconds have passed.
    [[nodiscard]] std::string line() const {
        std::string text;
        char letter = 0;
        pollfd waiting{.fd = from_it_, .events = POLLIN, .revents = 0};
        while (poll(&waiting, 1, 10'000) == 1 && read(from_it_, &letter, 1) == 1 && letter != '\n')
            text += letter;
        return text;
    }

    // Its exit status, if it ends within ten seconds.
    [[nodiscard]] std::optional<int> ended() {
        for (int tries = 0; tries < 200; ++tries) {
            int status = 0;
            if (waitpid(id_, &status, WNOHANG) == id_) {
                id_ = -1;
                return WIFEXITED(status) ? std::optional{WEXITSTATUS(status)} : std::nullopt;
            }
            std::this_thread::sleep_for(std::chrono::milliseconds(50));
        }
        return std::nullopt;
    }

private:
    pid_t id_ = -1;
    int to_it_ = -1;
    int from_it_ = -1;
};

class ScratchFolder {
public:
    ScratchFolder() {
        std::string pattern = (std::filesystem::temp_directory_path() / "twin-XXXXXX").string();
        REQUIRE(mkdtemp(pattern.data()) != nullptr);
        path_ = pattern;
    }
    ~ScratchFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    ScratchFolder(ScratchFolder const&) = delete;
    ScratchFolder& operator=(ScratchFolder const&) = delete;
    [[nodiscard]] std::filesystem::path operator/(std::string const& name) const { return path_ / name; }

private:
    std::filesystem::path path_;
};

plan::Site site_of(std::string const& name) {
    auto const site = commands::read_plan(text_of(demo + name + ".plan.toml"), name + ".plan.toml");
    REQUIRE_MESSAGE(site.has_value(), (site ? std::string{} : quantity::to_sentence(site.error())));
    return *site;
}
}  // namespace

TEST_CASE("the demo's meters are up when it says ready, and their ports are in the file") {
    ScratchFolder const scratch;
    auto const ports_file = scratch / "ports.toml";
    Process twins{{"twin", demo + "tallowmere-yard.plan.toml", demo + "tallowmere-yard.wired.toml", "--ports",
                   ports_file.string()}};
    REQUIRE(twins.line() == "ready");
    auto site = site_of("tallowmere-yard");
    auto const filled = commands::fill_ports(site, text_of(ports_file), ports_file.string());
    REQUIRE_MESSAGE(filled.has_value(), (filled ? std::string{} : quantity::to_sentence(filled.error())));
    std::set<std::string> places;
    for (auto const& point : site.points)
        if (point.address.serial_line.empty()) places.insert(std::to_string(point.address.port));
    CHECK(places.size() == 4);
    for (auto const& line : site.serial_lines) places.insert(line.device);
    CHECK(places.size() == 7);

    twins.close_input();
    CHECK(twins.ended() == 0);
}

TEST_CASE("a signal ends it as well as a closed input") {
    Process twins{{"twin", demo + "cindervale-block.plan.toml", demo + "cindervale-block.wired.toml"}};
    REQUIRE(twins.line() == "ready");
    twins.signal(SIGTERM);
    CHECK(twins.ended() == 0);
}

TEST_CASE("a lead that is moved while the meters run shows in the next reading") {
    ScratchFolder const scratch;
    auto const plan_file = demo + "cindervale-block.plan.toml";
    auto const wired_file = scratch / "block.wired.toml";
    auto const ports_file = scratch / "ports.toml";
    auto wired = text_of(demo + "cindervale-block.wired.toml");
    std::ofstream{wired_file} << wired;
    Process twins{{"twin", plan_file, wired_file.string(), "--ports", ports_file.string()}};
    REQUIRE(twins.line() == "ready");
    auto site = site_of("cindervale-block");
    REQUIRE(commands::fill_ports(site, text_of(ports_file), ports_file.string()));
    auto const laundromat = std::ranges::find(site.points, "laundromat", &plan::MeteringPoint::id);
    REQUIRE(laundromat != site.points.end());
    auto const line = port::tcp_line({.host = "127.0.0.1", .port = static_cast<std::uint16_t>(laundromat->address.port)});
    auto const unit = static_cast<std::uint8_t>(laundromat->address.unit);
    auto const before = profile::find_sunspec(*line, unit, laundromat->service);
    REQUIRE(before);

    auto const at = wired.find("id = \"laundromat\"");
    REQUIRE(at != std::string::npos);
    auto const next = wired.find("[[point]]", at);
    auto block = wired.substr(at, next - at);
    REQUIRE(block.find("\ncts") == std::string::npos);  // wired as planned
    wired.insert(at + block.find('\n') + 1, "cts = [{ p1_faces = \"load\" }, {}, {}]\n");
    std::ofstream{wired_file} << wired;
    twins.say("rewire\n");
    REQUIRE(twins.line() == "rewired");
    auto const after = profile::find_sunspec(*line, unit, laundromat->service);
    REQUIRE(after);
    CHECK(*before->snapshot.p[0] * *after->snapshot.p[0] < 0.0);
    CHECK(*before->snapshot.p[1] * *after->snapshot.p[1] > 0.0);

    std::ofstream{wired_file} << "nonsense";
    twins.say("rewire\n");
    CHECK(twins.line().find("not rewired: ") == 0);
    CHECK(profile::find_sunspec(*line, unit, laundromat->service));
    twins.close_input();
    CHECK(twins.ended() == 0);
}

TEST_CASE("a repair of the buses is rehearsed: what was silent answers once the file of the buses says so") {
    ScratchFolder const scratch;
    auto const plan_file = demo + "tallowmere-yard.plan.toml";
    auto const bus_file = scratch / "yard.bus.toml";
    auto const ports_file = scratch / "ports.toml";
    auto bus = text_of(demo + "tallowmere-yard.first-day.bus.toml");
    std::ofstream{bus_file} << bus;
    Process twins{{"twin", plan_file, demo + "tallowmere-yard.wired.toml", "--bus", bus_file.string(), "--ports",
                   ports_file.string()}};
    REQUIRE(twins.line() == "ready");
    auto site = site_of("tallowmere-yard");
    REQUIRE(commands::fill_ports(site, text_of(ports_file), ports_file.string()));
    commands::ProfileShelf shelf(PHASEWRIGHT_SOURCE_DIR "/profiles");
    auto const answers = [&](std::string const& line_id, int position, int timeout_ms) {
        auto const planned = std::ranges::find(site.serial_lines, line_id, &plan::SerialLine::id);
        auto const point = std::ranges::find_if(site.points, [&](plan::MeteringPoint const& one) {
            return one.address.serial_line == line_id && one.address.position == position;
        });
        REQUIRE(point != site.points.end());
        auto const line = port::rtu_line(port::serial_channel(planned->device, planned->format),
                                         {.format = planned->format, .answer_timeout_ms = timeout_ms, .tries = 1});
        auto const unit = static_cast<std::uint8_t>(point->address.unit);
        if (point->meter_profile == "sunspec") return profile::find_sunspec(*line, unit, point->service).has_value();
        return profile::read_meter(*line, unit, **shelf.take(point->meter_profile), point->service).has_value();
    };
    CHECK(answers("line-1", 8, 5000));
    CHECK_FALSE(answers("line-1", 9, 300));
    CHECK_FALSE(answers("line-2", 7, 300));  // two devices at its address

    auto const change = [&](std::string const& from, std::string const& to) {
        auto const at = bus.find(from);
        REQUIRE(at != std::string::npos);
        bus.replace(at, from.size(), to);
    };
    change("crossed_behind = 8", "");
    change("unit = 7", "unit = 8");
    std::ofstream{bus_file} << bus;
    twins.say("rewire\n");
    REQUIRE(twins.line() == "rewired");
    CHECK(answers("line-1", 9, 5000));
    CHECK(answers("line-2", 7, 5000));
    CHECK(answers("line-2", 8, 5000));

    change("[line.line-1]", "[line.line-9]");
    std::ofstream{bus_file} << bus;
    twins.say("rewire\n");
    CHECK(twins.line().find("no such serial line") != std::string::npos);
    CHECK(answers("line-1", 9, 5000));
    twins.close_input();
    CHECK(twins.ended() == 0);
}

TEST_CASE("what is said on its input does not end it") {
    Process twins{{"twin", demo + "cindervale-block.plan.toml", demo + "cindervale-block.wired.toml"}};
    REQUIRE(twins.line() == "ready");
    twins.say("is anybody there?\n");
    std::this_thread::sleep_for(std::chrono::milliseconds(300));
    CHECK(twins.runs());
    twins.close_input();
    CHECK(twins.ended() == 0);
}

TEST_CASE("a file that is wrong is told on the error output, and the status is 2") {
    ScratchFolder const scratch;
    auto text = text_of(demo + "cindervale-block.wired.toml");
    auto const at = text.find("kind = \"high-leg\"");
    REQUIRE(at != std::string::npos);
    text.replace(at, 4, "kidn");
    std::ofstream{scratch / "wrong.toml"} << text;
    Process wrong{{"twin", demo + "cindervale-block.plan.toml", (scratch / "wrong.toml").string()}};
    auto const line = wrong.line();
    CHECK_MESSAGE(line.find("wrong.toml:9 supply.shop.kidn: the field is not known") != std::string::npos,
                  line);
    CHECK(wrong.ended() == 2);

    Process absent{{"twin", "no-such.plan.toml", demo + "cindervale-block.wired.toml"}};
    CHECK(absent.line().find("no-such.plan.toml: the file of the plan cannot be read") == 0);
    CHECK(absent.ended() == 2);
}

TEST_CASE("the demo building has 38 meters: 34 on three serial lines and four of their own") {
    auto const site = site_of("tallowmere-yard");
    CHECK(site.points.size() == 38);
    std::map<std::string, int> behind;
    for (auto const& point : site.points) ++behind[point.address.serial_line];
    CHECK(behind.size() == 4);
    CHECK(behind[""] == 4);
    auto const first_day = twin::read_bus(text_of(demo + "tallowmere-yard.first-day.bus.toml"), "first-day", site);
    REQUIRE_MESSAGE(first_day.has_value(), (first_day ? std::string{} : quantity::to_sentence(first_day.error())));
    for (auto const& name : {"tallowmere-yard", "cindervale-block"}) {
        auto const planned = site_of(name);
        auto const wired = twin::read_wired(text_of(demo + name + ".wired.toml"), name, planned);
        REQUIRE_MESSAGE(wired.has_value(), (wired ? std::string{} : quantity::to_sentence(wired.error())));
        CHECK(wired->points.size() == planned.points.size());
    }
}

TEST_CASE("the meters that the first day lays out otherwise show something else than their profiles say") {
    auto const site = site_of("tallowmere-yard");
    auto const wired = twin::read_wired(text_of(demo + "tallowmere-yard.wired.toml"), "wired", site).value();
    auto const bus = twin::read_bus(text_of(demo + "tallowmere-yard.first-day.bus.toml"), "first-day", site).value();
    auto const profiles = [](std::string const& name) {
        return profile::read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/" + name + ".toml");
    };
    auto const planned = twin::building_of(site, wired, twin::as_planned_bus(site), profiles).value();
    auto const really = twin::building_of(site, wired, bus, profiles).value();
    auto const read = [](twin::Building const& building, std::string const& id) {
        auto* const meter = building.by_point.at(id);
        return profile::decode(meter->shipped().value(), meter->registers_at(1.0));
    };
    CHECK(read(planned, "cafe").v[0].value() == doctest::Approx(231.0).epsilon(0.01));
    CHECK_FALSE(read(really, "cafe").v[0].value_or(0.0) == doctest::Approx(231.0).epsilon(0.1));  // low words first
    CHECK_FALSE(read(really, "water-heater").v_ll[0].value_or(0.0) == doctest::Approx(400.0).epsilon(0.1));  // one off
    CHECK(std::abs(read(planned, "gate").pf_total.value()) > 0.5);
    CHECK(read(really, "gate").pf_total.value() == doctest::Approx(-0.001));  // 0xFFFF
    // In a minute a counter of watt-hours seems to count a thousand times as much.
    auto const gained = [](twin::Building const& building, double from_s, double to_s) {
        auto* const meter = building.by_point.at("tenant-7");
        auto const count = [&](double time_s) {
            auto const counts = profile::energies_in(meter->shipped().value(), meter->registers_at(time_s));
            return std::ranges::find(counts, profile::EnergyKind::import,
                                     [](profile::EnergyCount const& one) { return one.habit.kind; })
                ->value.value();
        };
        double const before = count(from_s);
        return count(to_s) - before;
    };
    double const hour = gained(planned, 0.0, 3600.0);
    CHECK(hour > 1000.0);
    CHECK(gained(really, 0.0, 60.0) / hour == doctest::Approx(1000.0 / 60.0).epsilon(0.02));
}

TEST_CASE("the demo's files say where leads run and never what is wrong with them") {
    for (auto const& name : {"tallowmere-yard.plan.toml", "tallowmere-yard.wired.toml",
                             "cindervale-block.plan.toml", "cindervale-block.wired.toml"}) {
        auto text = text_of(demo + name);
        // Words of the plan file itself: what protects a tap, what a CT can be shorted with, how a supply is landed.
        for (std::string const field : {"fault_ka", "\"fuse\"", "fuse_a", "shorting", "polarity = \"crossed\""})
            for (auto at = text.find(field); at != std::string::npos; at = text.find(field)) text.erase(at, field.size());
        for (auto const* word :
             {"revers", "swap", "exchang", "rotated", "wrong", "mistake", "fault", "correct", "blown", "fuse",
              "crossed", "dead", "diagnos", "verdict", "repair", "short", "expect"})
            CHECK_MESSAGE(text.find(word) == std::string::npos, (std::string{name} + " says " + word));
    }
}
