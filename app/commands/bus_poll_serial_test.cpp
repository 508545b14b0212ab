// Polling over serial lines, as pseudo-terminals. It listens as long as it does on a real line: ten seconds.
#include <doctest/doctest.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>

#include "app/commands/bus_poll_command.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/port/pty_in_tests.hpp"
#include "bus/profile/sunspec.hpp"

using namespace phasewright;
using namespace phasewright::commands;

namespace {

constexpr plan::SerialFormat format{115200, plan::Parity::none, 2};

std::string line_text(std::string const& id, std::string const& device) {
    return "[[serial_line]]\nid = \"" + id + "\"\ndevice = \"" + device +
           "\"\nbit_rate = 115200\nparity = \"none\"\nanswer_timeout_ms = 500\n";
}
std::string point_text(std::string const& id, std::string const& line) {
    return "[[point]]\nid = \"" + id +
           "\"\npanel = \"main\"\nservice = \"3P4W\"\nct = { ratio = [200, 5], output = \"5A\" }\n"
           "meter = { profile = \"sunspec\" }\naddress = { serial_line = \"" +
           line + "\", unit = 3 }\n";
}

readings::Snapshot shown() {
    readings::Snapshot snapshot;
    snapshot.v = {231.0, 229.0, 230.0};
    snapshot.i = {20.0, 21.0, 22.0};
    snapshot.p = {4000.0, 4100.0, 4200.0};
    snapshot.hz = 50.0;
    return snapshot;
}

codec::Bytes answered(profile::RegisterImage const& image, codec::Bytes const& bytes) {
    auto const frame = codec::read_rtu_frame(bytes);
    if (!frame || frame->unit != 3) return {};
    auto const question = codec::parse_question(frame->pdu);
    if (!question || !std::holds_alternative<codec::ReadRegisters>(*question)) return {};
    auto const& asked = std::get<codec::ReadRegisters>(*question);
    auto const registers = profile::serve(image, asked);
    auto pdu =
        registers ? codec::registers_pdu(asked, *registers) : codec::exception_pdu(3, registers.error());
    return codec::to_bytes({.unit = 3, .pdu = std::move(pdu)});
}

}  // namespace

TEST_CASE("a quiet serial line is polled, and one where another master speaks is told and never asked") {
    port::FarEnd quiet(format);
    port::FarEnd busy(format);
    auto const image = profile::sunspec_image(203, shown(), {});
    quiet.answers_with([&](codec::Bytes const& question) { return answered(image, question); });
    std::atomic<int> asked_on_busy = 0;
    busy.answers_with([&](codec::Bytes const&) {
        ++asked_on_busy;
        return codec::Bytes{};
    });
    std::atomic<bool> over = false;
    std::thread other_master([&] {
        auto const question = codec::to_bytes(
            {.unit = 7, .pdu = codec::question_pdu(codec::ReadRegisters{.count = 10}).value()});
        while (!over) {
            busy.send(question);
            std::this_thread::sleep_for(std::chrono::milliseconds(200));
        }
    });

    auto const file =
        std::filesystem::temp_directory_path() / ("bus-poll-serial-" + std::to_string(getpid()) + ".toml");
    std::ofstream(file)
        << "[site]\nname = \"Two lines\"\n[[panel]]\nid = \"main\"\nv_ln = 230.0\nv_ll = 400.0\nhz = 50.0\n"
        << line_text("riser", quiet.device()) << line_text("yard", busy.device())
        << point_text("shop", "riser") << point_text("gate", "yard");
    std::ostringstream out, err;
    auto const enough = [&] {
        int readings = 0, told = 0;
        std::istringstream lines(out.str());
        for (std::string line; std::getline(lines, line);) {
            auto const event = nlohmann::json::parse(line);
            readings += event["event"] == "reading" ? 1 : 0;
            told += event["event"] == "note" && event["kind"] == "line_lost" ? 1 : 0;
        }
        return readings >= 3 && told >= 1;
    };
    CHECK(bus_poll_command({.plan_file = file, .interval_s = 0.2, .for_s = 120.0, .json = true}, enough, out,
                           err) == 0);
    std::filesystem::remove(file);
    CHECK(enough());
    over = true;
    other_master.join();
    CHECK(asked_on_busy == 0);
    CHECK(out.str().find("unit 7") != std::string::npos);
    CHECK(out.str().find("\"point\":\"gate\",\"time\"") == std::string::npos);
    CHECK(err.str().find("listening for 10 s") != std::string::npos);
}
