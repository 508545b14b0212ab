// Regions as files (docs/reference/regions.md). The colours are held against what that page says came along, which names
// where each set was read and which are from memory.
#include "app/commands/region_file.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <fstream>

#include "app/commands/plan_file.hpp"

using namespace phasewright;

namespace {
plan::Region shipped(std::string const& name) {
    auto const file = commands::shipped_regions() / (name + ".toml");
    std::ifstream in(file);
    std::string const text{std::istreambuf_iterator<char>(in), {}};
    auto const region = commands::read_region(text, file.string(), name);
    if (!region) FAIL(quantity::to_sentence(region.error()));
    return *region;
}
plan::ColourSet colours(std::string const& region, double v_ll) {
    auto const read = shipped(region);
    auto const* const set = plan::colours_for(read, "", v_ll);
    REQUIRE(set != nullptr);
    return *set;
}
using Three = std::array<std::string, 3>;

std::string const small = R"(sizes = "mm2"
primary_marks = ["P1", "P2"]
secondary_marks = ["S1", "S2"]
[[phase_names]]
id = "x-y-z"
phases = ["X", "Y", "Z"]
neutral = "0"
earth = "PE"
)";
std::string refused(std::string const& passage, std::string const& instead) {
    auto text = small;
    text.replace(text.find(passage), passage.size(), instead);
    auto const region = commands::read_region(text, "own.toml", "own");
    REQUIRE_FALSE(region.has_value());
    return quantity::to_sentence(region.error());
}
}  // namespace

TEST_CASE("every region file that came along reads, and each has names, a source for every colour and a standard for every rule") {
    auto const names = commands::names_of_regions({commands::shipped_regions()});
    CHECK(names.size() == 7);
    for (auto const& name : names) {
        CAPTURE(name);
        auto const region = shipped(name);
        CHECK_FALSE(region.phase_names.empty());
        CHECK_FALSE(region.colour_sets.empty());
        for (auto const& set : region.colour_sets) CHECK_FALSE(set.source.empty());
        for (auto const& rule : region.rules) CHECK_FALSE(rule.standard.empty());
        // What a plan gets by this name is the file, built in or not.
        auto const named = commands::region_named({commands::shipped_regions()}, name);
        REQUIRE(named.has_value());
        CHECK(*named == region);
    }
}

TEST_CASE("colours are those of the page: IEC 60445, practice in North America with the high leg orange, the rest from memory") {
    auto const iec = colours("iec", 400.0);
    CHECK(iec.phases == Three{"brown", "black", "grey"});
    CHECK(iec.neutral == "blue");
    CHECK(iec.earth == "green-yellow");
    CHECK(iec.footing == plan::Footing::seen);
    auto const low = colours("north-america", 208.0);
    CHECK(low.phases == Three{"black", "red", "blue"});
    CHECK(low.neutral == "white");
    CHECK(low.high_leg == "orange");  // NEC 110.15, 230.56
    CHECK(colours("north-america", 480.0).phases == Three{"brown", "orange", "yellow"});
    CHECK(colours("canada", 208.0).phases == Three{"red", "black", "blue"});
    CHECK(colours("china", 400.0).phases == Three{"yellow", "green", "red"});
    CHECK(colours("india", 415.0).phases == Three{"red", "yellow", "blue"});
    CHECK(colours("india", 415.0).footing == plan::Footing::memory);
    CHECK(colours("united-kingdom", 400.0).phases == Three{"brown", "black", "grey"});
    CHECK(colours("australia-new-zealand", 400.0).phases == Three{"red", "white", "blue"});
}

TEST_CASE("a region of one's own beside the plan is found, and a mistake in it says where") {
    auto const own = commands::read_region(small, "own.toml", "own");
    REQUIRE(own.has_value());
    CHECK(own->conductors == std::array<std::string, 4>{"X", "Y", "Z", "0"});
    CHECK(refused("[\"X\", \"Y\", \"Z\"]", "[\"X\", \"Y\"]").starts_with("own.toml:6 phase_names.phases: the list has the wrong length"));
    CHECK(refused("\"mm2\"", "\"inch\"").find("allowed: mm2, awg") != std::string::npos);
    CHECK(refused("sizes", "size").starts_with("own.toml:1 size: the field is not known"));
    CHECK(refused(small.substr(small.find("[[")), "").find("the region names no phases") != std::string::npos);

    auto const folder = std::filesystem::temp_directory_path() / "phasewright-own-region";
    std::filesystem::create_directories(folder / "regions");
    std::ofstream(folder / "regions/own.toml") << small;
    std::string const plan = "[site]\nname = \"Shop\"\nregion = \"own\"\n[[panel]]\nid = \"main\"\nv_ln = 230\nv_ll = 400\nhz = 50\n"
                             "[[point]]\nid = \"p\"\npanel = \"main\"\nservice = \"3P4W\"\nct = \"to-choose\"\nmeter = \"to-choose\"\n"
                             "address = \"to-choose\"\n";
    auto const site = commands::read_draft(plan, (folder / "shop.plan.toml").string());
    if (!site) FAIL(quantity::to_sentence(site.error()));
    CHECK(site->region == *own);
    std::ofstream(folder / "regions/own.toml") << "sizes = 3\n";
    auto const spoiled = commands::read_draft(plan, (folder / "shop.plan.toml").string());
    REQUIRE_FALSE(spoiled.has_value());
    CHECK(quantity::to_sentence(spoiled.error()).find("the file of this region is refused") != std::string::npos);
    std::filesystem::remove_all(folder);
}
