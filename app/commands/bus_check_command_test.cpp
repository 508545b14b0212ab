// The whole command on exchanges that were kept, so no line is asked: what people read, the JSON, and what is refused.
#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/bus_check_command.hpp"
#include "app/commands/exchange_lines.hpp"
#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/rtu_frame.hpp"

namespace phasewright::commands {

namespace {
// A folder with a plan of twelve meters on one line, and exchanges with them.
class Site {
public:
    Site() : folder_(std::filesystem::temp_directory_path() / ("phasewright-check-" + std::to_string(getpid()))) {
        std::filesystem::create_directories(folder_);
        std::string plan = "[site]\nname = \"Site\"\n[[panel]]\nid = \"p\"\nv_ln = 230\nv_ll = 400\nhz = 50\n"
                           "[[serial_line]]\nid = \"pair\"\ndevice = \"/dev/none\"\n";
        for (int unit = 1; unit <= 12; ++unit) {
            auto const number = std::to_string(unit);
            plan += "[[point]]\nid = \"m" + number + "\"\nname = \"Meter " + number +
                    "\"\npanel = \"p\"\nservice = \"3P4W\"\nct = { ratio = [100, 5], output = \"5A\" }\n"
                    "meter = { profile = \"sunspec\" }\naddress = { serial_line = \"pair\", unit = " + number +
                    ", position = " + number + " }\n";
        }
        write("plan.toml", plan);
    }
    Site(Site const&) = delete;
    Site& operator=(Site const&) = delete;
    ~Site() {
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    [[nodiscard]] std::filesystem::path file(std::string const& name) const { return folder_ / name; }
    void write(std::string const& name, std::string const& text) const { std::ofstream(file(name)) << text; }

    // What each unit gave, as the end of its frames without checksum: empty for silence.
    void keep(std::function<codec::Bytes(int unit, int round)> const& heard) const {
        RecordedLine line;
        line.heard_before = false;
        for (int round = 0; round < 5; ++round)
            for (int unit = 1; unit <= 12; ++unit) {
                port::Exchange exchange{.unit = static_cast<std::uint8_t>(unit)};
                exchange.sent = codec::to_bytes({.unit = exchange.unit, .pdu = codec::hex("03 00 00 00 01")});
                exchange.heard = heard(unit, round);
                if (!exchange.heard.empty()) exchange.arrivals = {{0.03, exchange.heard.size()}};
                line.exchanges.push_back({exchange, false});
            }
        write("kept.jsonl", exchanges_text(line));
    }

private:
    std::filesystem::path folder_;
};

codec::Bytes answer(int unit) { return codec::to_bytes({.unit = static_cast<std::uint8_t>(unit), .pdu = codec::hex("03 02 00 2A")}); }

struct Ran {
    int status = 0;
    std::string out, err;
};
Ran run(Site const& site, std::function<void(BusCheckOptions&)> const& with = {}) {
    BusCheckOptions options;
    options.plan_file = site.file("plan.toml");
    options.recorded_file = site.file("kept.jsonl");
    if (with) with(options);
    std::ostringstream out, err;
    Ran ran;
    ran.status = bus_check_command(options, out, err);
    ran.out = out.str();
    ran.err = err.str();
    return ran;
}
}  // namespace

TEST_CASE("a line that fails behind its eighth meter is said to, with the caution before the check") {
    Site const site;
    site.keep([](int unit, int) { return unit <= 8 ? answer(unit) : codec::Bytes{}; });
    auto const ran = run(site);
    CHECK(ran.status == 0);
    CHECK(ran.out.find("The trunk fails between the 8th device (unit 8, Meter 8)") != std::string::npos);
    auto const caution = ran.out.find("Terminals of the bus stand beside terminals at mains voltage");
    REQUIRE(caution != std::string::npos);
    CHECK(caution < ran.out.find("next  "));
    CHECK(ran.out.find("safe") == std::string::npos);
    std::istringstream lines(ran.out);
    for (std::string line; std::getline(lines, line);) CHECK(line.size() <= 90);  // 80 columns, and two bytes a sign

    auto const measured = run(site, [](auto& options) { options.volts = {"9=-0.25"}; });
    CHECK(measured.out.find("The pair is crossed between the 8th device") != std::string::npos);
}

TEST_CASE("the same as JSON, and ohms that prove three terminators") {
    Site const site;
    site.keep([](int unit, int round) {
        auto bytes = answer(unit);
        if ((unit + round) % 3 == 0) bytes.insert(bytes.begin(), std::byte{0xFF});
        return bytes;
    });
    auto const bytes = nlohmann::json::parse(run(site, [](auto& options) { options.json = true; }).out);
    CHECK(bytes["state"] == "cannot_tell");
    CHECK(bytes["electrical"] > 0.9);
    for (auto const& one : bytes["suspicions"]) CHECK(one["p"] <= 0.5);
    auto const measured = nlohmann::json::parse(run(site, [](auto& options) {
                                                    options.json = true;
                                                    options.ohms = "40";
                                                }).out);
    CHECK(measured["state"] == "found");
    CHECK(measured["suspicions"][0]["fault"] == "surplus_terminators");
    // Open proves nothing: a terminator with a capacitor in series is open too (MODBUS over Serial Line V1.02, 3.4.5).
    auto const open = nlohmann::json::parse(run(site, [](auto& options) {
                                                options.json = true;
                                                options.ohms = "open";
                                            }).out);
    for (auto const& one : open["suspicions"]) CHECK(one["p"] <= 0.5);
}

TEST_CASE("what cannot be meant is refused and nothing is judged") {
    Site const site;
    site.keep([](int unit, int) { return answer(unit); });
    auto const refused = [&](std::function<void(BusCheckOptions&)> const& with) {
        auto const ran = run(site, with);
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        return ran.err;
    };
    CHECK(refused([](auto& options) { options.line = "other"; }).find("pair") != std::string::npos);
    CHECK(refused([](auto& options) { options.volts = {"nine"}; }).find("--volts") != std::string::npos);
    CHECK(refused([](auto& options) { options.volts = {"230"}; }).find("--volts") != std::string::npos);
    CHECK(refused([](auto& options) { options.ohms = "-1"; }).find("--ohms") != std::string::npos);
    CHECK(refused([](auto& options) { options.plan_file = "no-such.toml"; }).find("no-such.toml") != std::string::npos);
    // The port does not exist: nothing was asked, and no verdict comes of it.
    CHECK(refused([](auto& options) { options.recorded_file.reset(); }).find("/dev/none") != std::string::npos);
    site.write("kept.jsonl", R"({"unit":99,"sent":"63 03 00 00 00 01"})");
    CHECK(refused([](auto&) {}).find("99") != std::string::npos);
}

}  // namespace phasewright::commands
