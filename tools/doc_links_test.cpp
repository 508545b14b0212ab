#include "tools/doc_links.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <unistd.h>

using namespace phasewright::tools;

TEST_CASE("a line names the documents it points at, and nothing on the web") {
    using Paths = std::vector<std::string>;
    CHECK(paths_named_in("see [the plan](reference/plan.md#ways) and [x](https://a.example/b.md)", true) ==
          Paths{"reference/plan.md"});
    CHECK(paths_named_in("![picture](first-job/report.png)", true) == Paths{"first-job/report.png"});
    CHECK(paths_named_in("[below](#here)", true).empty());
    CHECK(paths_named_in("// (docs/physics/likelihood.md, equation 1)", false) ==
          Paths{"docs/physics/likelihood.md"});
    CHECK(paths_named_in("array[index](call)", false).empty());
}

TEST_CASE("a link to a page that is not there is found, with its file and line") {
    auto const root = std::filesystem::temp_directory_path() / ("doc-links-" + std::to_string(::getpid()));
    std::filesystem::create_directories(root / "docs/reference");
    std::filesystem::create_directories(root / "build");
    std::ofstream(root / "docs/reference/plan.md") << "back to [the map](../README.md)\n[gone](gone.md)\n";
    std::ofstream(root / "docs/README.md") << "[plan](reference/plan.md)\n";
    std::ofstream(root / "source.cpp") << "\n// docs/reference/plan.md\n// docs/reference/lost.md\n";
    std::ofstream(root / "build/made.md") << "[nobody reads this](nothing.md)\n";
    auto const dead = dead_links_below(root);
    std::filesystem::remove_all(root);
    REQUIRE(dead.size() == 2);
    CHECK(dead[0].file == "docs/reference/plan.md");
    CHECK(dead[0].line == 2);
    CHECK(dead[0].target == "gone.md");
    CHECK(dead[1].file == "source.cpp");
    CHECK(dead[1].line == 3);
    CHECK(dead[1].target == "docs/reference/lost.md");
}

TEST_CASE("every document that the house names is there") {
    for (auto const& link : dead_links_below(PHASEWRIGHT_SOURCE_DIR)) {
        FAIL_CHECK(link.file, ":", link.line, " names ", link.target, ", which is not there");
    }
}
