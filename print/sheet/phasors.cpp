#include "print/sheet/phasors.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/quantity/angle.hpp"

namespace phasewright::sheet {

namespace {

constexpr double side = 340.0;
constexpr Spot centre{side / 2.0, side / 2.0};
constexpr double longest_v = 112.0;
constexpr double longest_i = 70.0;
constexpr double letter_size = 17.0;

Spot at(Spot from, double radius, double degrees) {
    double const turn = degrees * std::numbers::pi / 180.0;
    return {from.x - radius * std::sin(turn), from.y - radius * std::cos(turn)};
}

struct Arrow {
    std::string name;
    double length, deg, width;
    Pattern pattern;
    bool is_voltage;
};

void draw_arrow(Drawing& drawing, Arrow const& arrow) {
    auto const tip = at(centre, arrow.length, arrow.deg);
    double const head = std::min(arrow.length, arrow.is_voltage ? 11.0 : 13.0);
    double const half = arrow.is_voltage ? 3.5 : 6.5;
    auto const neck = at(centre, arrow.length - head, arrow.deg);
    draw_line(drawing, centre, neck, {arrow.width, arrow.pattern});
    draw_polygon(drawing, {tip, at(neck, half, arrow.deg + 90.0), at(neck, half, arrow.deg - 90.0)});
}

bool is_free(Drawing const& drawing, Box const& tight) {
    constexpr double clear = 2.5;
    Box const box{tight.left - clear, tight.top - clear, tight.right + clear, tight.bottom + clear};
    if (box.left < 1.0 || box.top < 1.0 || box.right > drawing.width - 1.0 ||
        box.bottom > drawing.height - 1.0)
        return false;
    auto const hits = [&](auto const& other) { return touch(box, other); };
    return std::ranges::none_of(drawing.segments, hits) && std::ranges::none_of(drawing.letters, hits);
}

// The free place for the letter that is nearest to the tip, straight on first, then ever further round it.
void place_letter(Drawing& drawing, Arrow const& arrow) {
    auto const tip = at(centre, arrow.length, arrow.deg);
    auto const name = shortened(arrow.name, letter_size, 76.0);
    Letters const letters{letter_size, Anchor::middle, !arrow.is_voltage};
    for (double away = 14.0; away < 200.0; away += 4.0)
        for (double round = 0.0; round <= 180.0; round += 12.0)
            for (double const sign : {1.0, -1.0}) {
                auto const spot = at(tip, away, arrow.deg + sign * round);
                Spot const baseline{spot.x, spot.y + 0.27 * letter_size};
                if (!is_free(drawing, box_of_text(baseline, name, letters))) continue;
                draw_text(drawing, baseline, name, letters);
                return;
            }
}

double lowest(Drawing const& drawing) {
    double y = centre.y;
    for (auto const& segment : drawing.segments) y = std::max({y, segment.from.y, segment.to.y});
    for (auto const& box : drawing.letters) y = std::max(y, box.bottom);
    return y;
}

double largest(std::vector<PhasorElement> const& elements, std::optional<double> PhasorElement::* field) {
    double most = 0.0;
    for (auto const& element : elements) most = std::max(most, std::abs((element.*field).value_or(0.0)));
    return most;
}

std::complex<double> nominal_v(plan::ServiceModel const& model, std::size_t k, plan::SourcePhasors const& u) {
    auto const touch_of = [&](int terminal) {
        return u[static_cast<std::size_t>(model.terminals[static_cast<std::size_t>(terminal)])];
    };
    auto const& element = model.elements[k];
    auto const plus = touch_of(element.plus);
    return element.minus >= 0 ? plus - touch_of(element.minus) : plus;
}

}  // namespace

PhasorSet phasor_set(report::PointSheet const& sheet, plan::Region const& region) {
    PhasorSet set;
    if (!sheet.verdict || !sheet.readings || sheet.readings->snapshots.empty()) return set;
    auto const& readings = *sheet.readings;
    auto const& shown = readings.snapshots.back();
    auto const model = readings::model_of(readings);
    auto const names = report::element_names(sheet, region);
    auto const sequence = readings.rotation.value_or(shown.sequence.value_or(plan::Sequence::abc));
    auto const u = plan::source_phasors(model, readings.nominal, sequence);
    double const zero = std::arg(nominal_v(model, 0, u));
    bool from_nominal = false;
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        PhasorElement element{.v_name = "V " + names[k].voltage, .i_name = "I " + names[k].current};
        if (names[k].current == "derived") element.i_name = "I " + names[k].voltage;
        element.pattern = pattern_of_phase(k);
        auto const read =
            k < sheet.verdict->as_read.size() ? sheet.verdict->as_read[k] : diagnosis::ElementValues{};
        element.v = read.v;
        element.i = read.i;
        bool const told = k < shown.v_angle.size() && shown.v_angle[k];
        from_nominal = from_nominal || !told;
        element.v_deg =
            told ? *shown.v_angle[k] : quantity::to_degrees({std::arg(nominal_v(model, k, u)) - zero}).value;
        if (auto const lag = report::lag_of(read))
            element.i_deg = quantity::wrapped_deg(*element.v_deg - *lag);
        set.elements.push_back(element);
    }
    if (from_nominal) {
        set.note = "The meter told no voltage angles; the nominal ones of this service are drawn";
        set.note += readings.rotation || shown.sequence ? "." : ", in the rotation that the letters suggest.";
    }
    return set;
}

Drawing phasors(PhasorSet const& set) {
    Drawing drawing{.width = side, .height = side};
    double const most_v = largest(set.elements, &PhasorElement::v);
    double const most_i = largest(set.elements, &PhasorElement::i);
    std::vector<Arrow> arrows;
    for (auto const& e : set.elements) {
        if (e.v && e.v_deg && most_v > 0.0 && *e.v > 0.02 * most_v)
            arrows.push_back({e.v_name, longest_v * *e.v / most_v, *e.v_deg, 1.5, e.pattern, true});
        if (e.i && e.i_deg && most_i > 0.0 && std::abs(*e.i) > 0.02 * most_i)
            arrows.push_back(
                {e.i_name, longest_i * std::abs(*e.i) / most_i, *e.i_deg, 4.0, e.pattern, false});
    }
    for (auto const& arrow : arrows) draw_arrow(drawing, arrow);
    for (bool const voltages : {true, false})
        for (auto const& arrow : arrows)
            if (arrow.is_voltage == voltages) place_letter(drawing, arrow);
    if (!arrows.empty()) drawing.height = lowest(drawing) + 4.0;
    return drawing;
}

std::string phasors_svg(PhasorSet const& set) {
    auto const drawing = phasors(set);
    if (drawing.segments.empty()) return {};
    return svg_of(drawing, "Phasor diagram: voltages long and thin, currents short and thick", "phasors");
}

}  // namespace phasewright::sheet
