#include "app/commands/restate_command.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/diagnose_command.hpp"

using namespace phasewright;
using namespace phasewright::commands;
using nlohmann::json;

namespace {
struct Folder {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / ("phasewright-restate-" + std::to_string(::getpid()));
    Folder() { std::filesystem::create_directories(path); }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    ~Folder() {
        std::error_code none;
        std::filesystem::remove_all(path, none);
    }
    std::string write(std::string const& name, std::string const& text) const {
        std::ofstream(path / name, std::ios::binary) << text;
        return (path / name).string();
    }
    std::string read(std::string const& name) const {
        std::ifstream in(path / name, std::ios::binary);
        std::ostringstream text;
        text << in.rdbuf();
        return text.str();
    }
};

// One day of hours: 10, 8 and 12 kW at PF 0.8 lagging, the CT of the second element turned round.
std::string day_of_elements() {
    std::string text = "time,kwh1,kwh2,kwh3,kvarh1,kvarh2,kvarh3\n";
    for (int hour = 10; hour < 20; ++hour)
        text += "2026-05-20T" + std::to_string(hour) + ":00:00+02:00,10,-8,12,7.5,-6,9\n";
    return text;
}
std::string day_of_totals() {
    std::string text = "time,kwh,kvarh\n";
    for (int hour = 10; hour < 20; ++hour)
        text += "2026-05-20T" + std::to_string(hour) + ":00:00+02:00,14,10.5\n";
    return text;
}

struct Said {
    int status = 0;
    std::string out, err;
    [[nodiscard]] json object() const { return json::parse(out); }
};
Said said(RestateOptions const& options) {
    std::ostringstream out;
    std::ostringstream err;
    int const status = restate_command(options, out, err);
    return {status, out.str(), err.str()};
}
RestateOptions asked(std::string const& data, std::string const& wiring = "+a,-b,+c") {
    RestateOptions options{.data_file = data, .service = "3P4W", .nominal = "230/400"};
    options.wiring = wiring;
    options.json = true;
    return options;
}
}  // namespace

TEST_CASE("a day with one reversed CT comes back, and stands beside what the meter stored") {
    Folder const folder;
    auto options = asked(folder.write("day.csv", day_of_elements()));
    options.out_file = (folder.path / "corrected.csv").string();
    auto const answer = said(options);
    CHECK(answer.status == all_answered);
    auto const object = answer.object();
    CHECK(object["registered_kwh"] == doctest::Approx(140.0));
    CHECK(object["corrected_kwh"] == doctest::Approx(300.0));
    CHECK(object["true_kwh"]["p05"] < 300.0);
    CHECK(object["true_kwh"]["p95"] > 300.0);
    CHECK(object["factor"]["mean"] == doctest::Approx(300.0 / 140.0).epsilon(1e-3));
    CHECK(object["plain_rule"] == 3.0);
    CHECK(object["law"] == "exact");
    CHECK(object["refused"].is_null());
    auto const series = folder.read("corrected.csv");
    CHECK(series.starts_with("time,kwh1,kwh2,kwh3,kvarh1,kvarh2,kvarh3,kwh1_true,kvarh1_true,kwh2_true"));
    CHECK(series.find("2026-05-20T10:00:00+02:00,10,-8,12,7.5,-6,9,10.00000,7.50000,8.00000,6.00000,12.00000,"
                      "9.00000,30.00000,22.50000\n") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(folder.path / "corrected.csv.part"));
}

TEST_CASE("the same question with the same seed gives the same bytes") {
    Folder const folder;
    auto options = asked(folder.write("day.csv", day_of_elements()));
    CHECK(said(options).out == said(options).out);
    auto const first = said(options).object()["true_kwh"]["p05"];
    options.seed = 2;
    CHECK(said(options).object()["true_kwh"]["p05"] != first);
}

TEST_CASE("totals are refused with the plain number, and what they need is asked for") {
    Folder const folder;
    auto options = asked(folder.write("day.csv", day_of_totals()));
    auto const refused = said(options);
    CHECK(refused.status == some_not_answered);
    CHECK(refused.object()["refused"]["what_would_help"].size() == 3);
    CHECK(refused.object()["plain_rule"] == 3.0);
    CHECK(refused.object()["true_kwh"].is_null());
    options.shares = "0.3333,0.2667,0.4+-0.01";
    auto const shared = said(options);
    CHECK(shared.status == all_answered);
    CHECK(shared.object()["corrected_kwh"] == doctest::Approx(300.0).epsilon(1e-3));
    options.shares.clear();
    options.balanced_within = 0.05;
    CHECK(said(options).object()["corrected_kwh"] == doctest::Approx(420.0));
    options.balanced_within = 0.5;
    CHECK(said(options).status == some_not_answered);
}

TEST_CASE("a dead CT is a danger first, its neighbours are told, and shares give a band") {
    Folder const folder;
    std::string text = "time,kwh1,kwh2,kwh3\n";
    for (int hour = 10; hour < 20; ++hour) text += "2026-05-20T" + std::to_string(hour) + ":00:00Z,0,8,12\n";
    auto options = asked(folder.write("day.csv", text), "dead,+b,+c");
    auto const refused = said(options).object();
    CHECK(refused["stop"][0].get<std::string>().find("open") != std::string::npos);
    CHECK(refused["known_kwh"][0].is_null());
    CHECK(refused["known_kwh"][1] == doctest::Approx(80.0));
    CHECK(refused["plain_rule"] == 1.5);
    options.shares = "0.33,0.27,0.4±0.02";
    auto const shared = said(options);
    CHECK(shared.status == all_answered);
    CHECK(shared.object()["law"] == "band");
    CHECK(shared.object()["corrected_kwh"] == doctest::Approx(200.0 / 0.67));
    options.json = false;
    CHECK(said(options).out.starts_with("STOP"));
}

TEST_CASE("kWh alone need a power factor where the law depends on it") {
    // Two elements, one CT reversed: registers tan phi / sqrt 3 (textbook), at PF 0.8 lagging 0.4330.
    Folder const folder;
    auto options =
        asked(folder.write(
                  "day.csv",
                  "time,kwh\n2026-05-20T10:00:00Z,433\n2026-05-20T11:00:00Z,433\n2026-05-20T12:00:00Z,433\n"),
              "-a,+c");
    options.service = "3P3W-2E";
    options.nominal = "400";
    options.balanced_within = 0.02;
    CHECK(said(options).status == some_not_answered);
    CHECK(said(options).object()["plain_rule"].is_null());
    options.power_factor = "0.8±0.02";
    auto const lagging = said(options).object();
    CHECK(lagging["corrected_kwh"] == doctest::Approx(3000.0).epsilon(1e-3));
    CHECK(lagging["true_kwh"]["p05"] < 2900.0);  // the power factor's spread is in the band
    options.power_factor = "0.8±0.02 leading";
    CHECK(said(options).object()["corrected_kwh"] == doctest::Approx(-3000.0).epsilon(1e-3));
}

TEST_CASE("each kind of register has its own factor") {
    Folder const folder;
    auto options = asked(folder.write("day.csv", day_of_elements()));
    auto const registered = [&](std::string const& kind) {
        options.register_kind = kind;
        return said(options).object()["registered_kwh"].get<double>();
    };
    CHECK(registered("net") == doctest::Approx(140.0));
    CHECK(registered("import") == doctest::Approx(140.0));
    CHECK(registered("absolute") == doctest::Approx(300.0));
    CHECK(registered("per-phase") == doctest::Approx(220.0));
}

TEST_CASE("a verdict of phasewright diagnose is a wiring, with its probabilities") {
    Folder const folder;
    auto const reading =
        R"({"id":"t3","service":"3P4W","nominal":{"v_ln":230,"v_ll":400,"hz":50},"rotation":"abc",)"
        R"("load_kind":"mixed","flow":"import",)"
        R"("snapshots":[{"v":[231,229,232],"i":[54,44,65],"p":[9979,-8061,12064],)"
        R"("q":[7484,-6046,9048],"v_angle":[0,-120,120]}]})";
    std::istringstream in(reading);
    std::ostringstream verdict;
    REQUIRE(diagnose_lines(in, verdict) == all_answered);
    auto options = asked(folder.write("day.csv", day_of_elements()), "");
    options.verdict_file = folder.write("verdicts.jsonl", verdict.str() + "\n");
    auto const answer = said(options);
    CHECK(answer.status == all_answered);
    CHECK(answer.object()["corrected_kwh"] == doctest::Approx(300.0));
    CHECK(answer.object()["alike_probability"] > 0.9);
    options.id = "t4";
    CHECK(said(options).err.find("no verdict has this id") != std::string::npos);
    options.id.clear();
    options.verdict_file = folder.write("two.jsonl", verdict.str() + verdict.str());
    CHECK(said(options).err.find("--id") != std::string::npos);
    options.verdict_file = folder.write(
        "none.jsonl", R"({"line":1,"id":null,"error":{"field":"","found":"","allowed":"","try":""}})");
    CHECK(said(options).err.find("not answered") != std::string::npos);
}

TEST_CASE("what a verdict says of joined loops and settings is not lost on the way") {
    Folder const folder;
    auto options = asked(folder.write("day.csv", day_of_elements()), "");
    auto const verdict = [&](std::string const& current, std::string const& more) {
        return folder.write(
            "verdict.jsonl",
            R"({"id":"m","state":"mistake","classes":[{"probability":1,"wirings":[{"voltage":["a","b","c"],)"
            R"("neutral":"n","current":)" +
                current + R"(,"ratio":[1,1,1])" + more + R"(}]}],"left_out_probability":0})");
    };
    options.verdict_file = verdict(R"(["+0.5a+0.5b","+0.5a+0.5b","+c"])", "");
    auto const joined = said(options).object();
    CHECK(joined["known_kwh"][0].is_null());
    CHECK(joined["known_kwh"][2] == doctest::Approx(120.0));
    CHECK(joined["wirings"][0]["current"][0] == "+0.5a+0.5b");
    // Every voltage transformer set to twice its ratio: half of what was registered, and one of them back to
    // front.
    options.verdict_file = verdict(R"(["+a","+b","+c"])", R"(,"vt":[2,-2,2])");
    CHECK(said(options).object()["corrected_kwh"] == doctest::Approx(150.0));
    options.verdict_file = verdict(R"(["j+a","j-b","j+c"])", "");
    // A raw coil: V conj(jJ) = -jS, so P of the load stands in -Q of the meter.
    CHECK(said(options).object()["corrected_kwh"] == doctest::Approx(-225.0));
    options.verdict_file = verdict(R"(["+a+b","-b","+c"])", "");
    CHECK(said(options).err.find("\"+a+b\"") != std::string::npos);
}

TEST_CASE("a limit is data of the place: from the option, or from the file") {
    Folder const folder;
    auto options = asked(folder.write("day.csv", "# limit_days: 0.25\n" + day_of_elements()));
    options.out_file = (folder.path / "corrected.csv").string();
    auto const limited = said(options).object()["limit"];
    CHECK(limited["inside"]["intervals"] == 6);
    CHECK(limited["outside"]["intervals"] == 4);
    CHECK(limited["outside"]["corrected_kwh"] == doctest::Approx(120.0));
    CHECK(folder.read("corrected.csv").find("22.50000,1\n") != std::string::npos);
    options.limit_days = 0.125;
    options.limit_until = "2026-05-20T19:00:00+02:00";
    CHECK(said(options).object()["limit"]["inside"]["intervals"] == 4);
    CHECK(said(asked(folder.write("plain.csv", day_of_elements()))).object()["limit"].is_null());
}

TEST_CASE("words that mean nothing are refused with what may stand there") {
    Folder const folder;
    auto const data = folder.write("day.csv", day_of_elements());
    auto const fault = [&](auto change) {
        auto options = asked(data);
        change(options);
        auto const answer = said(options);
        CHECK(answer.status == some_not_answered);
        CHECK(answer.out.empty());
        CHECK(answer.err.find("allowed: ") != std::string::npos);
        return answer.err;
    };
    CHECK(fault([](auto& o) { o.service = "3P4"; }).find("did you mean 3P4W?") != std::string::npos);
    CHECK(fault([](auto& o) { o.nominal = "400/230"; }).find("230/400") != std::string::npos);
    CHECK(fault([](auto& o) { o.nominal = "high"; }).find("--nominal") != std::string::npos);
    CHECK(fault([](auto& o) { o.wiring = "+a,-b"; }).find("too few") != std::string::npos);
    CHECK(fault([](auto& o) { o.wiring = "+a,-b,+n"; }).find("\"+n\"") != std::string::npos);
    CHECK(fault([](auto& o) { o.voltage = "a,b,x"; }).find("\"x\"") != std::string::npos);
    CHECK(fault([](auto& o) { o.ratio = "1,1,0"; }).find("ratio") != std::string::npos);
    CHECK(fault([](auto& o) { o.wiring.clear(); }).find("no wiring") != std::string::npos);
    CHECK(fault([](auto& o) { o.shares = "0.3,0.3,0.4"; }).find("how far they wander") != std::string::npos);
    CHECK(fault([](auto& o) { o.shares = "0.3,0.3,0.3±0.02"; }).find("sum to 1") != std::string::npos);
    CHECK(fault([](auto& o) { o.power_factor = "0.8"; }).find("--pf") != std::string::npos);
    CHECK(fault([](auto& o) { o.register_kind = "gross"; }).find("per-phase") != std::string::npos);
    CHECK(fault([](auto& o) { o.rotation = "cba"; }).find("abc or acb") != std::string::npos);
    CHECK(fault([](auto& o) { o.ct_class = "0.7"; }).find("0.5S") != std::string::npos);
    CHECK(fault([](auto& o) { o.balanced_within = -1.0; }).find("--balanced-within") != std::string::npos);
    CHECK(fault([](auto& o) { o.limit_until = "yesterday"; }).find("--limit-days") != std::string::npos);
    auto none = asked((folder.path / "none.csv").string());
    CHECK(said(none).err.find("none.csv") != std::string::npos);
    auto unwritable = asked(data);
    unwritable.out_file = (folder.path / "no" / "such" / "folder.csv").string();
    CHECK(said(unwritable).err.find("--out") != std::string::npos);
}
