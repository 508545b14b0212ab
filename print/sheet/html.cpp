#include "print/sheet/html.hpp"

#include "core/report/digest.hpp"
#include "core/report/wording.hpp"
#include "print/sheet/building.hpp"
#include "print/sheet/parts.hpp"
#include "print/sheet/point_page.hpp"
#include "print/sheet/style.hpp"
#include "print/sheet/svg.hpp"

namespace phasewright::sheet {

namespace {

std::string next_words(report::JobReport const& report) {
    auto const next = report::next_to_work_on(report);
    if (!next) return {};
    auto const& sheet = report.sheets[*next];
    return R"(<p class="hand"><b>Next:</b> <a href="#)" + anchor_of(*next) + "\">" +
           words(report::place_line(report, sheet)) + "</a>. " +
           (report::has_stop(sheet) ? "<b>Stop:</b> " : "") +
           words(report::has_stop(sheet) ? report::closed(report::findings_of(sheet).front().text)
                                         : report::headline(sheet)) +
           "</p>\n";
}

std::string points_table(report::JobReport const& report) {
    std::string text =
        "<table class=\"points\"><caption>All metering "
        "points</caption><thead><tr><th>point</th><th>state</th>"
        "<th>what the readings say</th><th class=\"n\">probability</th></tr></thead><tbody>";
    for (std::size_t k = 0; k < report.sheets.size(); ++k) {
        auto const& sheet = report.sheets[k];
        text += "<tr><td><a href=\"#" + anchor_of(k) + "\">" +
                words(sheet.point.name.empty() ? sheet.point.id : sheet.point.name) + "</a></td>";
        text += "<td class=\"w\">" + std::string(report::word_of(report::state_of(sheet))) +
                (report::has_stop(sheet) ? ", <b>stop</b></td>" : "</td>");
        auto const likeliest = report::likeliest(sheet);
        text += word_cell(report::headline(sheet) + (likeliest.empty() ? "" : " " + likeliest));
        text += "<td class=\"n\">" + words(likeliest.empty() ? report::certainty(sheet) : "") + "</td></tr>";
    }
    return text + "</tbody></table>\n";
}

std::string job_page(report::JobReport const& report) {
    auto const& site = report.site;
    std::string text = "<section>\n<div class=\"head\"><p>" + words(site.place) + "</p><p class=\"walk\">" +
                       words(report.program) + "</p></div>\n";
    text += "<h1>" + words(site.name) + "</h1>\n<p class=\"lead\">" + words(report::counts_line(report)) +
            "</p>\n" + next_words(report);
    text +=
        legend_svg() + "<div class=\"building\">" + building_svgs(report) + "</div>\n" + points_table(report);
    text += heading("Before anybody acts on this") + bullets(report::standing_cautions());
    text += title_block(report, {.sheets = report.sheets.size() + 1, .digest = report::digest_of(report)});
    return text + "</section>\n";
}

}  // namespace

std::string html_of(report::JobReport const& report) {
    std::string text = "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n";
    // The file asks the reader's program to fetch nothing and to run nothing, whatever stands in it.
    text +=
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
        "'unsafe-inline'\">\n";
    text += "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
    text += "<title>" + escaped(report.site.name) + ", metering report</title>\n";
    text += "<style>" + std::string(style_sheet()) + "</style>\n</head>\n<body>\n";
    text += job_page(report);
    for (std::size_t k = 0; k < report.sheets.size(); ++k) text += point_page(report, k);
    return text + "</body>\n</html>\n";
}

}  // namespace phasewright::sheet
