// The command on the demo's plans: every mistake that was planted is found with its figures, and nothing else
// is stopped or to be mended; limits and faults; the page of rules against the program.
#include "app/commands/plan_check_command.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <map>
#include <set>
#include <sstream>

#include <nlohmann/json.hpp>

#include "app/commands/plan_check_limits.hpp"
#include "app/commands/plan_check_page.hpp"

using namespace phasewright;
using namespace phasewright::commands;
using nlohmann::json;

namespace {
std::string const root = PHASEWRIGHT_SOURCE_DIR;

struct Ran {
    int status = 0;
    std::string out, err;
    [[nodiscard]] std::vector<std::string> lines() const {
        std::vector<std::string> all;
        std::istringstream in(out);
        for (std::string line; std::getline(in, line);) all.push_back(line);
        return all;
    }
};
Ran run(PlanCheckOptions const& options) {
    std::ostringstream out;
    std::ostringstream err;
    int const status = plan_check_command(options, out, err);
    return {status, out.str(), err.str()};
}
PlanCheckOptions on_demo(std::string const& name) {
    PlanCheckOptions options;
    options.plan_file = root + "/demo/" + name + ".plan.toml";
    options.profiles_folder = root + "/profiles";
    options.json = true;
    return options;
}

std::vector<json> findings_of(Ran const& ran) {
    std::vector<json> all;
    for (auto const& line : ran.lines()) all.push_back(json::parse(line));
    REQUIRE_FALSE(all.empty());
    all.pop_back();  // the counts
    return all;
}
json one(std::vector<json> const& findings, std::string const& rule) {
    std::vector<json> own;
    for (auto const& finding : findings)
        if (finding["rule"] == rule) own.push_back(finding);
    REQUIRE_MESSAGE(own.size() == 1, rule << ": " << own.size());
    return own.front();
}
std::string first_place(json const& finding) {
    return finding["places"][0]["kind"].get<std::string>() + " " +
           finding["places"][0]["id"].get<std::string>();
}
bool says(json const& finding, std::string const& words) {
    return finding["what"].get<std::string>().find(words) != std::string::npos;
}
std::set<std::string> heavy(std::vector<json> const& findings) {
    std::set<std::string> all;
    for (auto const& finding : findings)
        if (finding["severity"] != "mind")
            all.insert(finding["rule"].get<std::string>() + " " + first_place(finding));
    return all;
}

struct TextFile {
    std::string path;
    explicit TextFile(std::string const& name, std::string const& text) : path("plan_check_" + name) {
        std::ofstream(path, std::ios::binary) << text;
    }
    ~TextFile() { std::remove(path.c_str()); }
    TextFile(TextFile const&) = delete;
    TextFile& operator=(TextFile const&) = delete;
};
}  // namespace

TEST_CASE(
    "the six plan mistakes of the demo building are found, and nothing else there is stopped or to be "
    "mended") {
    auto const ran = run(on_demo("tallowmere-yard"));
    CHECK(ran.status == 1);
    auto const findings = findings_of(ran);
    CHECK(heavy(findings) ==
          std::set<std::string>{"burden.over point gate", "transformer.output-kind point cars-3",
                                "ground-loop.short supply yard-24", "supply.power supply plant-24",
                                "tap.conductor-current point tenant-2",
                                "environment.top-entry panel charging"});
}

TEST_CASE("the lead of 30 m is out of burden: 11.67 VA for a transformer of 5 VA") {
    // IEC 60228:2004, 2.5 mm2: 7.41 ohm/km. 25 * 2 * 0.030 * 7.41 = 11.115 VA of leads, 0.25 VA of contacts,
    // 0.3 VA of meter.
    auto const finding = one(findings_of(run(on_demo("tallowmere-yard"))), "burden.over");
    CHECK(finding["value"].get<double>() == doctest::Approx(11.115 + 0.25 + 0.3));
    CHECK(finding["limit"] == 5.0);
    CHECK(finding["unit"] == "VA");
    CHECK(says(finding, "30 m of lead of 2.5 mm2"));
}

TEST_CASE("the 333 mV transformer for a 5 A input is blocked, with its caution") {
    auto const finding = one(findings_of(run(on_demo("tallowmere-yard"))), "transformer.output-kind");
    CHECK(finding["severity"] == "stop");
    CHECK(finding["value"] == 0.333);
    CHECK(says(finding, "100 A : 333 mV"));
    CHECK(says(finding, "damage possible: blocked"));
    CHECK(finding["caution"].get<std::string>().starts_with("Do not connect them"));
}

TEST_CASE("the shared ac supply with crossed polarity is a short through the common, told as a cycle") {
    auto const finding = one(findings_of(run(on_demo("tallowmere-yard"))), "ground-loop.short");
    CHECK(finding["severity"] == "stop");
    CHECK(finding["value"] == 24.0);
    CHECK(says(finding,
               "first pole of yard-24 -> (its winding) -> second pole of yard-24 -> (laundry) -> common of "
               "line-3 -> "
               "(gym, crossed) -> first pole of yard-24"));
}

TEST_CASE("the undersized 24 V supply: eight meters take 32 W and it gives 25 W") {
    auto const finding = one(findings_of(run(on_demo("tallowmere-yard"))), "supply.power");
    CHECK(finding["value"].get<double>() == doctest::Approx(32.0));
    CHECK(finding["limit"] == 25.0);
    CHECK(finding["unit"] == "W");
}

TEST_CASE(
    "the 63 A breaker as the only protection of a 1.5 mm2 tap passes 12.96 times the heat of the table's "
    "current") {
    // (63 / 17.5)^2; 17.5 A: IEC 60364-5-52, Table B.52.2, method B1, from memory. k2 S2 = 115^2 * 1.5^2 = 29
    // 756 A2s.
    auto const findings = findings_of(run(on_demo("tallowmere-yard")));
    auto const finding = one(findings, "tap.conductor-current");
    CHECK(finding["severity"] == "stop");
    CHECK(finding["value"] == 63.0);
    CHECK(finding["limit"] == 17.5);
    CHECK(says(finding, "12.96 times that heat"));
    auto const energy = one(findings, "tap.fault-energy");
    CHECK(energy["severity"] == "mind");  // k is from memory, and the copper does not melt
    CHECK(energy["limit"].get<double>() == doctest::Approx(29756.25));
    CHECK(says(energy, "check the edition in force"));
}

TEST_CASE("the conduit from above is found on the outdoor box") {
    auto const finding = one(findings_of(run(on_demo("tallowmere-yard"))), "environment.top-entry");
    CHECK(finding["severity"] == "mend");
    CHECK(finding["source"]["footing"] == "practice");
}

TEST_CASE("the lift's standby is unproven below 5 %") {
    auto const finding = one(findings_of(run(on_demo("tallowmere-yard"))), "transformer.least-load");
    CHECK(first_place(finding) == "point lift-1");
    CHECK(finding["value"].get<double>() == doctest::Approx(1.6));
    CHECK(says(finding, "unproven below 5 %"));
}

TEST_CASE(
    "the one-element meter between two phases registers 75 %, and the sister building has nothing else to "
    "mend") {
    auto const findings = findings_of(run(on_demo("cindervale-block")));
    CHECK(heavy(findings) == std::set<std::string>{"service.elements point salon"});
    auto const finding = one(findings, "service.elements");
    CHECK(finding["value"].get<double>() == doctest::Approx(75.0));
    CHECK(says(finding, "75 % of equal loads to the neutral"));
}

TEST_CASE("one finding a line, most severe first, then the counts") {
    auto options = on_demo("tallowmere-yard");
    options.json = false;
    auto const lines = run(options).lines();
    auto const json_lines = run(on_demo("tallowmere-yard")).lines();
    REQUIRE(lines.size() == json_lines.size());
    CHECK(lines.front().starts_with("stop  "));
    CHECK(lines.front().find(" Caution: ") != std::string::npos);
    auto const weight = [](std::string const& line) {
        return line.starts_with("stop  ") ? 0 : line.starts_with("mend  ") ? 1 : 2;
    };
    for (std::size_t k = 1; k + 1 < lines.size(); ++k) CHECK(weight(lines[k - 1]) <= weight(lines[k]));
    auto const counts = json::parse(json_lines.back());
    CHECK(counts["stop"] == 3);
    CHECK(counts["mend"] == 3);
    CHECK(counts["stop"].get<std::size_t>() + counts["mend"].get<std::size_t>() +
              counts["mind"].get<std::size_t>() + 1 ==
          lines.size());
    CHECK(lines.back().starts_with("3 to stop, 3 to mend, "));
    for (auto const& line : lines) CHECK(line.find("safe") == std::string::npos);
}

TEST_CASE("a limit that is confirmed for an edition weighs in full, and a changed one is used") {
    TextFile const limits("limits.toml",
                          "[rule.\"tap.fault-energy\"]\nlimit = 100\nedition = \"2008\"\nconfirmed = true\n"
                          "[rule.\"transformer.least-load\"]\nlimit = 1\n");
    auto options = on_demo("tallowmere-yard");
    options.limits_file = limits.path;
    auto const findings = findings_of(run(options));
    auto const energy = one(findings, "tap.fault-energy");
    CHECK(energy["severity"] == "stop");
    CHECK(energy["limit"].get<double>() == doctest::Approx(22500.0));  // (100 * 1.5)^2
    CHECK(energy["source"]["edition"] == "2008");
    CHECK(energy["source"]["confirmed"] == true);
    for (auto const& finding : findings) CHECK(finding["rule"] != "transformer.least-load");
}

TEST_CASE("limits that cannot be meant are refused with file and line") {
    struct Wrong {
        std::string text, what;
    };
    for (auto const& [text, what] :
         {Wrong{"[rule.\"tap.three-meters\"]\nlimit = 3\n", "tap.three-metres"},
          Wrong{"[rule.\"tap.breaking\"]\nlimit = 3\n", "no number of its own"},
          Wrong{"[rule.\"tap.three-metres\"]\nconfirmed = true\n", "none is named"},
          Wrong{"[rule.\"tap.three-metres\"]\nlimit = -1\n", "limits.toml:2"},
          Wrong{"[[ampacity]]\nsize = \"1.5\"\namperes = 14\n", "limits.toml:2"},
          Wrong{"[[ampacity]]\nsize = \"1.5 mm2\"\namperes = 14\n[[ampacity]]\nsize = \"1,5 mm2\"\namperes = "
                "15\n",
                "used before"},
          Wrong{"limit = 3\n", "limit"}, Wrong{"[rule\n", "limits.toml:1"}}) {
        CAPTURE(text);
        auto const read = read_check_limits(text, "limits.toml");
        REQUIRE_FALSE(read.has_value());
        CHECK(quantity::to_sentence(read.error()).find(what) != std::string::npos);
    }
    auto const read = read_check_limits(
        "[[ampacity]]\nsize = \"1.5 mm2\"\namperes = 14\n[[ampacity]]\nsize = \"12 AWG\"\namperes = 20\n",
        "l");
    REQUIRE(read.has_value());
    CHECK(read->metric.size() == 1);
    CHECK(read->awg.size() == 1);
}

TEST_CASE("faults are told from findings by the exit status") {
    PlanCheckOptions none;
    none.plan_file = "no-such.plan.toml";
    CHECK(run(none).status == 2);
    CHECK(run(none).out.empty());
    CHECK(run(PlanCheckOptions{}).status == 2);
    TextFile const unread("broken.plan.toml", "[site]\nname = 3\n");
    PlanCheckOptions broken;
    broken.plan_file = unread.path;
    CHECK(run(broken).status == 2);
    TextFile const unknown(
        "unknown.plan.toml",
        "[site]\nname = \"a\"\n[[panel]]\nid = \"p\"\nv_ln = 230\nv_ll = 400\nhz = 50\n[[point]]\nid = "
        "\"x\"\npanel = \"p\"\n"
        "service = \"3P4W\"\nct = { ratio = [100, 5], output = \"5A\" }\nmeter = { profile = \"no-such\" }\n"
        "address = { host = \"192.0.2.1\" }\n");
    broken.plan_file = unknown.path;
    broken.profiles_folder = root + "/profiles";
    auto const ran = run(broken);
    CHECK(ran.status == 2);
    CHECK(ran.err.find("no-such") != std::string::npos);
    auto with_limits = on_demo("tallowmere-yard");
    with_limits.limits_file = "no-such.toml";
    CHECK(run(with_limits).status == 2);
}

TEST_CASE("the committed page of rules is what the program writes") {
    std::ifstream in(root + "/docs/reference/plan-checks.md", std::ios::binary);
    std::ostringstream committed;
    committed << in.rdbuf();
    bool const same = committed.str() == plan_checks_page();
    CHECK_MESSAGE(same, "write it again: phasewright plan check --rules > docs/reference/plan-checks.md");
    PlanCheckOptions page;
    page.rules = true;
    auto const ran = run(page);
    CHECK(ran.status == 0);
    CHECK(ran.out == plan_checks_page());
}

TEST_CASE("what would steer a terminal does not get through a finding") {
    checks::Finding finding{
        .rule = "open.tap", .places = {{checks::PlaceKind::point, "x"}}, .what = "a\x1b[2J name\nsecond"};
    auto const line = finding_line(finding);
    CHECK(line.find('\x1b') == std::string::npos);
    CHECK(line.find('\n') == std::string::npos);
    CHECK(json::parse(finding_json_line(finding))["value"].is_null());
}
