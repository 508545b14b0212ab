// Tables, checklists and labels on pages.
#include <algorithm>

#include "print/drawing/pages.hpp"
#include "print/drawing/square_code.hpp"

namespace phasewright::drawing {

using sheet::Anchor;
using sheet::Spot;

Pages::Pages(report::Paper const& paper, PaperSize size) : paper_(paper), size_(size) { turn(); }

void Pages::turn() {
    auto const title = pages_.empty() ? paper_.title : paper_.title + ", continued";
    pages_.push_back(blank_page(size_));
    left_ = room_of(size_).left;
    y_ = put_head(pages_.back(), size_, title, pages_.size() == 1 ? paper_.lead : "");
    bottom_ = put_notes(pages_.back(), size_, paper_.notes) - 6.0;
}

namespace {

constexpr double cell_size = 13.0, cell_line = 16.5, cell_pad = 5.0, least_row = 27.0, gap = 5.0;

std::vector<double> widths_of(report::PaperTable const& table) {
    double sum = 0.0;
    for (auto const& column : table.columns) sum += column.share;
    std::vector<double> widths;
    for (auto const& column : table.columns) widths.push_back(column.share / sum * content_width);
    return widths;
}

// Equally wide letters take more room than the text's own width says.
double size_in(report::Column const& column) { return column.even ? cell_size - 1.0 : cell_size; }

void put_cells(Pages& pages, report::PaperTable const& table,
               std::vector<std::vector<std::string>> const& cells, std::vector<double> const& widths,
               double size) {
    double x = pages.left();
    for (std::size_t k = 0; k < widths.size(); ++k) {
        auto const& column = table.columns[k];
        double y = pages.y() + cell_pad + size;
        for (auto const& line : cells[k]) {
            bool const even = column.even && size == cell_size;
            Spot const at{column.number ? x + widths[k] - 2.0 * gap : x, y};
            draw_text(pages.page(), at, line,
                      {.size = even ? size_in(column) : size,
                       .anchor = column.number ? Anchor::end : Anchor::start,
                       .heavy = even,
                       .even = even});
            y += cell_line;
        }
        x += widths[k];
    }
}

std::vector<std::vector<std::string>> cells_of(report::PaperTable const& table,
                                               std::vector<std::string> const& row,
                                               std::vector<double> const& widths, double size) {
    std::vector<std::vector<std::string>> cells;
    for (std::size_t k = 0; k < widths.size(); ++k) {
        double const room = widths[k] - (table.columns[k].number ? 2.5 * gap : 1.5 * gap);
        auto lines = broken(k < row.size() ? row[k] : "", size, room);
        if (lines.size() > 4) lines.resize(4);
        cells.push_back(std::move(lines));
    }
    return cells;
}

double height_of(std::vector<std::vector<std::string>> const& cells) {
    std::size_t lines = 1;
    for (auto const& cell : cells) lines = std::max(lines, cell.size());
    return std::max(least_row, cell_line * static_cast<double>(lines) + 2.0 * cell_pad);
}

void rule(Pages& pages, double width) {
    draw_line(pages.page(), {pages.left(), pages.y()}, {pages.left() + content_width, pages.y()},
              {.width = width});
}

void put_table_head(Pages& pages, report::PaperTable const& table, std::vector<double> const& widths) {
    std::vector<std::string> titles;
    for (auto const& column : table.columns) titles.push_back(column.title);
    constexpr double head_size = 12.0;
    auto const cells = cells_of(table, titles, widths, head_size);
    double const height = height_of(cells);
    put_cells(pages, table, cells, widths, head_size);
    pages.down(height - 2.0);
    rule(pages, 1.5);
}

void set_table(Pages& pages, report::PaperTable const& table) {
    auto const widths = widths_of(table);
    if (!pages.fits(90.0)) pages.turn();
    if (!table.caption.empty()) {
        draw_text(pages.page(), {pages.left(), pages.y() + 16.0}, table.caption,
                  {.size = 15.0, .heavy = true});
        pages.down(22.0);
    }
    put_table_head(pages, table, widths);
    for (auto const& row : table.rows) {
        auto const cells = cells_of(table, row, widths, cell_size);
        double const height = height_of(cells);
        if (!pages.fits(height)) {
            pages.turn();
            put_table_head(pages, table, widths);
        }
        put_cells(pages, table, cells, widths, cell_size);
        pages.down(height);
        rule(pages, 0.6);
    }
    pages.down(22.0);
}

constexpr double step_size = 13.5, step_line = 16.5;

void put_lines(Pages& pages, std::vector<std::string> const& lines, double indent, double size, double line,
               bool heavy = false) {
    double y = pages.y();
    for (auto const& text : lines) {
        y += line;
        draw_text(pages.page(), {pages.left() + indent, y - 4.0}, text, {.size = size, .heavy = heavy});
    }
}

void put_cautions(Pages& pages, std::vector<std::string> const& cautions) {
    constexpr double size = 14.0, line = 18.5, inset = 14.0;
    double const top = pages.y();
    pages.down(10.0);
    for (auto const& caution : cautions) {
        auto const lines = broken(caution, size * 1.06, content_width - 2.0 * inset);
        put_lines(pages, lines, inset, size, line, true);
        pages.down(line * static_cast<double>(lines.size()) + 6.0);
    }
    pages.down(4.0);
    draw_frame(pages.page(), {pages.left(), top, pages.left() + content_width, pages.y()}, {.width = 3.0});
    pages.down(16.0);
}

}  // namespace

void set_tables(Pages& pages, report::Tables const& tables) {
    for (auto const& table : tables.tables) set_table(pages, table);
}

void set_checklist(Pages& pages, report::Checklist const& list) {
    if (!list.cautions.empty()) put_cautions(pages, list.cautions);
    for (auto const& section : list.sections) {
        if (!pages.fits(70.0)) pages.turn();
        draw_text(pages.page(), {pages.left(), pages.y() + 16.0}, section.title,
                  {.size = 16.0, .heavy = true});
        pages.down(24.0);
        for (auto const& step : section.steps) {
            auto const lines = broken_on_sheet(step, step_size, content_width - 34.0);
            double const height = step_line * static_cast<double>(lines.size()) + 4.0;
            if (!pages.fits(height)) pages.turn();
            double const x = pages.left() + 2.0, y = pages.y() + 2.5;
            draw_frame(pages.page(), {x, y, x + 13.0, y + 13.0}, {.width = 1.4});
            put_lines(pages, lines, 28.0, step_size, step_line);
            pages.down(height);
        }
        pages.down(6.0);
    }
}

// Three stickers across, each 60 mm by 26 mm, with a dotted line to cut along.
void set_labels(Pages& pages, report::LabelSheet const& all) {
    constexpr double width = 240.0, height = 104.0, between = 12.0, side = 96.0;
    std::size_t column = 0;
    for (auto const& label : all.labels) {
        if (column == 0 && !pages.fits(height)) pages.turn();
        double const x = pages.left() + static_cast<double>(column) * (width + between), y = pages.y();
        auto& page = pages.page();
        draw_frame(page, {x, y, x + width, y + height}, {.width = 1.2, .pattern = sheet::Pattern::dotted});
        double const room = width - side - 18.0;
        double line = y + 20.0;
        for (auto const& text : broken(label.head, 14.5, room)) {
            draw_text(page, {x + 9.0, line}, text, {.size = 14.0, .heavy = true});
            line += 16.0;
        }
        for (auto const& words : label.lines)
            for (auto const& text : broken(words, 12.0, room)) {
                if (line > y + height - 5.0) break;
                draw_text(page, {x + 9.0, line}, text, {.size = 12.0});
                line += 14.5;
            }
        if (auto const code = square_code(label.code))
            draw_code(page, *code, {x + width - side - 4.0, y + 4.0}, side);
        column = (column + 1) % 3;
        if (column == 0) pages.down(height + between);
    }
    if (column != 0) pages.down(height + between);
}

}  // namespace phasewright::drawing
