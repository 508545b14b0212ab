#include "print/drawing/page.hpp"

#include <algorithm>
#include <array>

#include "core/quantity/text.hpp"

namespace phasewright::drawing {

using sheet::Drawing;
using sheet::Spot;

namespace {
constexpr double note_size = 12.0, note_line = 15.5;
}

PageSize size_of(PaperSize paper) {
    return paper == PaperSize::a4 ? PageSize{210.0, 297.0} : PageSize{215.9, 279.4};
}

Room room_of(PaperSize paper) {
    auto const size = size_of(paper);
    return {.left = (size.width_mm * units_per_mm - content_width) / 2.0,
            .top = margin,
            .bottom = size.height_mm * units_per_mm - margin - block_height - 8.0};
}

Drawing blank_page(PaperSize paper) {
    auto const size = size_of(paper);
    return {.width = size.width_mm * units_per_mm,
            .height = size.height_mm * units_per_mm,
            .body = {},
            .segments = {},
            .letters = {}};
}

std::vector<std::string> broken(std::string_view text, double size, double width) {
    std::vector<std::string> lines;
    std::string line;
    while (!text.empty()) {
        auto const space = text.find(' ');
        std::string word(text.substr(0, space));
        text.remove_prefix(space == std::string_view::npos ? text.size() : space + 1);
        if (word.empty()) continue;
        // A word of two parts may end a line after its hyphen.
        auto const hyphen = word.find('-', 1);
        if (hyphen != std::string::npos && sheet::text_width(word, size) > width) {
            if (!line.empty()) lines.push_back(std::move(line));
            lines.push_back(sheet::shortened(word.substr(0, hyphen + 1), size, width));
            line = sheet::shortened(word.substr(hyphen + 1), size, width);
            continue;
        }
        std::string const longer = line.empty() ? word : line + " " + word;
        if (!line.empty() && sheet::text_width(longer, size) > width) {
            lines.push_back(line);
            line = word;
        } else {
            line = longer;
        }
        if (sheet::text_width(line, size) > width) line = sheet::shortened(line, size, width);
    }
    if (!line.empty()) lines.push_back(line);
    return lines;
}

std::vector<std::string> broken_on_sheet(std::string_view text, double size, double width) {
    return broken(text, size, width / 0.94);
}

double put_head(Drawing& page, PaperSize paper, std::string_view title, std::string_view lead) {
    auto const room = room_of(paper);
    draw_text(page, {room.left, room.top + 24.0}, sheet::shortened(title, 28.0, content_width / 1.06),
              {.size = 28.0, .heavy = true});
    double y = room.top + 36.0;
    for (auto const& line : broken_on_sheet(lead, 14.0, content_width)) {
        y += 18.0;
        draw_text(page, {room.left, y}, line, {.size = 14.0});
    }
    return y + 18.0;
}

double put_notes(Drawing& page, PaperSize paper, std::vector<std::string> const& notes) {
    auto const room = room_of(paper);
    std::vector<std::string> lines;
    for (auto const& note : notes)
        if (!note.empty())
            for (auto& line : broken_on_sheet(note, note_size, content_width))
                lines.push_back(std::move(line));
    double y = room.bottom - 4.0 - note_line * (static_cast<double>(lines.size()) - 1.0);
    double const top = y - note_line;
    for (auto const& line : lines) {
        draw_text(page, {room.left, y}, line, {.size = note_size});
        y += note_line;
    }
    return lines.empty() ? room.bottom : top;
}

void put_title_block(Drawing& page, PaperSize paper, TitleBlock const& block) {
    struct Cell {
        std::string_view name;
        std::string const& value;
        double width;
        bool even;
    };
    std::array const cells{
        Cell{"site", block.site, 168, false},        Cell{"panel", block.panel, 140, false},
        Cell{"point", block.point, 112, false},      Cell{"sheet", block.sheet, 86, false},
        Cell{"revision", block.revision, 60, false}, Cell{"date", block.date, 90, false},
        Cell{"digest", block.digest, 88, true}};
    auto const room = room_of(paper);
    double const top = room.bottom + 8.0, bottom = top + block_height;
    draw_frame(page, {room.left, top, room.left + content_width, bottom}, {.width = 1.8});
    double x = room.left;
    for (auto const& cell : cells) {
        if (x > room.left) draw_line(page, {x, top}, {x, bottom}, {.width = 0.8});
        draw_text(page, {x + 7, top + 15}, cell.name, {.size = 11.0});
        // A long one is set smaller before it is cut.
        double const least = 10.5, wide = cell.width - 11.0;
        double size = cell.even ? 9.8 : 13.0;
        while (!cell.even && size > least && sheet::text_width(cell.value, size) > wide) size -= 0.5;
        auto lines = cell.even ? std::vector{cell.value} : broken(cell.value, size, wide);
        if (lines.size() > 2) lines = {lines[0], sheet::shortened(lines[1] + " " + lines[2], size, wide)};
        double y = lines.size() == 1 ? top + 34 : top + 27;
        for (auto const& line : lines) {
            draw_text(page, {x + 7, y}, line, {.size = size, .even = cell.even});
            y += 12.5;
        }
        x += cell.width;
    }
}

void put_part(Drawing& page, Drawing const& part, Spot at, double scale) {
    auto const moved = [&](Spot spot) { return Spot{at.x + scale * spot.x, at.y + scale * spot.y}; };
    page.body += "<g transform=\"translate(" + quantity::fixed(at.x, 2) + " " + quantity::fixed(at.y, 2) +
                 ") scale(" + quantity::fixed(scale, 4) + ")\">" + part.body + "</g>";
    for (auto const& one : part.segments)
        page.segments.push_back({moved(one.from), moved(one.to), one.width * scale});
    for (auto const& box : part.letters) {
        Spot const a = moved({box.left, box.top}), b = moved({box.right, box.bottom});
        page.letters.push_back({a.x, a.y, b.x, b.y});
    }
}

}  // namespace phasewright::drawing
