// A drawing in ink: lines, hatches and letters in a box of its own units, later one SVG text. The drawing
// remembers where its lines and its letters are, so a test can say that no letter ever stands on a line. Ink
// is the colour of the text around the drawing, so the same sheet works on paper, light and dark; the accent
// is the page's own. Hatches are plain lines: they print everywhere and need no ids that could clash on a
// page.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::sheet {

struct Spot {
    double x = 0.0, y = 0.0;
};
struct Segment {
    Spot from, to;
    double width = 1.5;
};
struct Box {
    double left = 0.0, top = 0.0, right = 0.0, bottom = 0.0;
};

struct Drawing {
    double width = 0.0, height = 0.0;
    std::string body;               // SVG elements
    std::vector<Segment> segments;  // every line drawn
    std::vector<Box> letters;       // the box of every text
};

enum class Pattern { solid, long_dash, dash_dot, dotted };  // the first three are the phases, in order
[[nodiscard]] Pattern pattern_of_phase(std::size_t phase);

enum class Ink { line, accent };
struct Stroke {
    double width = 1.5;
    Pattern pattern = Pattern::solid;
    Ink ink = Ink::line;
};
enum class Anchor { start, middle, end };
struct Letters {
    double size = 14.0;
    Anchor anchor = Anchor::start;
    bool heavy = false;
    Ink ink = Ink::line;
    bool even = false;  // in a face whose letters are all equally wide: terminals, registers, digests
};

// Text as it may stand in HTML and SVG: markup characters escaped, control characters and marks that turn the
// writing direction left out, broken UTF-8 replaced.
[[nodiscard]] std::string escaped(std::string_view text);
// Typographic minus and a thin space before a unit: "-8.15 kW" as a book sets it. Takes and gives plain text.
[[nodiscard]] std::string typeset(std::string_view text);

// Wide enough for the fonts of the sheet; an estimate, never too small by more than a few per cent.
[[nodiscard]] double text_width(std::string_view text, double size);
// The text, or its beginning with an ellipsis when it is wider than `width`.
[[nodiscard]] std::string shortened(std::string_view text, double size, double width);

void draw_line(Drawing& drawing, Spot from, Spot to, Stroke const& stroke = {});
void draw_frame(Drawing& drawing, Box const& box, Stroke const& stroke = {});
void draw_solid(Drawing& drawing, Box const& box);
void draw_hatch(Drawing& drawing, Box const& box, double gap, bool crossed = false);
void draw_polygon(Drawing& drawing, std::vector<Spot> const& corners, Ink ink = Ink::line,
                  bool filled = true);
// A ring, or one filled with the ground so that lines end at its edge, or a solid dot.
enum class RingFill { none, ground, ink };
void draw_ring(Drawing& drawing, Spot centre, double radius, double width = 1.5, RingFill fill = RingFill::none);
void draw_text(Drawing& drawing, Spot baseline, std::string_view text, Letters const& letters = {});
[[nodiscard]] Box box_of_text(Spot baseline, std::string_view text, Letters const& letters);

[[nodiscard]] bool touch(Box const& a, Box const& b);
[[nodiscard]] bool touch(Box const& box, Segment const& segment);
// How many texts stand on a line, on another text or outside the drawing.
[[nodiscard]] int letters_in_the_way(Drawing const& drawing);

// `title` is what a screen reader says; `css_class` may be empty.
[[nodiscard]] std::string svg_of(Drawing const& drawing, std::string_view title,
                                 std::string_view css_class = {});

}  // namespace phasewright::sheet
