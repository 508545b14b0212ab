// The layout, point by point: against offsets copied by hand from the model files, against its own
// arithmetic, and, when PHASEWRIGHT_SUNSPEC_MODELS names a folder that holds them, against the model files
// themselves.
#include "bus/profile/sunspec_layout.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cstdlib>
#include <fstream>
#include <string>

#include <nlohmann/json.hpp>

namespace phasewright::profile {

namespace {

struct Row {
    char const* name;  // of the total; the phases follow it
    PointType type;
    std::array<int, 4> offsets;  // total, A, B, C
    char const* scale;
};

// Copied by hand from model_203.json (sunspec/models, Apache-2.0, commit 7abdf8982d53).
constexpr std::array integer_rows{
    Row{"A", PointType::int16, {2, 3, 4, 5}, "A_SF"},
    Row{"PhV", PointType::int16, {7, 8, 9, 10}, "V_SF"},
    Row{"PPV", PointType::int16, {11, 12, 13, 14}, "V_SF"},
    Row{"W", PointType::int16, {18, 19, 20, 21}, "W_SF"},
    Row{"VA", PointType::int16, {23, 24, 25, 26}, "VA_SF"},
    Row{"VAR", PointType::int16, {28, 29, 30, 31}, "VAR_SF"},
    Row{"PF", PointType::int16, {33, 34, 35, 36}, "PF_SF"},
    Row{"TotWhExp", PointType::acc32, {38, 40, 42, 44}, "TotWh_SF"},
    Row{"TotWhImp", PointType::acc32, {46, 48, 50, 52}, "TotWh_SF"},
    Row{"TotVAhExp", PointType::acc32, {55, 57, 59, 61}, "TotVAh_SF"},
    Row{"TotVAhImp", PointType::acc32, {63, 65, 67, 69}, "TotVAh_SF"},
    Row{"TotVArhImpQ1", PointType::acc32, {72, 74, 76, 78}, "TotVArh_SF"},
    Row{"TotVArhImpQ2", PointType::acc32, {80, 82, 84, 86}, "TotVArh_SF"},
    Row{"TotVArhExpQ3", PointType::acc32, {88, 90, 92, 94}, "TotVArh_SF"},
    Row{"TotVArhExpQ4", PointType::acc32, {96, 98, 100, 102}, "TotVArh_SF"},
};
// Copied by hand from model_213.json of the same.
constexpr std::array float_rows{
    Row{"A", PointType::float32, {2, 4, 6, 8}, ""},
    Row{"PhV", PointType::float32, {10, 12, 14, 16}, ""},
    Row{"PPV", PointType::float32, {18, 20, 22, 24}, ""},
    Row{"W", PointType::float32, {28, 30, 32, 34}, ""},
    Row{"VA", PointType::float32, {36, 38, 40, 42}, ""},
    Row{"VAR", PointType::float32, {44, 46, 48, 50}, ""},
    Row{"PF", PointType::float32, {52, 54, 56, 58}, ""},
    Row{"TotWhExp", PointType::float32, {60, 62, 64, 66}, ""},
    Row{"TotWhImp", PointType::float32, {68, 70, 72, 74}, ""},
    Row{"TotVAhExp", PointType::float32, {76, 78, 80, 82}, ""},
    Row{"TotVAhImp", PointType::float32, {84, 86, 88, 90}, ""},
    Row{"TotVArhImpQ1", PointType::float32, {92, 94, 96, 98}, ""},
    Row{"TotVArhImpQ2", PointType::float32, {100, 102, 104, 106}, ""},
    Row{"TotVArhExpQ3", PointType::float32, {108, 110, 112, 114}, ""},
    Row{"TotVArhExpQ4", PointType::float32, {116, 118, 120, 122}, ""},
};
struct Single {
    char const* name;
    int offset;
};
constexpr std::array integer_singles{Single{"ID", 0},     Single{"L", 1},           Single{"A_SF", 6},
                                     Single{"V_SF", 15},  Single{"Hz", 16},         Single{"Hz_SF", 17},
                                     Single{"W_SF", 22},  Single{"VA_SF", 27},      Single{"VAR_SF", 32},
                                     Single{"PF_SF", 37}, Single{"TotWh_SF", 54},   Single{"TotVAh_SF", 71},
                                     Single{"Evt", 105},  Single{"TotVArh_SF", 104}};
constexpr std::array float_singles{Single{"ID", 0}, Single{"L", 1}, Single{"Hz", 26}, Single{"Evt", 124}};
constexpr std::array common_singles{Single{"ID", 0},  Single{"L", 1},    Single{"Mn", 2},
                                    Single{"Md", 18}, Single{"Opt", 34}, Single{"Vr", 42},
                                    Single{"SN", 50}, Single{"DA", 66},  Single{"Pad", 67}};

void check_row(int model, Row const& row) {
    auto const points = points_of_model(model);
    for (std::size_t phase = 0; phase < 4; ++phase) {
        CAPTURE(row.name);
        CAPTURE(phase);
        auto const found = std::ranges::find(points, row.offsets.at(phase), &SunspecPoint::offset);
        REQUIRE(found != points.end());
        CHECK(found->name.starts_with(row.name));
        if (phase > 0)
            CHECK((found->name.back() == "ABC"[phase - 1] || found->name.back() == "BCA"[phase - 1]));
        CHECK(found->type == row.type);
        CHECK(found->scale == row.scale);
    }
}

std::string_view word_of(PointType type) {
    constexpr std::array<std::string_view, 8> words{"int16",      "uint16",  "sunssf", "acc32",
                                                    "bitfield32", "float32", "string", "pad"};
    return words.at(static_cast<std::size_t>(type));
}

void compare_with_file(int model, std::string const& path) {
    CAPTURE(path);
    std::ifstream file(path);
    REQUIRE(file.good());
    auto const document = nlohmann::json::parse(file);
    auto const points = points_of_model(model);
    auto const& theirs = document.at("group").at("points");
    REQUIRE(theirs.size() == points.size());
    int offset = 0;
    for (std::size_t at = 0; at < points.size(); ++at) {
        auto const& point = theirs.at(at);
        CAPTURE(point.at("name").get<std::string>());
        CHECK(point.at("size").get<int>() == points[at].size);
        CHECK(offset == points[at].offset);
        CHECK(point.at("type").get<std::string>() == word_of(points[at].type));
        CHECK(point.value("sf", std::string()) == points[at].scale);
        offset += point.at("size").get<int>();
    }
    CHECK(offset == length_of_model(model) + 2);
}

}  // namespace

TEST_CASE("the integer meters have their points where the model file has them") {
    for (int model = 201; model <= 204; ++model) {
        for (auto const& row : integer_rows) check_row(model, row);
        for (auto const& single : integer_singles) {
            CAPTURE(single.name);
            REQUIRE(find_point(model, single.name) != nullptr);
            CHECK(find_point(model, single.name)->offset == single.offset);
        }
        CHECK(length_of_model(model) == 105);
    }
}

TEST_CASE("the floating-point meters have their points where the model file has them") {
    for (int model = 211; model <= 214; ++model) {
        for (auto const& row : float_rows) check_row(model, row);
        for (auto const& single : float_singles) {
            CAPTURE(single.name);
            REQUIRE(find_point(model, single.name) != nullptr);
            CHECK(find_point(model, single.name)->offset == single.offset);
        }
        CHECK(length_of_model(model) == 124);
    }
}

TEST_CASE("model 1 has its texts where the model file has them") {
    for (auto const& single : common_singles) {
        CAPTURE(single.name);
        REQUIRE(find_point(common_model, single.name) != nullptr);
        CHECK(find_point(common_model, single.name)->offset == single.offset);
    }
    CHECK(length_of_model(common_model) == 66);
}

TEST_CASE("points follow each other without a gap and fill the model's length") {
    for (int const model : {1, 201, 202, 203, 204, 211, 212, 213, 214}) {
        CAPTURE(model);
        int offset = 0;
        for (auto const& point : points_of_model(model)) {
            CAPTURE(point.name);
            CHECK(point.offset == offset);
            if (!point.scale.empty()) CHECK(find_point(model, point.scale)->type == PointType::sunssf);
            offset += point.size;
        }
        CHECK(offset == length_of_model(model) + 2);
    }
    CHECK(points_of_model(205).empty());
    CHECK(length_of_model(999) == 0);
}

TEST_CASE("the tables equal the model files, when a folder with them is named") {
    char const* const folder = std::getenv("PHASEWRIGHT_SUNSPEC_MODELS");
    if (folder == nullptr) {
        MESSAGE("PHASEWRIGHT_SUNSPEC_MODELS is not set: the model files themselves were not compared");
        return;
    }
    for (int const model : {1, 201, 202, 203, 204, 211, 212, 213, 214}) {
        compare_with_file(model, std::string(folder) + "/model_" + std::to_string(model) + ".json");
    }
}

}  // namespace phasewright::profile
