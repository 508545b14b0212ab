#include "print/drawing/papers.hpp"

#include <doctest/doctest.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "print/drawing/square_code.hpp"

using namespace phasewright;
using namespace phasewright::drawing;

namespace {

plan::Site site_of(std::string const& region, std::size_t points) {
    plan::Site site{.name = "Somewhere & <elsewhere>", .place = "a place with a rather long name of its own"};
    site.region = *plan::region_of(region);
    site.panels.push_back({.id = "main", .name = "Main panel", .nominal = {230, 400, 50}});
    if (region != "iec") site.panels.front().numbering = plan::PoleNumbering::odd_left;
    site.serial_lines.push_back({.id = "line-1", .name = "Line 1: riser", .length_m = 40});
    for (std::size_t k = 0; k < points; ++k) {
        plan::MeteringPoint point{.id = "a-point-with-a-long-name-of-its-own-" + std::to_string(k),
                                  .name = "Tenant number " + std::to_string(k),
                                  .panel = "main",
                                  .way = std::to_string(1 + 6 * k),
                                  .service = plan::all_services[k % plan::all_services.size()]};
        point.ct = {.ratio = {200, 5},
                    .output = k % 3 == 1 ? plan::CtOutput::millivolts : plan::CtOutput::five_amperes};
        if (k % 3 == 1) point.ct.ratio = {200, 0.333};
        if (k % 2 == 0) {
            point.address.serial_line = "line-1";
            point.address.position = static_cast<int>(k / 2) + 1;
        } else {
            point.address.host = "192.0.2.7";
        }
        if (k == 1) {
            point.lead = plan::Lead{
                .length_m = 18, .size = plan::conductor_size_of("12 AWG"), .way_back = plan::Return::common};
            point.tap = plan::VoltageTap{
                .size = plan::conductor_size_of("1.5 mm2"), .length_m = 3, .unprotected_m = 0.2, .fuse_a = 2};
        }
        site.points.push_back(std::move(point));
    }
    return site;
}

std::vector<report::Paper> papers_of(plan::Site const& site, bool known) {
    std::vector<report::PlannedPoint> points;
    for (auto const& point : site.points) {
        report::MeterFacts facts{.name = known ? "Meter with a longer name" : ""};
        facts.terminals = plan::default_terminals(plan::model_of(point.service, point.model_options));
        facts.terminals_known = known;
        if (known)
            facts.hardware.bus_terminals = {{"A1", plan::BusRole::d1, "B"},
                                            {"A2", plan::BusRole::d0, "A"},
                                            {"A3", plan::BusRole::common, ""}};
        points.push_back({&point, facts});
    }
    return plan_papers(site, points);
}

// The codes of a page as one grey picture, the way a camera would see them: four pixels a unit.
void write_codes(sheet::Drawing const& page, std::filesystem::path const& file) {
    constexpr int scale = 4;
    int const width = static_cast<int>(page.width) * scale, height = static_cast<int>(page.height) * scale;
    std::vector<unsigned char> pixels(static_cast<std::size_t>(width) * static_cast<std::size_t>(height),
                                      255);
    std::string const opening = "<path class=\"code\"";
    for (auto at = page.body.find(opening); at != std::string::npos; at = page.body.find(opening, at + 1)) {
        double left = 0, top = 0, module = 0;
        auto const transform = page.body.find("translate(", at);
        REQUIRE(std::sscanf(page.body.c_str() + transform, "translate(%lf %lf) scale(%lf)", &left, &top,
                            &module) == 3);
        auto const from = page.body.find(" d=\"", at) + 4;
        std::istringstream path(page.body.substr(from, page.body.find('"', from) - from));
        std::string part;
        while (std::getline(path, part, 'z')) {
            int x = 0, y = 0, run = 0;
            REQUIRE(std::sscanf(part.c_str(), "M%d %dh%dv1", &x, &y, &run) == 3);
            for (int py = static_cast<int>((top + y * module) * scale);
                 py < static_cast<int>((top + (y + 1) * module) * scale); ++py)
                for (int px = static_cast<int>((left + x * module) * scale);
                     px < static_cast<int>((left + (x + run) * module) * scale); ++px)
                    pixels[static_cast<std::size_t>(py) * static_cast<std::size_t>(width) +
                           static_cast<std::size_t>(px)] = 0;
        }
    }
    std::ofstream out(file, std::ios::binary);
    out << "P5\n" << width << ' ' << height << "\n255\n";
    for (auto const pixel : pixels) out.put(static_cast<char>(pixel));
}

std::string output_of(std::string const& command) {
    std::string text;
    std::FILE* const pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[4096];
    while (auto const got = std::fread(buffer, 1, sizeof buffer, pipe)) text.append(buffer, got);
    pclose(pipe);
    return text;
}

}  // namespace

TEST_CASE(
    "on every sheet no letter stands on a line or on another letter, on A4 and on Letter, within 12 mm of "
    "the edge") {
    for (auto const* const region : {"iec", "north-america"})
        for (bool const known : {true, false}) {
            auto const site = site_of(region, 24);
            for (auto const size : {PaperSize::a4, PaperSize::letter})
                for (auto const& paper : papers_of(site, known))
                    for (auto const& page : pages_of(paper, size)) {
                        INFO(paper.file, " ", std::string(region), " ", page.height);
                        CHECK(letters_in_the_way(page) == 0);
                        auto const room = room_of(size);
                        bool inside = true;
                        for (auto const& one : page.segments)
                            for (auto const& spot : {one.from, one.to})
                                inside = inside && spot.x >= room.left - 1.0 &&
                                         spot.x <= room.left + content_width + 1.0 && spot.y >= margin &&
                                         spot.y <= room.bottom + 1.0;
                        CHECK(inside);
                    }
        }
}

TEST_CASE("the title block stands clear at the foot, with long names and with empty ones") {
    auto page = blank_page(PaperSize::letter);
    put_title_block(page, PaperSize::letter,
                    {.site = "A site whose name is longer than any title block, in a town as long",
                     .panel = "",
                     .point = "a-point-with-a-long-name-of-its-own",
                     .sheet = "1234 of 5678",
                     .revision = "27 b",
                     .date = "2026-11-25",
                     .digest = "0123456789ab"});
    CHECK(letters_in_the_way(page) == 0);
}

TEST_CASE("the codes of a sheet of labels are read back by another program, each as its label says") {
    auto const site = site_of("iec", 1);
    auto const papers = papers_of(site, true);
    for (auto const& paper : papers) {
        auto const* const labels = std::get_if<report::LabelSheet>(&paper.content);
        if (labels == nullptr) continue;
        std::set<std::string> wanted, seen;
        for (auto const& label : labels->labels) wanted.insert(label.code);
        auto const file = std::filesystem::temp_directory_path() /
                          ("phasewright-labels-" + std::to_string(std::rand()) + ".pgm");
        for (auto const& page : pages_of(paper, PaperSize::a4)) {
            write_codes(page, file);
            // One record a code; its lines are the label's.
            auto const xml = output_of("zbarimg --quiet --xml --nodbus " + file.string() + " 2>/dev/null");
            std::string const opening = "<![CDATA[";
            for (auto at = xml.find(opening); at != std::string::npos; at = xml.find(opening, at + 1)) {
                auto const from = at + opening.size();
                seen.insert(xml.substr(from, xml.find("]]>", from) - from));
            }
        }
        std::filesystem::remove(file);
        CHECK(wanted.size() >= 3);
        CHECK(seen == wanted);
    }
}

TEST_CASE("a text that no code can hold is printed without one") {
    CHECK(!square_code(std::string(8000, 'x')));
    CHECK(!square_code(""));
    CHECK(square_code("Größe 2,5 mm²")->width > 20);
}

TEST_CASE("the same plan and the same date give the same bytes; another date gives another digest") {
    auto const site = site_of("iec", 3);
    auto const papers = papers_of(site, true);
    Issue const issue{.site = site.name, .revision = "1", .date = "2026-11-25"};
    auto const one = sheets_of(papers, PaperSize::a4, issue),
               again = sheets_of(papers_of(site, true), PaperSize::a4, issue);
    auto const later =
        sheets_of(papers, PaperSize::a4, {.site = site.name, .revision = "1", .date = "2026-11-26"});
    REQUIRE(one.size() == again.size());
    REQUIRE(one.size() == later.size());
    std::set<std::string> names;
    for (std::size_t k = 0; k < one.size(); ++k) {
        CHECK(one[k].svg == again[k].svg);
        CHECK(one[k].svg != later[k].svg);
        names.insert(one[k].name);
        // Nothing is fetched and nothing runs.
        auto rest = one[k].svg.substr(one[k].svg.find("xmlns=") + 40);
        for (auto const* const word : {"http", "href", "url(", "<script", "<elsewhere>"})
            CHECK(rest.find(word) == std::string::npos);
        CHECK(one[k].svg.find(std::to_string(k + 1) + " of " + std::to_string(one.size())) !=
              std::string::npos);
    }
    CHECK(names.size() == one.size());
    auto const index = index_of(one, PaperSize::a4, issue);
    for (auto const& name : names) CHECK(index.find("<img src=\"" + name) != std::string::npos);
}
