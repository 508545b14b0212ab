// Schedules into plans and out of them (docs/reference/schedule.md).
#include "app/commands/plan_import_command.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "app/commands/plan_export_command.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"
#include "app/commands/schedule_rows.hpp"
#include "app/commands/schedule_sheet.hpp"
#include "app/commands/whole_file.hpp"
#include "print/workbook/csv.hpp"

using namespace phasewright;
using namespace phasewright::commands;

namespace {
struct Folder {
    std::filesystem::path path = std::filesystem::temp_directory_path() / ("phasewright-schedule-" + std::to_string(getpid()));
    Folder() { std::filesystem::create_directories(path); }
    ~Folder() {
        std::error_code none;
        std::filesystem::remove_all(path, none);
    }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    [[nodiscard]] std::filesystem::path with(std::string const& name, std::string const& text) const {
        std::ofstream(path / name, std::ios::binary) << text;
        return path / name;
    }
    [[nodiscard]] std::string text(std::string const& name) const { return commands::text_of(path / name, name).value_or("none"); }
};

struct Result {
    int status = 0;
    std::string out, err;
};
Result run(PlanImportOptions const& options, std::string const& input = {}) {
    std::istringstream in(input);
    std::ostringstream out, err;
    Result result;
    result.status = plan_import_command(options, in, out, err);
    result.out = out.str();
    result.err = err.str();
    return result;
}
plan::Site draft(std::filesystem::path const& file) {
    auto const text = commands::text_of(file, "the plan");
    REQUIRE(text.has_value());
    auto const site = read_draft(*text, file.string());
    if (!site) FAIL(quantity::to_sentence(site.error()));
    return *site;
}
bool has(std::string const& text, std::string const& part) { return text.find(part) != std::string::npos; }

std::string const schedule =
    "Metering schedule, revision C;;;;;;;;;;\n"
    ";;;;;;;;;;\n"
    "Kostenstelle;Absicherung (A);Tag;Verteiler;Netzform;Wandler;L\xC3\xA4nge [ft];Querschnitt;Z\xC3\xA4hler;Bus;Adresse\n"
    "0815;63;B\xC3\xBCro 1;Riser;3ph 4w;200/5;20;2x120 mm\xC2\xB2;sunspec;Riser 1;1\n"
    "0816;abc;B\xC3\xBCro 2;Riser;3P4W;200:5;20;16 mm\xC2\xB2;sunspec;Riser 1;2\n"
    ";16,5;Licht;Riser;1ph;60A:333mV;3,5 m;2,5 mm\xC2\xB2;tbd;;\n"
    ";16;Licht;Riser;1ph;60A:333mV;3;2,5 mm\xC2\xB2;;;\n"
    ";;;;;;;;;;\n"
    ";20;Keller;Riser;3ph;60/5;3;4x2,5 mm\xC2\xB2;;;\n"
    ";20;Dach;Riser;3P4W;60/5;3;4 mm\xC2\xB2;sunspec;Riser 1;1\n";
}  // namespace

TEST_CASE("a schedule with its own order, words, units and decimal comma becomes a plan; bad rows are kept aside with their cell") {
    Folder const folder;
    auto const result = run({.schedule_file = folder.with("s.csv", schedule), .out = folder.path / "new.plan.toml", .nominal = "230/400"});
    CAPTURE(result.out);
    CHECK(result.err.empty());
    CHECK(result.status == 1);
    CHECK(has(result.out, "s.csv:B5: this is no number; found \"abc\""));
    CHECK(has(result.out, "s.csv:C7: the point stands in row 6 already; found \"Licht\""));
    CHECK(has(result.out, "s.csv:E9: the service is not known, or its wires are not said"));
    CHECK(has(result.out, "s.csv:K10: the point \"buero-1\" in row 4 has the same place on the bus"));
    CHECK(has(result.out, "2 points added, 0 changed"));

    auto const site = draft(folder.path / "new.plan.toml");
    CHECK(site.name == "new");
    REQUIRE(site.points.size() == 2);
    auto const& first = site.points[0];
    CHECK(first.id == "buero-1");
    CHECK(first.name == "B\xC3\xBCro 1");
    CHECK(first.panel == "riser");
    CHECK(first.breaker_a == 63.0);
    CHECK(first.lead->length_m == doctest::Approx(6.096));
    CHECK(first.cables_per_phase == 2);
    CHECK(plan::text_of(*first.cable->size) == "120 mm2");
    CHECK(first.ct.output == plan::CtOutput::five_amperes);
    CHECK(first.address.serial_line == "riser-1");
    CHECK(first.extra == std::vector<plan::ExtraColumn>{{"Kostenstelle", "0815"}});
    auto const& lights = site.points[1];
    CHECK(lights.breaker_a == 16.5);
    CHECK(lights.lead->length_m == 3.5);
    CHECK(lights.ct.ratio.secondary == doctest::Approx(0.333));
    CHECK(lights.to_choose == plan::ToChoose{.ct = false, .meter = true, .address = true});
    CHECK(lights.extra.empty());

    // The file of rows kept aside, mended, comes in with the rest.
    auto aside = folder.text("new.plan.aside.csv");
    CHECK(has(aside, "phasewright: cell,phasewright: why,Kostenstelle"));
    aside.replace(aside.find(",abc,"), 5, ",40,");
    auto const again = run({.schedule_file = folder.with("mended.csv", aside), .into = folder.path / "new.plan.toml",
                            .out = folder.path / "new.plan.toml"});
    CAPTURE(again.out);
    CHECK(again.status == 1);
    CHECK(has(again.out, "1 points added, 1 changed"));
    CHECK(draft(folder.path / "new.plan.toml").points.back().breaker_a == 40.0);
}

TEST_CASE("a number that can be read in two ways is kept aside, unless another cell settles it") {
    Folder const folder;
    std::string const both = "point;panel;service;breaker\na;main;3P4W;\"1,250\"\n";
    PlanImportOptions const options{.schedule_file = "-", .out = folder.path / "o.plan.toml", .nominal = "230/400"};
    auto const result = run(options, both);
    CHECK(result.status == 1);
    CHECK(has(result.out, "standard input:D2: this can be read in two ways"));
    CHECK(has(result.out, "no row came in"));
    CHECK_FALSE(std::filesystem::exists(folder.path / "o.plan.toml"));
    CHECK(run(options, both + "b;main;3P4W;\"12,5\"\n").status == 0);
    CHECK(draft(folder.path / "o.plan.toml").points[0].breaker_a == 1.25);
}

TEST_CASE("parents that are not there, rings and figures at odds are kept aside") {
    Folder const folder;
    auto const result = run({.schedule_file = "-", .out = folder.path / "o.plan.toml", .panel = "main", .nominal = "230/400"},
                            "point,parent,service,least current (A),usual current (A),power factor\n"
                            "a,,3P4W,1,10,0.9\nb,a,3P4W,,,\nc,d,3P4W,,,\nd,c,3P4W,,,\ne,nobody,3P4W,,,\nf,e,3P4W,,,\n"
                            "g,a,3P4W,20,10,\nh,,3P4W,,,1.2\n");
    CAPTURE(result.out);
    CHECK(result.status == 1);
    CHECK(has(result.out, ":B4: the parents lead back to this point"));
    CHECK(has(result.out, ":B5: no such point is in the plan, or its row was kept aside"));
    CHECK(has(result.out, ":B6: no such point"));
    CHECK(has(result.out, ":B7: no such point"));
    CHECK(has(result.out, ":D8: this is above usual_a"));
    CHECK(has(result.out, ":F9: the number is out of range; found 1.2"));
    CHECK(has(result.out, "2 points added"));
}

TEST_CASE("what is no schedule is refused, and nothing is written") {
    Folder const folder;
    PlanImportOptions const options{.schedule_file = "-", .out = folder.path / "o.plan.toml"};
    CHECK(has(run(options, "a,b,c\n1,2,3\n").err, "no row among the first looks like the header"));
    CHECK(has(run(options, "breaker (A),Rating,point\n63,63,a\n").err, "two columns say the same, A1 and B1"));
    CHECK(has(run(options, "PK\x03\x04zip").err, "ZIP"));
    CHECK(has(run({.schedule_file = "/nonexistent/s.csv", .out = folder.path / "o.plan.toml"}).err, "/nonexistent/s.csv"));
    CHECK(has(run({.schedule_file = "-", .out = folder.path / "o.plan.toml", .nominal = "400"}, "point,panel\na,b\n").err, "--nominal"));
    auto const unknown = run(options, "point,panel,service\na,main,3P4W\n");
    CHECK(unknown.status == 1);
    CHECK(has(unknown.out, ":B2: the panel is new, and its rated voltages are not known"));
    CHECK(std::filesystem::is_empty(folder.path) == false);  // the row kept aside
    CHECK_FALSE(std::filesystem::exists(folder.path / "o.plan.toml"));
}

TEST_CASE("both demo plans come back the same from their own schedule, by CSV and by XLSX, over themselves") {
    Folder const folder;
    for (std::string const name : {"tallowmere-yard", "cindervale-block"}) {
        CAPTURE(name);
        auto const plan_file = std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "demo" / (name + ".plan.toml");
        auto const site = draft(plan_file);
        std::ostringstream out, err;
        REQUIRE(plan_export_command({.plan_file = plan_file, .xlsx = folder.path / "s.xlsx", .csv = folder.path / "s.csv"}, out, err) == 0);
        for (auto const* file : {"s.csv", "s.xlsx"}) {
            CAPTURE(file);
            auto const result = run({.schedule_file = folder.path / file, .into = plan_file, .out = folder.path / "again.plan.toml"});
            CAPTURE(result.out);
            CHECK(result.status == 0);
            CHECK(draft(folder.path / "again.plan.toml") == site);
        }
    }
}

TEST_CASE("a plan of nothing but what the schedule carries comes back the same into one without points") {
    auto site = draft(std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "demo/tallowmere-yard.plan.toml");
    site.sums.clear();
    for (auto& point : site.points) {
        auto const old = point;
        point.model_options = {};
        point.elements.clear();
        point.rotation.reset();
        point.ct = {.ratio = old.ct.ratio, .output = old.ct.output, .accuracy_class = old.ct.accuracy_class, .model = old.ct.model,
                    .burden_va = old.ct.burden_va};
        point.cable = plan::Cable{.size = old.cable->size, .diameter_mm = old.cable->diameter_mm};
        point.lead = plan::Lead{.length_m = old.lead->length_m, .size = old.lead->size};
        point.tap = plan::VoltageTap{.size = old.tap->size};
        if (old.tap->fuse_a) {
            point.tap->fuse_a = old.tap->fuse_a;
            point.tap->protection = plan::TapProtection::fuse;
        }
        point.supply = plan::SupplyFeed{.supply = old.supply->supply};
        point.address.distance_m.reset();
        point.extra = {{"Cost centre", "=A1"}, {"Note", "line\nbreak, \"quoted\""}};
    }
    site.points[3].ct.output = plan::CtOutput::unknown;
    site.points[3].ct.ratio = {150.0, 2.0};
    auto base = site;
    base.points.clear();
    auto const sheet = workbook::read_csv(workbook::write_csv(schedule_of(site)), "s.csv");
    REQUIRE(sheet.has_value());
    auto const layout = layout_of(*sheet, "s.csv");
    REQUIRE((layout && *layout));
    auto const done = import_rows(base, *sheet, **layout, {.plan_file = "demo", .panel = {}, .may_add = false, .nominal = {}});
    CHECK(done.aside.empty());
    REQUIRE(done.site.points.size() == site.points.size());
    for (std::size_t k = 0; k < site.points.size(); ++k) CHECK(write_plan({.points = {done.site.points[k]}}) == write_plan({.points = {site.points[k]}}));
    CHECK(done.site == site);
}
