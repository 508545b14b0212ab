#include "print/sheet/turn_ruler.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::sheet {

using quantity::wrapped_deg;

namespace {

constexpr double same_place_deg = 2.0;

double angle_deg(std::complex<double> value) { return std::arg(value) * 180.0 / std::numbers::pi; }

void add_copy(std::vector<RulerCopy>& copies, RulerCopy const& copy) {
    if (std::abs(wrapped_deg(copy.offset_deg)) < same_place_deg) return;  // cannot be told from what is right
    for (auto& known : copies) {
        if (std::abs(wrapped_deg(known.offset_deg - copy.offset_deg)) >= same_place_deg) continue;
        if (known.name == copy.name) return;
        known.name += " or " + copy.name;
        known.short_name += ", " + copy.short_name;
        known.tiny_name += ", " + copy.tiny_name;
        known.turned = known.turned && copy.turned;
        return;
    }
    copies.push_back(copy);
}

std::vector<RulerCopy> copies_for(plan::Conductor planned, plan::ServiceModel const& model,
                                  plan::Nominal const& nominal, plan::Sequence sequence,
                                  plan::Region const& region) {
    auto const u = plan::source_phasors(model, nominal, sequence);
    auto const at = [&](plan::Conductor c) { return u[static_cast<std::size_t>(c)]; };
    std::vector<RulerCopy> copies;
    add_copy(copies, {180.0, "reversed", "reversed", "rev.", true});
    if (model.service == plan::Service::one_phase_two_wire) return copies;
    for (auto const other : model.live) {
        if (other == planned || std::abs(at(other)) == 0.0 || std::abs(at(planned)) == 0.0) continue;
        double const offset = wrapped_deg(angle_deg(at(planned)) - angle_deg(at(other)));
        auto const& name = region.conductors[static_cast<std::size_t>(other)];
        add_copy(copies, {offset, name + " current", name, name, false});
        add_copy(copies,
                 {wrapped_deg(offset + 180.0), name + " reversed", name + " rev.", name + " rev.", true});
    }
    return copies;
}

plan::Sequence sequence_of(report::PointSheet const& sheet) {
    if (sheet.readings && sheet.readings->rotation) return *sheet.readings->rotation;
    return sheet.point.rotation.value_or(plan::Sequence::abc);
}

std::optional<double> entry(std::vector<double> const& values, std::size_t at) {
    if (at >= values.size() || !std::isfinite(values[at])) return std::nullopt;
    return values[at];
}

// Where everything of a ruler lies.
struct Layout {
    double width, left, right, row, first_axis, letter, label, probability, angle;
};
constexpr Layout layout_of(DrawingSize size) {
    if (size == DrawingSize::small) return {360, 62, 292, 92, 58, 15, 15, 17, 15};
    return {700, 78, 566, 92, 62, 18, 14, 22, 14};
}

double x_of(Layout const& at, double degrees) {
    return at.left + (at.right - at.left) * (degrees + 180.0) / 360.0;
}

// The stretch centre +- half, in one piece or, where it passes 180 degrees, in two.
std::vector<std::pair<double, double>> pieces(double centre_deg, double half_deg) {
    if (half_deg >= 180.0) return {{-180.0, 180.0}};
    double const centre = wrapped_deg(centre_deg);
    double const low = centre - half_deg, high = centre + half_deg;
    if (low < -180.0) return {{-180.0, high}, {low + 360.0, 180.0}};
    if (high > 180.0) return {{low, 180.0}, {-180.0, high - 360.0}};
    return {{low, high}};
}

void draw_scale(Drawing& drawing, Layout const& at, double axis, Pattern pattern) {
    draw_line(drawing, {at.left, axis}, {at.right, axis}, {1.5, pattern});
    for (int degrees = -180; degrees <= 180; degrees += 30) {
        double const half = degrees % 90 == 0 ? 5.0 : 2.5;
        double const x = x_of(at, degrees);
        draw_line(drawing, {x, axis - half}, {x, axis + half}, {1.0});
    }
}

struct Label {
    Spot baseline;
    std::string text;
};

// The names of the copies in their longest form (0) or shorter ones (1, 2), each over or under its own
// stretch.
std::vector<Label> labels_of(Layout const& at, double axis, RulerElement const& element, int form) {
    std::vector<Label> labels;
    for (auto const& copy : element.copies) {
        auto const& words = form == 0 ? copy.name : form == 1 ? copy.short_name : copy.tiny_name;
        auto const text = shortened(words, at.label, (at.right - at.left) / 3.0 - 4.0);
        double const reach = text_width(text, at.label) / 2.0;
        double const x = x_of(at, wrapped_deg(*element.expected_deg + copy.offset_deg));
        labels.push_back(
            {{std::clamp(x, reach + 2.0, at.right + 20.0 - reach), copy.turned ? axis - 27.0 : axis + 36.0},
             text});
    }
    return labels;
}

bool apart(std::vector<Label> const& labels, Letters const& letters) {
    for (std::size_t k = 0; k < labels.size(); ++k)
        for (std::size_t other = 0; other < k; ++other)
            if (touch(box_of_text(labels[k].baseline, labels[k].text, letters),
                      box_of_text(labels[other].baseline, labels[other].text, letters)))
                return false;
    return true;
}

void draw_copies(Drawing& drawing, Layout const& at, double axis, RulerElement const& element,
                 DrawingSize size) {
    if (!element.expected_deg) return;
    double const half = std::clamp(element.half_width_deg, 3.0, 56.0);
    for (auto const& copy : element.copies)
        for (auto const& [low, high] : pieces(wrapped_deg(*element.expected_deg + copy.offset_deg), half)) {
            Box const box = copy.turned ? Box{x_of(at, low), axis - 16.0, x_of(at, high), axis - 3.0}
                                        : Box{x_of(at, low), axis + 3.0, x_of(at, high), axis + 16.0};
            draw_frame(drawing, box, {1.5, Pattern::dotted});
        }
    Letters const letters{at.label, Anchor::middle};
    int form = size == DrawingSize::full ? 0 : 1;
    while (form < 2 && !apart(labels_of(at, axis, element, form), letters)) ++form;
    for (auto const& label : labels_of(at, axis, element, form))
        draw_text(drawing, label.baseline, label.text, letters);
}

void draw_pointer(Drawing& drawing, Layout const& at, double axis, double lag_deg) {
    double const x = x_of(at, wrapped_deg(lag_deg));
    draw_line(drawing, {x, axis - 20.0}, {x, axis + 20.0}, {3.0});
    draw_polygon(drawing, {{x, axis - 6.0}, {x - 7.0, axis - 20.0}, {x + 7.0, axis - 20.0}});
}

std::string probability_words(double p) {
    if (p > 0.995) return ">0.99";
    return p < 0.005 ? "<0.01" : quantity::fixed(p, 2);
}

void draw_element(Drawing& drawing, Layout const& at, double axis, RulerElement const& element,
                  DrawingSize size) {
    auto const letter = shortened(element.letter, at.letter, at.left - 8.0);
    draw_text(drawing, {at.left - 7.0, axis + 5.0}, letter, {at.letter, Anchor::end, true});
    if (element.expected_deg)
        for (auto const& [low, high] : pieces(*element.expected_deg, std::max(element.half_width_deg, 3.0))) {
            Box const box{x_of(at, low), axis - 12.0, x_of(at, high), axis + 12.0};
            draw_hatch(drawing, box, 6.0);
            draw_frame(drawing, box, {1.0});
        }
    draw_copies(drawing, at, axis, element, size);
    draw_scale(drawing, at, axis, element.pattern);
    if (element.lag_deg) draw_pointer(drawing, at, axis, *element.lag_deg);
    if (element.right)
        draw_text(drawing, {at.width - 4.0, axis - 2.0}, probability_words(*element.right),
                  {at.probability, Anchor::end, true});
    auto const angle =
        element.lag_deg ? typeset(quantity::fixed(wrapped_deg(*element.lag_deg), 0)) + "°" : "no angle";
    draw_text(drawing, {at.width - 4.0, axis + at.angle + 2.0}, angle,
              {at.angle - (element.lag_deg ? 0.0 : 1.5), Anchor::end});
}

void draw_foot(Drawing& drawing, Layout const& at, double top, DrawingSize size) {
    Letters const small{size == DrawingSize::full ? 14.0 : 15.0, Anchor::middle};
    for (int degrees = -180; degrees <= 180; degrees += 90) {
        double const x = x_of(at, degrees);
        draw_line(drawing, {x, top}, {x, top + 5.0}, {1.0});
        draw_text(drawing, {x, top + 21.0}, typeset(std::to_string(degrees)) + "°", small);
    }
    bool const full = size == DrawingSize::full;
    auto const words = [&](double x, std::string_view text) {
        draw_text(drawing, {x, top + 42.0}, text, small);
    };
    words(x_of(at, -90), full ? "\u2190 current leads" : "\u2190 leads");
    words(x_of(at, 90), full ? "current lags \u2192" : "lags \u2192");
}

}  // namespace

std::vector<RulerElement> ruler_elements(report::PointSheet const& sheet, plan::Region const& region) {
    std::vector<RulerElement> elements;
    if (!sheet.verdict || !sheet.readings) return elements;
    auto const& verdict = *sheet.verdict;
    auto const model = readings::model_of(*sheet.readings);
    auto const names = report::element_names(sheet, region);
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        RulerElement element;
        element.letter = names[k].voltage;
        element.pattern = pattern_of_phase(k);
        if (k < verdict.as_read.size()) element.lag_deg = report::lag_of(verdict.as_read[k]);
        element.expected_deg = entry(verdict.expected_lag_deg, k);
        element.half_width_deg = entry(verdict.expected_lag_half_width_deg, k).value_or(0.0);
        element.right = entry(verdict.element_right, k);
        int const input = model.elements[k].current_input;
        if (input != plan::derived_current)
            element.copies = copies_for(model.current_inputs[static_cast<std::size_t>(input)], model,
                                        sheet.readings->nominal, sequence_of(sheet), region);
        elements.push_back(element);
    }
    return elements;
}

Drawing turn_ruler(std::vector<RulerElement> const& elements, DrawingSize size) {
    auto const at = layout_of(size);
    double const top_words = 20.0;
    double const foot = top_words + at.first_axis +
                        at.row * static_cast<double>(std::max<std::size_t>(elements.size(), 1)) - 46.0;
    Drawing drawing{.width = at.width, .height = foot + 50.0};
    draw_text(drawing, {at.width - 4.0, 15.0}, "paired right",
              {size == DrawingSize::full ? 14.0 : 15.0, Anchor::end});
    double axis = top_words + at.first_axis - 8.0;
    for (auto const& element : elements) {
        draw_element(drawing, at, axis, element, size);
        axis += at.row;
    }
    draw_foot(drawing, at, foot, size);
    return drawing;
}

std::string turn_ruler_svg(report::PointSheet const& sheet, plan::Region const& region, DrawingSize size) {
    auto const elements = ruler_elements(sheet, region);
    if (elements.empty()) return {};
    return svg_of(turn_ruler(elements, size),
                  "Turn ruler: by how much each element's current lags its voltage",
                  size == DrawingSize::full ? "ruler full" : "ruler compact");
}

}  // namespace phasewright::sheet
