#include "print/drawing/papers.hpp"

#include <algorithm>

#include "core/quantity/text.hpp"
#include "core/report/digest.hpp"
#include "print/drawing/layout.hpp"
#include "print/drawing/pages.hpp"

namespace phasewright::drawing {

namespace {

using sheet::Drawing;

std::vector<Drawing> wiring_pages(report::Paper const& paper, report::PointWiring const& wiring,
                                  PaperSize size) {
    auto page = blank_page(size);
    double const top = put_head(page, size, paper.title, paper.lead);
    double const bottom = put_notes(page, size, paper.notes);
    auto const drawing = drawn(wiring_layout(wiring));
    double const scale = std::min(1.0, (bottom - top - 4.0) / drawing.height);
    put_part(page, drawing, {room_of(size).left, top}, scale);
    return {std::move(page)};
}

// Black ink on white, whatever shows it; fonts that are likely to be there, nothing fetched.
std::string self_contained(Drawing const& page, PaperSize size, std::string_view title) {
    auto const paper = size_of(size);
    auto text = svg_of(page, title);
    std::string const mm = " width=\"" + quantity::fixed(paper.width_mm, 1) + "mm\" height=\"" +
                           quantity::fixed(paper.height_mm, 1) + "mm\"";
    std::string const style =
        R"( style="background:#fff;color:#000;font-family:Inter,'Helvetica Neue',Arial,'Liberation Sans','DejaVu Sans',sans-serif;)"
        R"(font-variant-numeric:tabular-nums")";
    text.insert(text.find(" role="), mm + style);
    return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + text;
}

}  // namespace

std::vector<Drawing> pages_of(report::Paper const& paper, PaperSize size) {
    if (auto const* const wiring = std::get_if<report::PointWiring>(&paper.content))
        return wiring_pages(paper, *wiring, size);
    Pages pages(paper, size);
    if (auto const* const tables = std::get_if<report::Tables>(&paper.content)) set_tables(pages, *tables);
    if (auto const* const labels = std::get_if<report::LabelSheet>(&paper.content))
        set_labels(pages, *labels);
    if (auto const* const list = std::get_if<report::Checklist>(&paper.content)) set_checklist(pages, *list);
    if (auto const* const run = std::get_if<report::BusRun>(&paper.content)) set_bus(pages, *run);
    if (auto const* const line = std::get_if<report::OneLine>(&paper.content)) set_one_line(pages, *line);
    return pages.done();
}

std::vector<SheetFile> sheets_of(std::vector<report::Paper> const& papers, PaperSize size,
                                 Issue const& issue) {
    struct Made {
        report::Paper const* paper;
        std::size_t page;
        Drawing drawing;
    };
    std::vector<Made> all;
    for (auto const& paper : papers) {
        std::size_t number = 0;
        for (auto& page : pages_of(paper, size)) all.push_back({&paper, ++number, std::move(page)});
    }
    std::vector<SheetFile> sheets;
    for (std::size_t k = 0; k < all.size(); ++k) {
        auto& [paper, page, drawing] = all[k];
        TitleBlock block{.site = issue.site,
                         .panel = paper->panel.empty() ? "\u2013" : paper->panel,
                         .point = paper->point.empty() ? "\u2013" : paper->point,
                         .sheet = std::to_string(k + 1) + " of " + std::to_string(all.size()),
                         .revision = issue.revision,
                         .date = issue.date,
                         .digest = {}};
        block.digest =
            report::sha256_hex(drawing.body + "\n" + block.site + "\n" + block.panel + "\n" + block.point +
                               "\n" + block.sheet + "\n" + block.revision + "\n" + block.date)
                .substr(0, 12);
        put_title_block(drawing, size, block);
        std::string const name = paper->file + (page == 1 ? "" : "-" + std::to_string(page)) + ".svg";
        sheets.push_back({name, paper->title, self_contained(drawing, size, paper->title)});
    }
    return sheets;
}

std::string index_of(std::vector<SheetFile> const& sheets, PaperSize size, Issue const& issue) {
    auto const paper = size_of(size);
    std::string const width = quantity::fixed(paper.width_mm, 1) + "mm",
                      height = quantity::fixed(paper.height_mm, 1) + "mm";
    std::string text =
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title>" +
        sheet::escaped(issue.site) + ": papers of the plan</title>\n<style>\n@page { size: " + width + " " +
        height +
        "; margin: 0; }\n"
        "body { margin: 24px auto; max-width: 860px; padding: 0 16px; background: #faf9f5; color: #191917; "
        "font: 17px/1.45 Inter, 'Helvetica Neue', Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif; }\n"
        "h1 { font-size: 30px; font-weight: 650; margin: 0 0 10px; }\nol { columns: 2; padding-left: 2em; "
        "font-size: 14px; }\n"
        "a { color: inherit; } li { break-inside: avoid; }\n"
        "img { display: block; width: 100%; margin: 0 0 24px; border-bottom: 1.5px solid #191917; "
        "background: #fff; }\n"
        "@media print { body { margin: 0; padding: 0; max-width: none; background: none; } header { display: "
        "none; }\n"
        "  img { width: " +
        width + "; height: " + height +
        "; margin: 0; border: 0; break-after: page; } img:last-child { break-after: auto; } }\n"
        "</style></head><body>\n<header><h1>" +
        sheet::escaped(issue.site) + ": papers of the plan</h1>\n<ol>\n";
    for (auto const& one : sheets)
        text += "<li><a href=\"" + one.name + "\">" + sheet::escaped(one.title) + "</a></li>\n";
    text += "</ol></header>\n";
    for (auto const& one : sheets)
        text += "<img src=\"" + one.name + "\" alt=\"" + sheet::escaped(one.title) + "\">\n";
    return text + "</body></html>\n";
}

}  // namespace phasewright::drawing
