#include "print/sheet/svg.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

#include "core/quantity/text.hpp"

namespace phasewright::sheet {

namespace {

std::string number(double value) {
    auto text = quantity::fixed(value, 2);
    while (text.ends_with('0')) text.pop_back();
    if (text.ends_with('.')) text.pop_back();
    return text;
}

std::string attribute(std::string_view name, double value) {
    return " " + std::string(name) + "=\"" + number(value) + "\"";
}

std::string_view colour_of(Ink ink) { return ink == Ink::accent ? "var(--accent,#b8400e)" : "currentColor"; }

std::string stroke_attributes(Stroke const& stroke) {
    std::string text = " stroke=\"" + std::string(colour_of(stroke.ink)) + R"(" fill="none")";
    text += attribute("stroke-width", stroke.width);
    switch (stroke.pattern) {
        case Pattern::solid: break;
        case Pattern::long_dash: text += " stroke-dasharray=\"14 6\""; break;
        case Pattern::dash_dot: text += " stroke-dasharray=\"12 5 2 5\""; break;
        case Pattern::dotted: text += R"( stroke-dasharray="0 4" stroke-linecap="round")"; break;
    }
    return text;
}

// One code point from the front of `text`; 0xFFFD for a broken sequence.
char32_t take_code_point(std::string_view& text) {
    auto const lead = static_cast<unsigned char>(text.front());
    text.remove_prefix(1);
    if (lead < 0x80) return lead;
    int const more = lead >= 0xf0 && lead < 0xf5   ? 3
                     : lead >= 0xe0 && lead < 0xf0 ? 2
                     : lead >= 0xc2 && lead < 0xe0 ? 1
                                                   : 0;
    if (more == 0 || text.size() < static_cast<std::size_t>(more)) return 0xfffd;
    char32_t value = lead & (0x3fU >> more);
    for (int k = 0; k < more; ++k) {
        auto const next = static_cast<unsigned char>(text[static_cast<std::size_t>(k)]);
        if ((next & 0xc0U) != 0x80U) return 0xfffd;
        value = (value << 6) | (next & 0x3fU);
    }
    char32_t const least = more == 1 ? 0x80 : more == 2 ? 0x800 : 0x10000;
    if (value < least || value > 0x10ffff || (value >= 0xd800 && value < 0xe000)) return 0xfffd;
    text.remove_prefix(static_cast<std::size_t>(more));
    return value;
}

void put_code_point(std::string& text, char32_t value) {
    auto const put = [&](char32_t byte) { text += static_cast<char>(static_cast<unsigned char>(byte)); };
    if (value < 0x80) {
        put(value);
        return;
    }
    if (value < 0x800) {
        put(0xc0 | (value >> 6));
    } else {
        if (value < 0x10000) {
            put(0xe0 | (value >> 12));
        } else {
            put(0xf0 | (value >> 18));
            put(0x80 | ((value >> 12) & 0x3f));
        }
        put(0x80 | ((value >> 6) & 0x3f));
    }
    put(0x80 | (value & 0x3f));
}

bool turns_direction(char32_t c) {
    return (c >= 0x202a && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069) || c == 0x200e || c == 0x200f ||
           c == 0x061c;
}

double width_of(char32_t c) {
    if (c < 0x80) {
        auto const in = [c](std::string_view set) {
            return set.find(static_cast<char>(c)) != std::string_view::npos;
        };
        if (in("iljtfrI.,:;'|!()[] ")) return 0.37;
        if (in("mwMW%@")) return 0.95;
        if (c >= 'A' && c <= 'Z') return 0.72;
        return 0.63;
    }
    bool const wide = (c >= 0x1100 && c < 0x2000) || (c >= 0x2e80 && c < 0xfe00);
    return wide ? 1.05 : 0.68;
}

}  // namespace

Pattern pattern_of_phase(std::size_t phase) {
    return phase == 0 ? Pattern::solid : phase == 1 ? Pattern::long_dash : Pattern::dash_dot;
}

std::string escaped(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        char32_t const c = take_code_point(text);
        switch (c) {
            case '&': out += "&amp;"; continue;
            case '<': out += "&lt;"; continue;
            case '>': out += "&gt;"; continue;
            case '"': out += "&quot;"; continue;
            case '\'': out += "&#39;"; continue;
            case '\n':
            case '\t': out += ' '; continue;
            default: break;
        }
        bool const is_control = c < 0x20 || (c >= 0x7f && c < 0xa0) || c == 0xfffe || c == 0xffff;
        if (!is_control && !turns_direction(c)) put_code_point(out, c);
    }
    return out;
}

std::string typeset(std::string_view text) {
    static constexpr std::string_view units[] = {"%", "kW", "kvar", "MW", "Mvar", "V",
                                                 "A", "W",  "var",  "s",  "mm",   "Hz"};
    std::string out;
    auto const digit = [&](std::size_t at) { return at < text.size() && text[at] >= '0' && text[at] <= '9'; };
    for (std::size_t at = 0; at < text.size(); ++at) {
        bool const starts_number = at == 0 || text[at - 1] == ' ' || text[at - 1] == '(';
        if (text[at] == '-' && starts_number && digit(at + 1)) {
            out += "\u2212";
            continue;
        }
        bool const after_number = at > 0 && digit(at - 1);
        bool const before_unit =
            text[at] == ' ' && after_number && std::ranges::any_of(units, [&](auto unit) {
                auto const rest = text.substr(at + 1);
                if (!rest.starts_with(unit)) return false;
                auto const next = rest.substr(unit.size());
                return next.empty() ||
                       std::string_view{" .,;:)?!"}.find(next.front()) != std::string_view::npos;
            });
        if (before_unit)
            out += "\u202f";
        else
            out += text[at];
    }
    return out;
}

double text_width(std::string_view text, double size) {
    double ems = 0.0;
    while (!text.empty()) ems += width_of(take_code_point(text));
    return ems * size;
}

std::string shortened(std::string_view text, double size, double width) {
    if (text_width(text, size) <= width) return std::string(text);
    std::string kept;
    double room = width / size - 0.95;
    while (!text.empty()) {
        char32_t const c = take_code_point(text);
        room -= width_of(c);
        if (room < 0.0) break;
        put_code_point(kept, c);
    }
    while (kept.ends_with(' ')) kept.pop_back();
    return kept + "\u2026";
}

void draw_line(Drawing& drawing, Spot from, Spot to, Stroke const& stroke) {
    drawing.segments.push_back({from, to, stroke.width});
    drawing.body += "<line" + attribute("x1", from.x) + attribute("y1", from.y) + attribute("x2", to.x) +
                    attribute("y2", to.y) + stroke_attributes(stroke) + "/>";
}

namespace {
void remember_outline(Drawing& drawing, Box const& box, double width) {
    Spot const corners[] = {
        {box.left, box.top}, {box.right, box.top}, {box.right, box.bottom}, {box.left, box.bottom}};
    for (std::size_t k = 0; k < 4; ++k) drawing.segments.push_back({corners[k], corners[(k + 1) % 4], width});
}
std::string rectangle(Box const& box) {
    return "<rect" + attribute("x", box.left) + attribute("y", box.top) +
           attribute("width", box.right - box.left) + attribute("height", box.bottom - box.top);
}
}  // namespace

void draw_frame(Drawing& drawing, Box const& box, Stroke const& stroke) {
    remember_outline(drawing, box, stroke.width);
    drawing.body += rectangle(box) + stroke_attributes(stroke) + "/>";
}

void draw_solid(Drawing& drawing, Box const& box) {
    remember_outline(drawing, box, 1.0);
    drawing.body += rectangle(box) + " fill=\"currentColor\"/>";
}

// Lines x + y = c (rising to the right), and x - y = c when crossed, cut to the box.
void draw_hatch(Drawing& drawing, Box const& box, double gap, bool crossed) {
    double const w = box.right - box.left;
    double const h = box.bottom - box.top;
    std::string path;
    auto const stretch = [&](Spot from, Spot to) {
        drawing.segments.push_back({from, to, 1.0});
        path += "M" + number(from.x) + " " + number(from.y) + "L" + number(to.x) + " " + number(to.y);
    };
    for (double c = gap; c < w + h; c += gap) {
        double const x0 = std::max(0.0, c - h), x1 = std::min(w, c);
        stretch({box.left + x0, box.top + c - x0}, {box.left + x1, box.top + c - x1});
        if (crossed) stretch({box.right - x0, box.top + c - x0}, {box.right - x1, box.top + c - x1});
    }
    drawing.body += "<path d=\"" + path + R"(" fill="none" stroke="currentColor" stroke-width="1.2"/>)";
}

void draw_polygon(Drawing& drawing, std::vector<Spot> const& corners, Ink ink, bool filled) {
    std::string points;
    for (std::size_t k = 0; k < corners.size(); ++k) {
        drawing.segments.push_back({corners[k], corners[(k + 1) % corners.size()], 1.0});
        points += (k == 0 ? "" : " ") + number(corners[k].x) + "," + number(corners[k].y);
    }
    std::string const colour(colour_of(ink));
    drawing.body += "<polygon points=\"" + points + "\" fill=\"" + (filled ? colour : "none") +
                    "\" stroke=\"" + colour + R"(" stroke-width="1"/>)";
}

// For what must not stand on it, a ring is a polygon of sixteen corners.
void draw_ring(Drawing& drawing, Spot centre, double radius, double width, RingFill fill) {
    constexpr int corners = 16;
    auto const corner = [&](int k) {
        double const turn = 2.0 * std::numbers::pi * k / corners;
        return Spot{centre.x + radius * std::cos(turn), centre.y + radius * std::sin(turn)};
    };
    for (int k = 0; k < corners; ++k) drawing.segments.push_back({corner(k), corner(k + 1), width});
    drawing.body += "<circle" + attribute("cx", centre.x) + attribute("cy", centre.y) + attribute("r", radius) +
                    attribute("stroke-width", width) + R"( stroke="currentColor" fill=")" +
                    (fill == RingFill::none     ? "none"
                     : fill == RingFill::ground ? "var(--ground,#fff)"
                                                : "currentColor") +
                    "\"/>";
}

Box box_of_text(Spot baseline, std::string_view text, Letters const& letters) {
    double width = text_width(text, letters.size) * (letters.heavy ? 1.06 : 1.0);
    if (letters.even) {
        width = 0.0;
        for (auto rest = text; !rest.empty(); take_code_point(rest)) width += 0.62 * letters.size;
    }
    double const left = letters.anchor == Anchor::start    ? baseline.x
                        : letters.anchor == Anchor::middle ? baseline.x - width / 2.0
                                                           : baseline.x - width;
    return {left, baseline.y - 0.76 * letters.size, left + width, baseline.y + 0.22 * letters.size};
}

void draw_text(Drawing& drawing, Spot baseline, std::string_view text, Letters const& letters) {
    drawing.letters.push_back(box_of_text(baseline, text, letters));
    drawing.body += "<text" + attribute("x", baseline.x) + attribute("y", baseline.y) +
                    attribute("font-size", letters.size);
    if (letters.anchor != Anchor::start)
        drawing.body += letters.anchor == Anchor::middle ? " text-anchor=\"middle\"" : " text-anchor=\"end\"";
    if (letters.heavy) drawing.body += " font-weight=\"650\"";
    if (letters.even) drawing.body += R"( font-family="'DejaVu Sans Mono', Menlo, Consolas, monospace")";
    drawing.body += " fill=\"" + std::string(colour_of(letters.ink)) + "\">" + escaped(text) + "</text>";
}

bool touch(Box const& a, Box const& b) {
    return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

// Liang and Barsky's clipping: what part of the segment lies inside the box widened by half the line.
bool touch(Box const& box, Segment const& segment) {
    double const half = segment.width / 2.0;
    double const dx = segment.to.x - segment.from.x, dy = segment.to.y - segment.from.y;
    double const p[] = {-dx, dx, -dy, dy};
    double const q[] = {segment.from.x - (box.left - half), box.right + half - segment.from.x,
                        segment.from.y - (box.top - half), box.bottom + half - segment.from.y};
    double enter = 0.0, leave = 1.0;
    for (std::size_t k = 0; k < 4; ++k) {
        if (p[k] == 0.0) {
            if (q[k] < 0.0) return false;
            continue;
        }
        double const at = q[k] / p[k];
        if (p[k] < 0.0)
            enter = std::max(enter, at);
        else
            leave = std::min(leave, at);
    }
    return enter <= leave;
}

int letters_in_the_way(Drawing const& drawing) {
    int count = 0;
    for (std::size_t k = 0; k < drawing.letters.size(); ++k) {
        auto const& box = drawing.letters[k];
        bool bad =
            box.left < 0.0 || box.top < 0.0 || box.right > drawing.width || box.bottom > drawing.height;
        for (auto const& segment : drawing.segments) bad = bad || touch(box, segment);
        for (std::size_t other = 0; other < k; ++other) bad = bad || touch(box, drawing.letters[other]);
        if (bad) ++count;
    }
    return count;
}

std::string svg_of(Drawing const& drawing, std::string_view title, std::string_view css_class) {
    std::string text = R"(<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 )" +
                       number(drawing.width) + " " + number(drawing.height) + "\"";
    if (!css_class.empty()) text += " class=\"" + std::string(css_class) + "\"";
    return text + "><title>" + escaped(title) + "</title>" + drawing.body + "</svg>\n";
}

}  // namespace phasewright::sheet
