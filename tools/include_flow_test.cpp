// Each rule is shown to fail: a small house is built in a temporary folder, one thing is planted in it, and
// the checker must name that thing and nothing else.
#include "tools/include_flow.hpp"

#include <doctest/doctest.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <unistd.h>

using namespace phasewright::tools;

namespace {

// A folder that goes away with the test.
class TemporaryHouse {
public:
    TemporaryHouse() {
        static std::atomic<int> number{0};
        auto const name = "include-flow-" + std::to_string(::getpid()) + "-" + std::to_string(number++);
        root_ = std::filesystem::temp_directory_path() / name;
        add("core/quantity/volt.hpp", "#pragma once\nnamespace phasewright::quantity {}\n");
        add("core/plan/site.hpp",
            "#pragma once\n#include <string>\n#include \"core/quantity/volt.hpp\"\n"
            "namespace phasewright::plan {}\n");
        add("core/wiring/lead.hpp",
            "#pragma once\n#include \"core/plan/site.hpp\"\nnamespace phasewright::wiring {}\n");
        add("bus/codec/frame.hpp", "#pragma once\nnamespace phasewright::codec {}\n");
        add("bus/twin/twin.cpp", "#include \"core/plan/site.hpp\"\n#include \"bus/codec/frame.hpp\"\n");
        add("app/main.cpp", "#include \"core/wiring/lead.hpp\"\n#include \"bus/codec/frame.hpp\"\n");
    }
    ~TemporaryHouse() { std::filesystem::remove_all(root_); }
    TemporaryHouse(TemporaryHouse const&) = delete;
    TemporaryHouse& operator=(TemporaryHouse const&) = delete;

    void add(std::string const& path, std::string const& text) {
        std::filesystem::create_directories((root_ / path).parent_path());
        std::ofstream(root_ / path) << text;
    }
    [[nodiscard]] std::vector<Breach> breaches() const { return breaches_among(sources_below(root_)); }

private:
    std::filesystem::path root_;
};

// Plants one file and expects one breach in it that says `words`.
void check_one(std::string const& path, std::string const& text, int line, std::string const& words) {
    TemporaryHouse house;
    house.add(path, text);
    auto const breaches = house.breaches();
    CAPTURE(path);
    REQUIRE(breaches.size() == 1);
    CHECK(breaches[0].file == path);
    CHECK(breaches[0].line == line);
    CAPTURE(breaches[0].what);
    CHECK(breaches[0].what.find(words) != std::string::npos);
}

void check_none(std::string const& path, std::string const& text) {
    TemporaryHouse house;
    house.add(path, text);
    auto const breaches = house.breaches();
    CAPTURE(path);
    CHECK(breaches.empty());
    for (auto const& breach : breaches) MESSAGE(to_line(breach));
}

}  // namespace

TEST_CASE("a house that keeps the rules has no breaches") {
    TemporaryHouse const house;
    CHECK(house.breaches().empty());
}

TEST_CASE("an include of a later room is against the flow") {
    check_one("core/plan/early.cpp", "#include \"core/wiring/lead.hpp\"\n", 1,
              "core/plan may not use core/wiring");
    check_one("core/quantity/up.cpp", "\n\n#include \"core/plan/site.hpp\"\n", 3, "it may use nothing");
    check_one("bus/codec/peek.cpp", "#include \"core/plan/site.hpp\"\n", 1,
              "bus/codec may not use core/plan");
    check_one("core/plan/app.cpp", "#include \"bus/codec/frame.hpp\"\n", 1,
              "core/plan may not use bus/codec");
}

TEST_CASE("what an allowed room may use is allowed too") {
    check_none("core/wiring/volt.cpp", "#include \"core/quantity/volt.hpp\"\n");
    check_none("print/sheet.cpp", "#include \"core/wiring/lead.hpp\"\n");
}

TEST_CASE("a test may use the helpers of the tests room, its source may not") {
    TemporaryHouse house;
    house.add("tests/within.hpp", "#pragma once\nnamespace phasewright::tests {}\n");
    house.add("core/plan/site_test.cpp", "#include \"tests/within.hpp\"\n");
    CHECK(house.breaches().empty());
    house.add("core/plan/site.cpp", "#include \"tests/within.hpp\"\n");
    CHECK(house.breaches().size() == 1);
}

TEST_CASE("outer rooms never include each other") {
    check_one("print/draw.cpp", "#include \"bus/codec/frame.hpp\"\n", 1, "never include each other");
    check_one("records/keep.cpp", "#include \"bus/codec/frame.hpp\"\n", 1, "never include each other");
}

TEST_CASE("the virtual meters may not include the wiring that they are to test") {
    TemporaryHouse house;
    house.add("bus/twin/cheat.cpp", "#include \"core/wiring/lead.hpp\"\n");
    auto const breaches = house.breaches();
    REQUIRE(breaches.size() == 2);  // against the flow, and through the wall
    CHECK(breaches[0].what.find("bus/twin may not use core/wiring") != std::string::npos);
    CHECK(breaches[1].what.find("must not reach core/wiring") != std::string::npos);
}

TEST_CASE("the virtual meters may not reach the wiring at second hand") {
    TemporaryHouse house;
    house.add("bus/profile/map.hpp",
              "#pragma once\n#include \"core/wiring/lead.hpp\"\nnamespace phasewright::profile {}\n");
    house.add("bus/twin/cheat.cpp", "#include \"bus/profile/map.hpp\"\n");
    auto const breaches = house.breaches();
    REQUIRE(breaches.size() == 2);
    CHECK(breaches[0].file == "bus/profile/map.hpp");
    CHECK(to_line(breaches[1]) ==
          "bus/twin/cheat.cpp: bus/twin must not reach core/wiring: "
          "bus/twin/cheat.cpp -> bus/profile/map.hpp -> core/wiring/lead.hpp");
}

TEST_CASE("core includes nothing that touches the world") {
    for (std::string const header :
         {"fstream", "filesystem", "iostream", "thread", "random", "locale", "ctime"}) {
        check_one("core/plan/world.cpp", "#include <" + header + ">\n", 1,
                  "core may not include <" + header + ">");
    }
    check_one("core/plan/now.cpp", "#include <chrono>\nauto now = std::chrono::system_clock::now();\n", 2,
              "system_clock");
    check_none("core/plan/days.cpp",
               "#include <chrono>\nstd::chrono::days one_day{1};  // never system_clock\n");
    check_none("core/plan/site_test.cpp", "#include <fstream>\n");
}

TEST_CASE("core knows no library but Eigen") {
    check_one("core/plan/format.cpp", "#include <fmt/format.h>\n", 1, "knows only Eigen");
    check_one("core/plan/posix.cpp", "#include <unistd.h>\n", 1, "knows only Eigen");
    check_none("core/plan/matrix.cpp", "#include <Eigen/Dense>\n");
    check_none("bus/codec/format.cpp", "#include <fmt/format.h>\n");
}

TEST_CASE("heavy headers stay out of headers") {
    for (std::string const header :
         {"nlohmann/json.hpp", "Eigen/Dense", "CLI/CLI.hpp", "httplib.h", "asio.hpp", "toml++/toml.h"}) {
        check_one("app/heavy.hpp", "#pragma once\n#include <" + header + ">\nnamespace phasewright::app {}\n",
                  2, "is heavy");
        check_none("app/heavy.cpp", "#include <" + header + ">\n");
    }
    check_none("app/light.hpp",
               "#pragma once\n#include <nlohmann/json_fwd.hpp>\nnamespace phasewright::app {}\n");
}

TEST_CASE("includes start at the root, in quotation marks, and name a file that is there") {
    check_one("app/relative.cpp", "#include \"../core/plan/site.hpp\"\n", 1, "relative");
    check_one("app/near.cpp", "#include \"main.hpp\"\n", 1, "no file of the house");
    check_one("app/gone.cpp", "#include \"core/plan/gone.hpp\"\n", 1, "no file of the house");
    check_one("app/angled.cpp", "#include <core/plan/site.hpp>\n", 1, "quotation marks");
}

TEST_CASE("sources lie in known rooms, at most two folders deep") {
    check_one("core/plan/inner/deep.cpp", "int deep;\n", 0, "two folders deep");
    check_one("core/attic/old.cpp", "int old;\n", 0, "no room of the house");
}

TEST_CASE("a header guards itself and speaks in the namespace of its folder") {
    check_one("core/plan/bare.hpp", "namespace phasewright::plan {}\n", 0, "#pragma once");
    check_one("core/plan/lost.hpp", "#pragma once\nnamespace phasewright::planning {}\n", 0,
              "needs namespace phasewright::plan");
    check_one("core/plan/told.hpp", "#pragma once\n// namespace phasewright::plan\n", 0,
              "needs namespace phasewright::plan");
}

TEST_CASE("includes in comments and literals are not includes") {
    check_none("core/plan/quiet.cpp",
               "/*\n#include <fstream>\n*/\n// #include <thread>\n"
               "auto const raw = R\"x(\n#include <random>\n)x\";\n"
               "auto const many = 1'000'000; auto const mark = '\"';\n"
               "auto const text = \"a \\\" system_clock\";\n");
    // What follows them is read again.
    check_one("core/plan/loud.cpp", "auto const raw = R\"(\n)\";\nint n = 1'0;\n/* */\n#include <random>\n",
              5, "random");
}
