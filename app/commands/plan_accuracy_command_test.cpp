// The accuracy of the demo's points, against figures worked by hand from the tables of
// docs/reference/accuracy-classes.md.
#include "app/commands/plan_accuracy_command.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include <nlohmann/json.hpp>

using namespace phasewright;
using namespace phasewright::commands;
using nlohmann::json;

namespace {
struct Ran {
    int status = 0;
    std::string out, err;
};
Ran run(PlanAccuracyOptions const& options) {
    std::ostringstream out;
    std::ostringstream err;
    int const status = plan_accuracy_command(options, out, err);
    return {status, out.str(), err.str()};
}
std::map<std::string, json> by_point(Ran const& ran) {
    std::map<std::string, json> all;
    std::istringstream in(ran.out);
    for (std::string line; std::getline(in, line);) {
        auto object = json::parse(line);
        auto const id = object["point"].get<std::string>();
        all[id] = std::move(object);
    }
    return all;
}

// One point at the rated current of its transformer and power factor 0.8, in a file of its own.
PlanAccuracyOptions on_small_plan(std::string const& wanted) {
    auto const file =
        std::filesystem::temp_directory_path() / ("phasewright-accuracy-" + wanted + ".plan.toml");
    std::ofstream(file) << R"([site]
name = "Small"
[[panel]]
id = "main"
name = "Main"
v_ln = 230
v_ll = 400
hz = 50
[[point]]
id = "one"
name = "One"
panel = "main"
way = "1"
service = "3P4W"
ct = { ratio = [200, 5], output = "5A", class = "0.5", burden_va = 5 }
lead = { length_m = 6, size = "2.5 mm2" }
usual_a = 200
power_factor = 0.8
accuracy_percent = )" << wanted
                        << R"(
meter = { profile = "hollowick-h1" }
address = { host = "127.0.0.1", unit = 1 }
)";
    PlanAccuracyOptions options;
    options.plan_file = file.string();
    options.profiles_folder = PHASEWRIGHT_SOURCE_DIR "/profiles";
    options.json = true;
    return options;
}
}  // namespace

TEST_CASE("a point at rated current shows what the worked budget says") {
    auto options = on_small_plan("2");
    options.seed = 7;
    auto const ran = run(options);
    CAPTURE(ran.err);
    REQUIRE(ran.status == 0);
    auto const one = by_point(ran)["one"];
    // docs/physics/chain.md, "Worked": u_c 0.5883 %, U 1.177 %, in a row 1.7545 %; drawn -1.137 to +1.137 %.
    CHECK(one["usual"]["expanded_percent"].get<double>() == doctest::Approx(1.177).epsilon(5e-4));
    CHECK(one["usual"]["worst_percent"].get<double>() == doctest::Approx(1.7545).epsilon(1e-4));
    CHECK(one["drawn_95_percent"][1].get<double>() == doctest::Approx(1.137).epsilon(0.01));
    CHECK(one["shown_from_a"].get<double>() == doctest::Approx(30.5).epsilon(0.01));
    CHECK(one["stated_from_a"].get<double>() == doctest::Approx(10.0));
    CHECK(one["to_confirm"] == json::array({"IEC 62053-22:2003, Tables 4 and 5"}));
    options.confirmed = {"IEC 62053-22:2003"};
    CHECK(by_point(run(options))["one"]["to_confirm"].empty());
    options.correlation = 0.0;
    CHECK(by_point(run(options))["one"]["usual"]["expanded_percent"].get<double>() ==
          doctest::Approx(0.884).epsilon(5e-4));
    options.json = false;
    CHECK(run(options).out.find("±2 % can be shown from") != std::string::npos);
}

TEST_CASE("an accuracy that cannot be shown is told by the exit status") {
    auto const ran = run(on_small_plan("1"));
    CAPTURE(ran.err);
    CHECK(ran.status == 1);
}

TEST_CASE("what cannot be understood is refused") {
    auto options = on_small_plan("2");
    options.points = {"two"};
    CHECK(run(options).status == 2);
    options.points = {"one"};
    options.correlation = 1.5;
    CHECK(run(options).status == 2);
    options.correlation = 1.0;
    options.confirmed = {"IEC 62053-22"};
    CHECK(run(options).status == 2);
    options.confirmed = {"IEC 99999-1:2000"};
    CHECK(run(options).err.find("IEC 99999-1:2000") != std::string::npos);
    options.confirmed.clear();
    options.meter_class = "0.5S";
    CHECK(run(options).err.find("--meter-class") != std::string::npos);
}

TEST_CASE("where a profile names no class one can be assumed, and is named as an assumption") {
    PlanAccuracyOptions options;
    options.plan_file = PHASEWRIGHT_SOURCE_DIR "/demo/cindervale-block.plan.toml";
    options.profiles_folder = PHASEWRIGHT_SOURCE_DIR "/profiles";
    options.json = true;
    options.points = {"service"};
    CHECK(by_point(run(options))["service"]["usual"]["expanded_percent"].is_null());
    options.meter_class = "ANSI C12.20 0.5";
    auto const service = by_point(run(options))["service"];
    CHECK(service["usual"]["expanded_percent"].is_number());
    CHECK(service["assumed"].dump().find("a meter of class 0.5 of ANSI C12.20") != std::string::npos);
}

TEST_CASE("every point of the demo buildings is answered or says which part is silent") {
    for (std::string const name : {"cindervale-block", "tallowmere-yard"}) {
        PlanAccuracyOptions options;
        options.plan_file = PHASEWRIGHT_SOURCE_DIR "/demo/" + name + ".plan.toml";
        options.profiles_folder = PHASEWRIGHT_SOURCE_DIR "/profiles";
        options.json = true;
        auto const ran = run(options);
        CAPTURE(ran.err);
        REQUIRE(ran.status != 2);
        auto const all = by_point(ran);
        CHECK(all.size() > 5);
        for (auto const& [id, point] : all) {
            CAPTURE(id);
            auto const& usual = point["usual"];
            if (!usual.is_null()) CHECK(usual["expanded_percent"].is_null() == usual["silent"].is_string());
        }
    }
}
