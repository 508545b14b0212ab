#include "print/sheet/html.hpp"

#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>

#include "print/sheet/sample_job_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::sheet;

namespace {

std::size_t count_of(std::string const& text, std::string_view part) {
    std::size_t count = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++count;
    return count;
}

}  // namespace

TEST_CASE(
    "the report has a sheet for the job and one for every point, each with its title block and foot line") {
    auto const job = sample_job();
    auto const html = html_of(job);
    CHECK(count_of(html, "<section") == job.sheets.size() + 1);
    CHECK(count_of(html, "class=\"block\"") == job.sheets.size() + 1);
    CHECK(count_of(html, "is the decision of the qualified person in charge.") == job.sheets.size());
    CHECK(html.find("sheet</dt><dd>7 of 7") != std::string::npos);
    // For a look at the pages: name a file here.
    if (char const* path = std::getenv("PHASEWRIGHT_SAMPLE_REPORT")) std::ofstream(path) << html;
}

TEST_CASE("the report asks for nothing from anywhere and runs nothing") {
    auto const html = html_of(sample_job());
    CHECK(html.find("<script") == std::string::npos);
    CHECK(html.find("<link") == std::string::npos);
    CHECK(html.find("url(") == std::string::npos);
    CHECK(html.find("src=") == std::string::npos);
    CHECK(count_of(html, "http") ==
          count_of(html, "http://www.w3.org/2000/svg") + count_of(html, "http-equiv"));
    CHECK(html.find("default-src 'none'") != std::string::npos);
}

TEST_CASE("every element opened in the report is closed") {
    auto const html = html_of(sample_job());
    for (std::string const tag :
         {"section", "div",  "p",      "table",      "tr", "td", "th", "ol", "ul", "li", "svg",
          "a",       "text", "figure", "figcaption", "dl", "dt", "dd", "b",  "h1", "h2", "h3"})
        CHECK_MESSAGE(count_of(html, "<" + tag + ">") + count_of(html, "<" + tag + " ") ==
                          count_of(html, "</" + tag + ">"),
                      tag);
}

TEST_CASE("a stop stands before everything else on its sheet and on the first page") {
    auto const html = html_of(sample_job());
    auto const sheet = html.find("id=\"point-3\"");
    REQUIRE(sheet != std::string::npos);
    auto const stop = html.find("class=\"stop\"", sheet);
    CHECK(stop < html.find("<h2>", sheet));
    CHECK(html.find("Next:</b> <a href=\"#point-3\"") != std::string::npos);
}

TEST_CASE(
    "a reversed CT's sheet says the sentence, the probability, the rivals, the moves and the prediction") {
    auto const html = html_of(sample_job());
    for (std::string const said :
         {"L2 current is reversed.", "99.2\u202f% sure, given: mixed load, no generation, new wiring.",
          "Registers 38\u202f% of the true 26.3\u202fkW.", "Rivals: one-phase generation on L2 0.5\u202f%",
          "Exchange S1 and S2 at terminals 4 and 6.", "The same load after the repair", "\u22128.16", "8.16"})
        CHECK_MESSAGE(html.find(said) != std::string::npos, said);
}

TEST_CASE("hostile and endless names stay names") {
    auto job = sample_job();
    std::string const evil = "\"><script>alert(1)</script><img src=x onerror='alert(2)'>&amp;";
    job.site.name = job.site.place = job.made_at = job.revision = job.program = evil;
    job.site.region.conductors = {evil, evil, evil, evil};
    for (auto& panel : job.site.panels) panel.name = evil;
    for (auto& sheet : job.sheets) {
        sheet.point.name = sheet.point.way = sheet.point.purpose = sheet.meter_identity =
            evil + std::string(5000, 'x');
        sheet.point.ct.accuracy_class = sheet.point.address.host = evil;
        sheet.notes = {evil};
        sheet.bus_findings = {{diagnosis::Severity::mend, evil}};
        if (!sheet.verdict) continue;
        auto& verdict = *sheet.verdict;
        verdict.disagreements = {{evil, evil, evil}};
        verdict.given.unused = {evil};
        for (auto& one : verdict.classes) {
            one.in_words = evil;
            for (auto& member : one.wirings) {
                member.in_words = evil;
                for (auto& move : member.repair) move = {evil, {evil}, evil, evil};
            }
        }
        if (verdict.next_test)
            verdict.next_test =
                diagnosis::NextTest{evil, evil, evil, 1.0, evil, {evil}, {{evil, 0.5, evil}}, 0.0};
    }
    auto const html = html_of(job);
    CHECK(html.find("<script") == std::string::npos);
    CHECK(html.find("<img") == std::string::npos);
    CHECK(html.find("&lt;script&gt;") != std::string::npos);
    CHECK(count_of(html, "<section") == job.sheets.size() + 1);
}

TEST_CASE("nothing of the report says that something is safe") {
    auto const html = html_of(sample_job());
    CHECK(count_of(html, "safe") == count_of(html, "'unsafe-inline'"));  // a word of the page's own policy
    CHECK(count_of(html, "Safe") == 0);
}

TEST_CASE("a job without points is still a page") {
    CHECK(html_of({}).find("No metering points.") != std::string::npos);
}
