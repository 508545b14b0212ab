#include "app/commands/evidence_command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/acceptance_file.hpp"

using namespace phasewright;
using namespace phasewright::commands;
using doctest::Approx;

namespace {
std::string whole(std::filesystem::path const& file) {
    std::ifstream in(file);
    REQUIRE(in.good());
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

class Folder {  // that is gone afterwards
public:
    Folder()
        : path_(std::filesystem::temp_directory_path() /
                ("phasewright-evidence-" + std::to_string(getpid()))) {
        std::filesystem::create_directories(path_);
    }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    ~Folder() { std::filesystem::remove_all(path_); }
    std::filesystem::path write(std::string const& name, std::string const& text) const {
        std::ofstream(path_ / name) << text;
        return path_ / name;
    }

private:
    std::filesystem::path path_;
};

struct Answered {
    int status = -1;
    std::string out, err;
    [[nodiscard]] nlohmann::json line(std::size_t at = 0) const {
        std::istringstream lines(out);
        std::string line;
        for (std::size_t k = 0; k <= at; ++k) std::getline(lines, line);
        return nlohmann::json::parse(line);
    }
};
Answered asked(EvidenceReader read, std::string const& text, std::string const& limits = {},
               bool json = true) {
    Folder const folder;
    EvidenceOptions options{.file = folder.write("test.toml", text), .json = json};
    if (!limits.empty()) options.limits_file = folder.write("limits.toml", limits);
    folder.write("powers.csv", "seconds,watts\n0,10000\n1200,10000\n2400,10000\n3600,10000\n");
    std::ostringstream out;
    std::ostringstream err;
    int const status = evidence_command(read, options, out, err);
    return {status, out.str(), err.str()};
}

// The blocks of TOML in docs/tasks/prove-a-point.md, in order.
std::vector<std::string> blocks_of_page() {
    auto const page = whole(PHASEWRIGHT_SOURCE_DIR "/docs/tasks/prove-a-point.md");
    std::vector<std::string> blocks;
    for (std::size_t at = 0; (at = page.find("```toml\n", at)) != std::string::npos;) {
        auto const end = page.find("```", at + 8);
        blocks.push_back(page.substr(at + 8, end - at - 8));
        at = end;
    }
    return blocks;
}
constexpr auto confirmed = R"([limit."registration.in-service"]
edition = "2022"
confirmed = true
)";
}  // namespace

TEST_CASE("the page of acceptance limits is what the program prints") {
    CHECK(whole(PHASEWRIGHT_SOURCE_DIR "/docs/reference/acceptance-limits.md") == acceptance_page());
}

TEST_CASE("every file that the task's page shows is one that the commands read") {
    auto const blocks = blocks_of_page();
    REQUIRE(blocks.size() == 7);
    auto const timing = asked(timing_answer, blocks[0]);
    CHECK(timing.status == 1);  // its limit is from memory
    CHECK(timing.line().at("outcome") == "not-provable");
    CHECK(timing.line().at("by_the_numbers") == "pass");
    CHECK(timing.line().at("figures").at(0).at("value").get<double>() ==
          Approx(3600.0 * 0.1 * 40 * 2000 / 375));
    CHECK(asked(comparison_answer, blocks[1], confirmed).status == 0);
    auto const dead = asked(before_power_answer, blocks[2]);
    CHECK(dead.err.empty());
    CHECK(dead.line(0).at("test") == "ring-out");
    auto const ratio = asked(ratio_answer, blocks[3]);
    CHECK(ratio.line().at("outcome") == "fail");
    auto const registers = asked(registers_answer, blocks[4]);
    CHECK(registers.err.empty());
    CHECK(registers.line(0).at("test") == "register-advance");
    CHECK(registers.line(3).at("test") == "starting-current");
    auto const state = asked(state_answer, blocks[6]);
    CHECK(state.err.empty());
    CHECK(state.line(2).at("sentence").get<std::string>().find("not proved yet") != std::string::npos);
}

TEST_CASE("a confirmed limit lets the same timing pass, and says that it is the user's word") {
    auto const block = blocks_of_page().at(0);
    CHECK(asked(timing_answer, block, confirmed).status == 0);
    std::istringstream words(asked(timing_answer, block, confirmed, false).out);
    std::string text;
    for (std::string word; words >> word;) text += word + " ";  // however it was wrapped
    CHECK(text.find("timing: pass") != std::string::npos);
    CHECK(text.find("confirmed by you") != std::string::npos);
    CHECK(text.find("caution:") != std::string::npos);
}

TEST_CASE("mistakes in a test or in limits are refused with their line, what was found and what is allowed") {
    auto const refused = [](EvidenceReader read, std::string const& text, std::string const& words,
                            std::string const& limits = {}) {
        auto const answer = asked(read, text, limits);
        CAPTURE(answer.err);
        CHECK(answer.status == 2);
        CHECK(answer.out.empty());
        CHECK(answer.err.find(words) != std::string::npos);
    };
    refused(timing_answer, "pulses = 10\nseconds = 3\n", "energy of a pulse");
    refused(timing_answer, "kh_wh = 1\npulses = 0\nseconds = 3\n", "pulses");
    refused(timing_answer, "kh_wh = 1\npulse = 10\nseconds = 3\n", "pulses");
    refused(timing_answer, "kh_wh = 1\nfactor = 2\nct = [5, 5]\npulses = 10\nseconds = 3\n", "twice");
    refused(timing_answer, "kh_wh =", "test.toml");
    refused(comparison_answer, "[instrument]\nname = \"x\"\n[[comparison]]\n", "accurate");
    refused(before_power_answer, "# nothing\n", "no test");
    refused(before_power_answer, "[[loop]]\nname = \"x\"\n", "open");
    refused(before_power_answer, "[ring_out]\nnear = [\"a\"]\nfar = [\"a\"]\nrung = [\"a a\"]\n",
            "HERE | THERE");
    refused(switching_answer, "[[step]]\ncircuit = \"a\"\n", "plan");
    refused(switching_answer, "plan = \"none.toml\"\n", "none.toml");
    refused(state_answer,
            "point = \"x\"\n[[test]]\nside = \"meter-side\"\nwhat = \"x\"\noutcome = \"pass\"\nby = "
            "\"I\"\ntime = \"soon\"\n",
            "no time");
    auto const timing = blocks_of_page().at(0);
    refused(timing_answer, timing, "edition", "[limit.\"registration.in-service\"]\nconfirmed = true\n");
    refused(timing_answer, timing, "side", "[limit.\"mine\"]\nstandard = \"x\"\n");
    refused(timing_answer, timing, "above the upper",
            "[limit.\"mine\"]\nlow = 2\nhigh = 1\nstandard = \"x\"\n");
    std::ostringstream out;
    std::ostringstream err;
    CHECK(evidence_command(timing_answer, {.file = "/nowhere/at-all.toml"}, out, err) == 2);
}

TEST_CASE("an open loop stops before anything else, in words and in JSON") {
    auto const open = asked(before_power_answer, "[[loop]]\nname = \"CT1\"\nopen = true\n");
    CHECK(open.status == 1);
    CHECK(open.line().at("stop") == true);
    CHECK(asked(before_power_answer, "[[loop]]\nname = \"CT1\"\nopen = true\n", {}, false)
              .out.starts_with("loop-resistance CT1: STOP."));
}

TEST_CASE("with a plan the loop is held against the plan's lead and the burden against its transformer") {
    Folder const folder;
    EvidenceOptions const options{
        .file = folder.write("test.toml", "[[loop]]\nname = \"CT1\"\nohm = 0.11\nof_reading_percent = 1\n"),
        .plan_file = PHASEWRIGHT_SOURCE_DIR "/demo/tallowmere-yard.plan.toml",
        .point = "tenant-7",
        .profiles_folder = PHASEWRIGHT_SOURCE_DIR "/profiles",
        .json = true};
    std::ostringstream out;
    std::ostringstream err;
    CHECK(evidence_command(before_power_answer, options, out, err) == 0);
    CAPTURE(err.str());
    auto const line = nlohmann::json::parse(out.str());
    // 6 m of flexible 2.5 mm2 there and back, 7.98 ohm/km (IEC 60228, class 5), and 0.01 ohm of contacts
    CHECK(line.at("figures").at(1).at("value").get<double>() == Approx(12.0 * 7.98e-3 + 0.01));
    CHECK(line.at("notes").at(0).get<std::string>().find("burden") == 0);
}

TEST_CASE("interchanged CT sets are found from readings written by hand") {
    auto const step = [](char const* circuit, char const* first, char const* second) {
        return std::string{"[[step]]\ncircuit = \""} + circuit +
               "\"\n[[step.reading]]\nmeter = \"t-7\"\nbefore = [8400, 8410]\nduring = [" + first +
               "]\nafter = [8420]\n[[step.reading]]\nmeter = \"t-8\"\nbefore = [6400, 6390]\nduring = [" +
               second + "]\nafter = [6410]\n";
    };
    std::string const meters =
        "[[meter]]\nid = \"t-7\"\npanel = \"riser\"\n[[meter]]\nid = \"t-8\"\npanel = \"riser\"\n";
    auto const found = asked(switching_answer, meters + step("t-7", "8405", "0") + step("t-8", "0", "6400"));
    CHECK(found.status == 1);
    CHECK(found.line().at("reason") == "the circuit of t-7 is counted by the meter of t-8");
    CHECK(asked(switching_answer, meters + step("t-7", "0", "6400") + step("t-8", "8405", "0")).status == 0);
}
