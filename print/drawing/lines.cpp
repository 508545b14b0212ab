// A panel on one line, and a serial line as it runs.
#include <algorithm>

#include "print/drawing/pages.hpp"

namespace phasewright::drawing {

using sheet::Anchor;
using sheet::Spot;

namespace {

constexpr double small = 13.0, tiny = 12.0;

void put(Pages& pages, double x, double y, std::string_view text, sheet::Letters const& letters,
         double width) {
    draw_text(pages.page(), {pages.left() + x, y},
              sheet::shortened(text, letters.heavy ? letters.size * 1.06 : letters.size, width), letters);
}

void blank(Pages& pages, double from, double to, double y) {
    draw_line(pages.page(), {pages.left() + from, y}, {pages.left() + to, y}, {.width = 0.7});
}

// Text, or a line to write it on.
void put_or_blank(Pages& pages, double x, double y, std::string_view text, double width) {
    if (text.empty())
        blank(pages, x, x + width, y + 3.0);
    else
        put(pages, x, y, text, {.size = small}, width);
}

// A set of current transformers on a line, and the meter that it serves.
void put_meter(Pages& pages, Spot at, bool marked) {
    auto& page = pages.page();
    double const x = pages.left() + at.x;
    draw_ring(page, {x, at.y}, 8.0, 1.8);
    draw_line(page, {x, at.y - 8.0}, {x, at.y - 17.0}, {.width = 1.2});
    draw_line(page, {x, at.y - 17.0}, {x + 14.0, at.y - 17.0}, {.width = 1.2});
    draw_frame(page, {x + 14.0, at.y - 27.0, x + 34.0, at.y - 7.0}, {.width = marked ? 3.2 : 1.4});
    draw_text(page, {x + 24.0, at.y - 12.0}, "M", {.size = 14.0, .anchor = Anchor::middle, .heavy = true});
}

constexpr double bus_x = 12.0, way_x = 24.0, breaker_x = 92.0, meter_x = 306.0, end_x = 548.0,
                 row_height = 44.0;

void put_breaker(Pages& pages, double x, double y, std::string_view rating) {
    double const at = pages.left() + x;
    draw_frame(pages.page(), {at - 9.0, y - 9.0, at + 9.0, y + 9.0}, {.width = 1.6});
    if (rating.empty()) {
        blank(pages, x + 14.0, x + 42.0, y - 4.0);
        put(pages, x + 45.0, y - 6.0, "A", {.size = tiny}, 20.0);
    } else {
        put(pages, x + 14.0, y - 6.0, rating, {.size = tiny}, 56.0);
    }
}

void put_way(Pages& pages, report::OneLineWay const& way) {
    double const y = pages.y() + 30.0;
    draw_line(pages.page(), {pages.left() + bus_x, y}, {pages.left() + end_x, y},
              {.width = way.marked ? 3.2 : 1.5});
    if (way.way.empty())
        blank(pages, way_x, way_x + 40.0, y - 4.0);
    else
        put(pages, way_x, y - 6.0, way.way, {.size = small, .heavy = true}, 52.0);
    put_breaker(pages, breaker_x, y, way.breaker);
    put_or_blank(pages, breaker_x + 76.0, y - 6.0, way.conductors, 110.0);
    if (!way.point.empty()) {
        put_meter(pages, {meter_x, y}, way.marked);
        put(pages, meter_x + 42.0, y - 8.0, way.cts, {.size = tiny}, end_x - meter_x - 46.0);
    }
    put(pages, end_x + 8.0, y + 5.0, way.name, {.size = small, .heavy = way.marked},
        content_width - end_x - 10.0);
    std::string under = way.feeds;
    if (way.marked) under = "this point";
    if (!under.empty())
        put(pages, end_x + 8.0, y + 21.0, under, {.size = tiny}, content_width - end_x - 10.0);
    pages.down(row_height);
}

// From above, through its breaker, past its own meter where it has one, into the bus.
void put_feed(Pages& pages, report::OneLine const& line) {
    auto& page = pages.page();
    double const x = pages.left() + bus_x, top = pages.y() + 6.0;
    double const foot = top + (line.incoming_point.empty() ? 56.0 : 92.0);
    put(pages, bus_x + 16.0, top + 10.0, "Source: " + line.feed, {.size = small, .heavy = true}, 600.0);
    put(pages, bus_x + 16.0, top + 27.0, line.supply, {.size = small}, 600.0);
    draw_line(page, {x, top}, {x, foot}, {.width = 2.4});
    draw_frame(page, {x - 9.0, top + 34.0, x + 9.0, top + 52.0}, {.width = 1.6});
    if (line.breaker.empty()) {
        blank(pages, bus_x + 16.0, bus_x + 46.0, top + 50.0);
        put(pages, bus_x + 49.0, top + 48.0, "A", {.size = small}, 20.0);
    } else {
        put(pages, bus_x + 16.0, top + 48.0, line.breaker, {.size = small}, 90.0);
    }
    if (!line.incoming_point.empty()) {
        double const y = top + 74.0;
        draw_ring(page, {x, y}, 8.0, 1.8);
        draw_line(page, {x + 8.0, y}, {x + 24.0, y}, {.width = 1.2});
        draw_frame(page, {x + 24.0, y - 10.0, x + 44.0, y + 10.0}, {.width = 1.4});
        draw_text(page, {x + 34.0, y + 5.0}, "M", {.size = 14.0, .anchor = Anchor::middle, .heavy = true});
        put(pages, bus_x + 52.0, y + 5.0, line.incoming_point + ", " + line.incoming_cts, {.size = small},
            500.0);
    }
    pages.down(foot - pages.y());
}

}  // namespace

void set_one_line(Pages& pages, report::OneLine const& line) {
    put_feed(pages, line);
    double top = pages.y();
    double last = top;
    for (auto const& way : line.ways) {
        if (!pages.fits(row_height + 10.0)) {
            draw_line(pages.page(), {pages.left() + bus_x, top}, {pages.left() + bus_x, last + 10.0},
                      {.width = 5.0});
            pages.turn();
            top = pages.y();
        }
        last = pages.y() + 30.0;
        put_way(pages, way);
    }
    draw_line(pages.page(), {pages.left() + bus_x, top}, {pages.left() + bus_x, last}, {.width = 5.0});
}

namespace {

constexpr double trunk_x = 74.0, box_x = 112.0, name_x = 158.0, address_x = 398.0, drop_x = 462.0,
                 terminator_x = 520.0, bias_x = 596.0, idle_x = 642.0, done_x = 706.0, station_height = 46.0;

void put_bus_head(Pages& pages) {
    double const y = pages.y() + 14.0;
    struct Title {
        double x;
        char const* words;
    };
    for (auto const& [x, words] :
         {Title{0.0, "cable"}, Title{box_x, "place"}, Title{name_x, "meter"}, Title{address_x, "address"},
          Title{drop_x, "drop"}, Title{terminator_x, "terminator"}, Title{bias_x, "bias"},
          Title{idle_x, "idle V"}, Title{done_x, "done"}})
        draw_text(pages.page(), {pages.left() + x, y}, words, {.size = tiny});
    pages.down(20.0);
    draw_line(pages.page(), {pages.left(), pages.y()}, {pages.left() + content_width, pages.y()},
              {.width = 1.5});
}

std::string yes_or_no(std::optional<bool> said) { return !said ? "" : *said ? "yes" : "no"; }

void put_station(Pages& pages, report::BusStation const& station, bool first, bool& last_drawn) {
    double const y = pages.y() + 26.0, x = pages.left() + trunk_x;
    auto& page = pages.page();
    if (!first && last_drawn) {
        // From the middle of the one before.
        draw_line(page, {x, y - station_height}, {x, y}, {.width = 2.6});
        put_or_blank(pages, 0.0, y - station_height / 2.0 + 5.0, station.cable, 58.0);
    } else if (!first) {
        draw_line(page, {x, pages.y() + 2.0}, {x, y}, {.width = 2.6});
        put_or_blank(pages, 0.0, y - 8.0, station.cable, 58.0);
    }
    draw_line(page, {x, y}, {pages.left() + box_x, y}, {.width = 1.6});
    draw_ring(page, {x, y}, 3.6, 1.0, sheet::RingFill::ink);
    if (station.terminator.value_or(false)) draw_solid(page, {x - 6.0, y - 12.0, x + 6.0, y - 4.0});
    draw_frame(page, {pages.left() + box_x, y - 12.0, pages.left() + box_x + 34.0, y + 12.0}, {.width = 1.4});
    if (!station.position.empty())
        draw_text(page, {pages.left() + box_x + 17.0, y + 5.0}, station.position,
                  {.size = 14.0, .anchor = Anchor::middle, .heavy = true, .even = true});
    put(pages, name_x, y - 2.0, station.name, {.size = 14.0, .heavy = true}, address_x - name_x - 10.0);
    if (!station.place.empty())
        put(pages, name_x, y + 14.0, station.place, {.size = tiny}, address_x - name_x - 10.0);
    put_or_blank(pages, address_x, y + 5.0, station.address, 44.0);
    put_or_blank(pages, drop_x, y + 5.0, station.drop, 48.0);
    put_or_blank(pages, terminator_x, y + 5.0, yes_or_no(station.terminator), 50.0);
    put_or_blank(pages, bias_x, y + 5.0, yes_or_no(station.bias), 34.0);
    blank(pages, idle_x, idle_x + 50.0, y + 8.0);
    draw_frame(page, {pages.left() + done_x, y - 8.0, pages.left() + done_x + 14.0, y + 6.0}, {.width = 1.4});
    last_drawn = true;
    pages.down(station_height);
}

}  // namespace

void set_bus(Pages& pages, report::BusRun const& run) {
    put_bus_head(pages);
    bool first = true, last_drawn = false;
    for (auto const& station : run.stations) {
        if (!pages.fits(station_height)) {
            pages.turn();
            put_bus_head(pages);
            last_drawn = false;
        }
        put_station(pages, station, first, last_drawn);
        first = false;
    }
}

}  // namespace phasewright::drawing
