#include "print/sheet/svg.hpp"

#include <doctest/doctest.h>

#include "print/sheet/building.hpp"
#include "print/sheet/phasors.hpp"
#include "print/sheet/turn_ruler.hpp"

using namespace phasewright;
using namespace phasewright::sheet;

TEST_CASE("no name can become markup") {
    CHECK(escaped("<script>alert('x') & \"y\"</script>") ==
          "&lt;script&gt;alert(&#39;x&#39;) &amp; &quot;y&quot;&lt;/script&gt;");
    Drawing drawing{.width = 200, .height = 20};
    draw_text(drawing, {0, 15}, "</text><script>alert(1)</script>");
    auto const svg = svg_of(drawing, "\"><script>");
    CHECK(svg.find("<script") == std::string::npos);
}

TEST_CASE("control characters, direction marks and broken UTF-8 do not reach the page") {
    CHECK(escaped(std::string("a\0b\x1b[31m", 8)) == "ab[31m");
    CHECK(escaped("a\u202eb\u2066c") == "abc");
    CHECK(escaped("\xff\xc0\xaf"
                  "a\xe2\x82") ==
          "\ufffd\ufffd\ufffd"
          "a\ufffd\ufffd");
    CHECK(escaped("Größe 2 Ω 漢") == "Größe 2 Ω 漢");
}

TEST_CASE("numbers are set with a true minus and a thin space before their unit") {
    CHECK(typeset("-8.15 kW, 99.2 % sure") == "\u22128.15\u202fkW, 99.2\u202f% sure");
    CHECK(typeset("way 7 Ashfield, L1-L2, DB-2") == "way 7 Ashfield, L1-L2, DB-2");
}

TEST_CASE("a text that is too wide is shortened to fit, whatever it holds") {
    std::string const name(300, 'W');
    auto const shown = shortened(name, 16.0, 120.0);
    CHECK(text_width(shown, 16.0) <= 120.0);
    CHECK(shown.ends_with("\u2026"));
    CHECK(shortened("L1", 16.0, 120.0) == "L1");
}

TEST_CASE("a hatch stays inside its box") {
    Drawing drawing{.width = 100, .height = 100};
    draw_hatch(drawing, {10, 20, 70, 44}, 7.0, true);
    CHECK(drawing.segments.size() > 10);
    for (auto const& s : drawing.segments)
        for (auto const& spot : {s.from, s.to}) {
            CHECK(spot.x >= 10.0 - 1e-9);
            CHECK(spot.x <= 70.0 + 1e-9);
            CHECK(spot.y >= 20.0 - 1e-9);
            CHECK(spot.y <= 44.0 + 1e-9);
        }
}

TEST_CASE("a letter on a line is noticed") {
    Drawing drawing{.width = 100, .height = 100};
    draw_text(drawing, {20, 50}, "L1");
    CHECK(letters_in_the_way(drawing) == 0);
    draw_line(drawing, {0, 0}, {100, 100});
    draw_line(drawing, {0, 48}, {100, 48});
    CHECK(letters_in_the_way(drawing) == 1);
}
