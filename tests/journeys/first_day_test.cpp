// The first day on the bus of Tallowmere Yard, by the commands of docs/tasks/first-day-on-the-bus.md: three serial lines
// and four meters of their own are found, what is wrong with the pairs is inferred, a meter with a table laid out
// otherwise is decoded, another is programmed and put back. The bus file says what is really there; no command reads it.
#include <doctest/doctest.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <future>
#include <string>
#include <utility>
#include <vector>

#include <sys/wait.h>

#include <nlohmann/json.hpp>

#include "app/commands/twin_child.hpp"

using namespace phasewright;

namespace {
std::string const house = PHASEWRIGHT_SOURCE_DIR;
std::string const plan = house + "/demo/tallowmere-yard.plan.toml";

struct Said {
    std::string words;
    int status = -1;
    [[nodiscard]] bool has(std::string_view part) const { return words.find(part) != std::string::npos; }
    [[nodiscard]] nlohmann::json json() const { return nlohmann::json::parse(words); }
};

Said phasewright_says(std::string const& arguments) {
    auto* const pipe = popen((std::string(PHASEWRIGHT_PROGRAM) + " " + arguments + " 2>/dev/null").c_str(), "r");
    REQUIRE(pipe != nullptr);
    Said said;
    std::array<char, 4096> buffer{};
    while (auto const count = fread(buffer.data(), 1, buffer.size(), pipe)) said.words.append(buffer.data(), count);
    int const ended = pclose(pipe);
    said.status = WIFEXITED(ended) ? WEXITSTATUS(ended) : -1;
    return said;
}
std::future<Said> asked(std::string arguments) {
    return std::async(std::launch::async, [arguments = std::move(arguments)] { return phasewright_says(arguments); });
}

// The building on its first day, and a folder for what the commands write.
class FirstDay {
public:
    FirstDay() : folder_(std::filesystem::temp_directory_path() / ("first-day-" + std::to_string(getpid()))) {
        std::filesystem::create_directories(folder_);
        auto started = commands::TwinChild::start({.executable = PHASEWRIGHT_PROGRAM,
                                                   .plan_file = plan,
                                                   .wired_file = house + "/demo/tallowmere-yard.wired.toml",
                                                   .profiles_folder = house + "/profiles",
                                                   .bus_file = house + "/demo/tallowmere-yard.first-day.bus.toml"});
        REQUIRE(started);
        twins_.emplace(std::move(*started));
        std::ofstream(folder_ / "ports.toml") << twins_->ports();
    }
    FirstDay(FirstDay const&) = delete;
    FirstDay& operator=(FirstDay const&) = delete;
    ~FirstDay() { std::filesystem::remove_all(folder_); }

    [[nodiscard]] std::string file(std::string const& name) const { return (folder_ / name).string(); }
    [[nodiscard]] std::string where() const { return " --plan " + plan + " --ports " + file("ports.toml"); }
    [[nodiscard]] std::string device(std::string const& line) const {
        auto const& text = twins_->ports();
        auto const at = text.find(line + " = \"") + line.size() + 4;
        return text.substr(at, text.find('"', at) - at);
    }

private:
    std::filesystem::path folder_;
    std::optional<commands::TwinChild> twins_;
};
}  // namespace

TEST_CASE("the pairs of three lines: crossed behind the eighth, two at one address, a terminator too many") {
    FirstDay const day;
    auto crossed = asked("bus check --line line-1" + day.where());
    auto twice = asked("bus check --line line-2 --tries 20" + day.where());
    auto loaded = asked("bus check --line line-3" + day.where());
    auto const first = crossed.get();
    // Bytes cannot tell a crossing from a break: both are named, and what parts them is the next check.
    CHECK(first.status == 0);
    CHECK_MESSAGE(first.has("the pair is crossed between the 8th device"), first.words);
    CHECK(first.has("the trunk is broken between the 8th device"));
    CHECK(first.has("exchange D0 and D1"));
    auto const second = twice.get();
    CHECK_MESSAGE(second.has("Unit 7, Chilled-water pumps: two devices answer at this"), second.words);
    auto const third = loaded.get();
    CHECK_MESSAGE(third.has("Something electrical disturbs the line"), third.words);
    CHECK(third.has("bytes cannot"));
    // Forty ohm across the unpowered pair are three terminators of 120 ohm in parallel.
    auto const measured = phasewright_says("bus check --line line-3 --ohms 40 --volts 0.17" + day.where());
    CHECK_MESSAGE(measured.words.find("There are more terminators than two. 9") < 200, measured.words);
}

TEST_CASE("the meters are found: all that can be heard, on serial lines and on Ethernet") {
    FirstDay const day;
    auto line = asked("bus find --json --units 1-14 --line line-1" + day.where());
    auto hosts = asked("bus find --json --line incomer --line solar --line chiller --line kitchen" + day.where());
    auto const found = line.get();
    CHECK(found.status == 0);
    auto const said = nlohmann::json::parse(found.words.substr(0, found.words.find('\n')));
    CHECK_MESSAGE(said.at("devices").size() == 8, found.words);
    auto const others = hosts.get();
    CHECK_MESSAGE(others.has("kitchen"), others.words);
}

TEST_CASE("a meter that keeps its low words first is decoded, and another is programmed and put back") {
    FirstDay const day;
    auto decoded = asked("decode --read " + day.device("line-3") + " --unit 4 --function 4 --from 2880 --count 96 --nominal 230/400 --hz 50 " +
                         "--profile " + house + "/profiles/tarnfell-t3.toml");
    auto const why = decoded.get();
    CHECK(why.status == 0);
    CHECK_MESSAGE(why.has("word_order"), why.words);

    auto const journal = " --journal " + day.file("settings.jsonl");
    auto const dry = phasewright_says("program --point cold-store" + day.where() + journal);
    CHECK(dry.status == 1);
    CHECK_MESSAGE(dry.has("nothing was"), dry.words);
    CHECK(dry.has("200 A"));
    auto const written = phasewright_says("program --point cold-store --write --confirm cold-store" + day.where() + journal);
    CHECK(written.status == 0);
    CHECK_MESSAGE(written.has("Written and read back."), written.words);
    auto const undone = phasewright_says("program --point cold-store --undo --confirm cold-store" + day.where() + journal);
    CHECK_MESSAGE(undone.has("Written and read back."), undone.words);
    auto const again = phasewright_says("program --point cold-store" + day.where() + journal);
    CHECK_MESSAGE(again.has("200 A"), again.words);
}

TEST_CASE("a table that starts one register off, one with 0xFFFF and one in watt-hours are each told for what they are") {
    FirstDay const day;
    auto const decode = [&](std::string const& line, int unit, std::string const& more) {
        return asked("decode --read " + day.device(line) + " --unit " + std::to_string(unit) +
                     " --function 4 --from 219 --count 87 --nominal 230/400 --wait-ms 5000 --profile " + house +
                     "/profiles/hollowick-h1.toml" + more);
    };
    auto counted = decode("line-1", 7, " --times 2 --every 15");
    auto shifted = decode("line-3", 7, "");
    auto const off_by_one = shifted.get();  // a port is opened by one at a time
    auto unmeasured = decode("line-3", 11, "");
    CHECK_MESSAGE(off_by_one.has("every address one higher"), off_by_one.words);
    auto const all_bits = unmeasured.get();
    CHECK_MESSAGE(all_bits.has("0xFFFF (all bits set) means that there is no value"), all_bits.words);
    auto const watt_hours = counted.get();
    CHECK_MESSAGE(watt_hours.has("Wh for kWh"), watt_hours.words);
}
