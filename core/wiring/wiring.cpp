#include "core/wiring/wiring.hpp"

namespace phasewright::wiring {

Touch touch_of(plan::Conductor conductor) { return static_cast<Touch>(conductor); }

std::string word_of(Touch touch) {
    if (touch == Touch::lost) return "lost";
    return {plan::letter_of(static_cast<plan::Conductor>(touch))};
}

std::string word_of(Feed const& feed) {
    if (feed.dead) return "dead";
    auto const signed_letter = [](int sign, std::string const& factor, plan::Conductor conductor) {
        return (sign > 0 ? "+" : "-") + factor + plan::letter_of(conductor);
    };
    if (feed.with) return signed_letter(feed.sign, "0.5", feed.conductor) + signed_letter(feed.with_sign, "0.5", *feed.with);
    return (feed.quarter_turn ? "j" : "") + signed_letter(feed.sign, "", feed.conductor);
}

Wiring as_planned(plan::ServiceModel const& model) {
    Wiring wiring;
    for (auto const conductor : model.terminals) wiring.voltage.push_back(touch_of(conductor));
    if (model.has_neutral) wiring.neutral = Touch::n;
    for (auto const conductor : model.current_inputs) wiring.current.push_back({conductor, +1, false});
    wiring.ratio.assign(model.current_inputs.size(), 1.0);
    return wiring;
}

namespace {
// The potential of a landed terminal as a row over the conductors.
Row4 row_of(Touch touch) {
    Row4 row{};
    row[static_cast<std::size_t>(touch)] = 1.0;
    return row;
}
void add(Row4& row, Row4 const& other, double factor) {
    for (std::size_t k = 0; k < row.size(); ++k) row[k] += factor * other[k];
}
bool is_lost(Wiring const& wiring, int terminal) {
    return wiring.voltage[static_cast<std::size_t>(terminal)] == Touch::lost;
}
// The mean of the live taps: the star point of equal inputs whose common end floats.
Row4 star_of(Wiring const& wiring) {
    Row4 star{};
    double live = 0.0;
    for (auto const touch : wiring.voltage) live += touch == Touch::lost ? 0.0 : 1.0;
    if (live == 0.0) return star;
    for (auto const touch : wiring.voltage)
        if (touch != Touch::lost) add(star, row_of(touch), 1.0 / live);
    return star;
}

Row4 minus_side(Wiring const& wiring, plan::ElementPlan const& element) {
    if (element.minus == plan::to_star_point) return star_of(wiring);
    if (element.minus == plan::to_neutral_terminal)
        return wiring.neutral && *wiring.neutral != Touch::lost ? row_of(*wiring.neutral) : star_of(wiring);
    return row_of(wiring.voltage[static_cast<std::size_t>(element.minus)]);
}

// Elements that share a common terminal: with the common lost, their equal inputs meet at a floating point that stands
// at the mean of their live taps. Two elements then see half of the voltage across the outer taps each.
Row4 floating_common(Wiring const& wiring, plan::ServiceModel const& model, int common) {
    Row4 mean{};
    double live = 0.0;
    for (auto const& element : model.elements)
        if (element.minus == common && !is_lost(wiring, element.plus)) live += 1.0;
    for (auto const& element : model.elements)
        if (element.minus == common && !is_lost(wiring, element.plus))
            add(mean, row_of(wiring.voltage[static_cast<std::size_t>(element.plus)]), 1.0 / live);
    return mean;
}

Row3 row_of(Feed const& feed, double ratio) {
    Row3 row{};
    if (feed.dead) return row;
    double const share = feed.with ? 0.5 : 1.0;
    std::complex<double> const turn = feed.quarter_turn ? std::complex<double>{0.0, 1.0} : 1.0;
    row[static_cast<std::size_t>(feed.conductor)] = share * feed.sign * ratio * turn;
    if (feed.with) row[static_cast<std::size_t>(*feed.with)] += share * feed.with_sign * ratio;
    return row;
}
}  // namespace

namespace {
// A meter that computes as two elements shows the outer taps against the middle one, and nothing on its second element.
plan::ServiceModel computed_as_two_elements(plan::ServiceModel model) {
    model.elements[0].minus = 1;
    model.elements[1].minus = 1;
    model.elements[2].minus = 1;
    return model;
}

// What the voltage transformers make of the rows: a secondary back to front turns the potential of its terminal.
void pass_transformers(Wiring const& wiring, plan::ServiceModel const& model, Seen& seen) {
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        auto const terminal = static_cast<std::size_t>(model.elements[k].plus);
        double const sign = wiring.vt_sign.empty() ? 1.0 : wiring.vt_sign[terminal];
        for (auto& entry : seen.voltage[k]) entry *= sign * wiring.vt_ratio;
    }
}
}  // namespace

Seen seen_by(Wiring const& wiring, plan::ServiceModel const& planned_model) {
    auto const model = wiring.two_elements ? computed_as_two_elements(planned_model) : planned_model;
    Seen seen{.elements = model.elements.size()};
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        auto const& element = model.elements[k];
        bool const common_lost = element.minus >= 0 && is_lost(wiring, element.minus);
        seen.voltage_lost[k] = is_lost(wiring, element.plus);
        if (!seen.voltage_lost[k]) {
            seen.voltage[k] = row_of(wiring.voltage[static_cast<std::size_t>(element.plus)]);
            add(seen.voltage[k],
                common_lost ? floating_common(wiring, model, element.minus) : minus_side(wiring, element), -1.0);
        }
        if (element.current_input == plan::derived_current) continue;
        auto const input = static_cast<std::size_t>(element.current_input);
        seen.current[k] = row_of(wiring.current[input], wiring.ratio[input]);
        seen.current_dead[k] = wiring.current[input].dead;
    }
    pass_transformers(wiring, model, seen);
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (model.elements[k].current_input != plan::derived_current) continue;
        for (std::size_t other = 0; other < model.elements.size(); ++other)
            if (other != k)
                for (std::size_t j = 0; j < 3; ++j) seen.current[k][j] -= seen.current[other][j];
    }
    return seen;
}

std::vector<ElementSeen> elements_of(Seen const& seen, plan::SourcePhasors const& u, Currents const& j) {
    std::vector<ElementSeen> elements(seen.elements);
    for (std::size_t k = 0; k < seen.elements; ++k) {
        for (std::size_t c = 0; c < 4; ++c) elements[k].v += seen.voltage[k][c] * u[c];
        for (std::size_t c = 0; c < 3; ++c) elements[k].i += seen.current[k][c] * j[c];
        elements[k].s = elements[k].v * std::conj(elements[k].i);
    }
    return elements;
}

std::complex<double> true_power(plan::SourcePhasors const& u, Currents const& j) {
    std::complex<double> sum = 0.0;
    for (std::size_t c = 0; c < 3; ++c) sum += u[c] * std::conj(j[c]);
    return sum;
}

}  // namespace phasewright::wiring
