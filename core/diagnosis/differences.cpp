#include "core/diagnosis/differences.hpp"

#include <algorithm>
#include <utility>

#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;

plan::Conductor conductor_of(Touch touch) { return static_cast<plan::Conductor>(touch); }

void tap_differences(wiring::Wiring const& wiring, plan::ServiceModel const& model, std::vector<Difference>& list) {
    auto touch = wiring.voltage;
    auto const planned = wiring::as_planned(model).voltage;
    auto neutral = wiring.neutral;
    for (std::size_t t = 0; t < touch.size(); ++t) {
        if (touch[t] == Touch::lost) {
            list.push_back({.piece = Piece::tap_lost, .at = t});
            touch[t] = planned[t];
        }
    }
    if (neutral == Touch::lost) {
        list.push_back({.piece = Piece::neutral_lost});
        neutral = Touch::n;
    }
    for (std::size_t t = 0; t < touch.size(); ++t)
        if (neutral && touch[t] == Touch::n && *neutral == planned[t]) {
            list.push_back({.piece = Piece::tap_on_neutral, .at = t});
            std::swap(touch[t], *neutral);
        }
    for (std::size_t t = 0; t < touch.size(); ++t)
        for (std::size_t other = t + 1; other < touch.size(); ++other)
            if (touch[t] == planned[other] && touch[other] == planned[t] && touch[t] != planned[t]) {
                list.push_back({.piece = Piece::taps_exchanged, .at = t, .other = other});
                std::swap(touch[t], touch[other]);
            }
    bool const all_off = touch.size() == 3 && touch[0] != planned[0] && touch[1] != planned[1] && touch[2] != planned[2];
    bool const permuted = touch.size() == 3 && std::ranges::is_permutation(touch, planned);
    if (all_off && permuted) {
        list.push_back({.piece = Piece::taps_rotated});
        touch = planned;
    }
    for (std::size_t t = 0; t < touch.size(); ++t)
        if (touch[t] != planned[t])
            list.push_back({.piece = Piece::tap_elsewhere, .at = t, .conductor = conductor_of(touch[t])});
    if (neutral && *neutral != Touch::n)
        list.push_back({.piece = Piece::neutral_elsewhere, .conductor = conductor_of(*neutral)});
}

void current_differences(wiring::Wiring const& wiring, plan::ServiceModel const& model, std::vector<Difference>& list) {
    auto feed = wiring.current;
    auto const& planned = model.current_inputs;
    std::size_t const inputs = feed.size();
    std::vector<std::size_t> joined;
    for (std::size_t k = 0; k < inputs; ++k)
        if (feed[k].with) joined.push_back(k);
    if (joined.size() == 2) {
        double const sense = feed[joined[0]].sign * feed[joined[0]].with_sign;
        list.push_back({.piece = Piece::loops_joined, .at = joined[0], .other = joined[1], .value = sense});
        for (auto const k : joined) feed[k] = {planned[k], +1, false};
    }
    std::size_t dead = 0;
    for (auto const& f : feed) dead += f.dead ? 1 : 0;
    if (inputs > dead && std::ranges::any_of(feed, &wiring::Feed::quarter_turn)) list.push_back({.piece = Piece::raw_coil});
    if (dead == inputs && inputs > 1) {
        list.push_back({.piece = Piece::all_dead});
        return;
    }
    for (std::size_t k = 0; k < inputs; ++k)
        for (std::size_t other = k + 1; other < inputs; ++other)
            if (!feed[k].dead && !feed[other].dead && feed[k].conductor == planned[other] &&
                feed[other].conductor == planned[k] && planned[k] != planned[other]) {
                list.push_back({.piece = Piece::inputs_exchanged, .at = k, .other = other});
                std::swap(feed[k], feed[other]);
            }
    bool rotated = inputs == 3 && dead == 0;
    for (std::size_t k = 0; k < inputs && rotated; ++k)
        rotated = feed[k].conductor != planned[k] && feed[k].conductor != feed[(k + 1) % inputs].conductor;
    if (rotated) {
        list.push_back({.piece = Piece::inputs_rotated});
        auto const turned = feed;
        for (std::size_t k = 0; k < inputs; ++k)
            for (auto const& f : turned)
                if (f.conductor == planned[k]) feed[k] = f;
    }
    std::size_t reversed = 0;
    for (std::size_t k = 0; k < inputs; ++k) {
        if (feed[k].dead) {
            list.push_back({.piece = Piece::input_dead, .at = k});
            continue;
        }
        if (feed[k].conductor != planned[k])
            list.push_back({.piece = Piece::ct_elsewhere, .at = k, .conductor = feed[k].conductor});
        reversed += feed[k].sign < 0 ? 1 : 0;
    }
    if (reversed > 1 && reversed + dead == inputs) {
        list.push_back({.piece = Piece::all_reversed});
        return;
    }
    for (std::size_t k = 0; k < inputs; ++k)
        if (!feed[k].dead && feed[k].sign < 0) list.push_back({.piece = Piece::input_reversed, .at = k});
}

void setting_differences(wiring::Wiring const& wiring, std::vector<Difference>& list) {
    for (std::size_t t = 0; t < wiring.vt_sign.size(); ++t)
        if (wiring.vt_sign[t] < 0) list.push_back({.piece = Piece::vt_reversed, .at = t});
    if (wiring.vt_ratio != 1.0) list.push_back({.piece = Piece::vt_ratio, .value = wiring.vt_ratio});
    if (wiring.two_elements) list.push_back({.piece = Piece::two_element_setting});
    if (wiring.vars_turned) list.push_back({.piece = Piece::vars_turned});
}

void ratio_differences(wiring::Wiring const& wiring, std::vector<Difference>& list) {
    auto const& ratio = wiring.ratio;
    if (ratio.empty()) return;
    bool const same = std::ranges::adjacent_find(ratio, std::not_equal_to{}) == ratio.end();
    if (same && ratio[0] != 1.0) {
        list.push_back({.piece = ratio.size() > 1 ? Piece::ratio_of_all : Piece::ratio_of_one, .value = ratio[0]});
        return;
    }
    for (std::size_t k = 0; k < ratio.size(); ++k)
        if (ratio[k] != 1.0) list.push_back({.piece = Piece::ratio_of_one, .at = k, .value = ratio[k]});
}

std::string times_text(double value) { return quantity::fixed(value, value < 1.0 ? 3 : 2) + " times"; }

// "L1 gets L2, L2 gets L3, L3 gets L1"
std::string rotation_text(std::vector<plan::Conductor> const& planned, std::vector<plan::Conductor> const& got, Names const& names) {
    std::vector<std::string> parts;
    for (std::size_t k = 0; k < planned.size(); ++k)
        parts.push_back(names.conductor(planned[k]) + " gets " + names.conductor(got[k]));
    return quantity::joined(parts, ", ");
}

std::string words_of(Difference const& d, wiring::Wiring const& wiring, plan::ServiceModel const& model, Names const& names) {
    auto const phase = [&](std::size_t input) { return names.conductor(model.current_inputs[input]); };
    auto const terminal = [&](std::size_t t) { return names.terminals.voltage[t]; };
    switch (d.piece) {
        case Piece::taps_exchanged: return "voltage leads at " + terminal(d.at) + " and " + terminal(d.other) + " are exchanged";
        case Piece::taps_rotated: {
            std::vector<plan::Conductor> got;
            for (auto const touch : wiring.voltage) got.push_back(conductor_of(touch));
            return "voltage leads are rotated: " + rotation_text(model.terminals, got, names);
        }
        case Piece::tap_elsewhere:
            return "voltage terminal " + terminal(d.at) + " is on " + names.conductor(d.conductor) + " in place of " +
                   names.conductor(model.terminals[d.at]);
        case Piece::tap_on_neutral: return "voltage lead at " + terminal(d.at) + " and the neutral lead are exchanged";
        case Piece::tap_lost: return names.conductor(model.terminals[d.at]) + " voltage is lost at " + terminal(d.at);
        case Piece::neutral_lost: return "the meter's neutral is lost";
        case Piece::neutral_elsewhere: return "the meter's neutral terminal is on " + names.conductor(d.conductor);
        case Piece::inputs_exchanged: return phase(d.at) + " and " + phase(d.other) + " currents are exchanged";
        case Piece::inputs_rotated: {
            std::vector<plan::Conductor> got;
            for (auto const& feed : wiring.current) got.push_back(feed.conductor);
            return "currents are rotated: " + rotation_text(model.current_inputs, got, names);
        }
        case Piece::ct_elsewhere: return "the CT of the " + phase(d.at) + " input is on " + names.conductor(d.conductor);
        case Piece::input_reversed: return phase(d.at) + " current is reversed";
        case Piece::all_reversed: return "all currents are reversed";
        case Piece::input_dead: return phase(d.at) + " current input gets nothing";
        case Piece::all_dead: return "no current input gets anything";
        case Piece::ratio_of_one: return phase(d.at) + " shows " + times_text(d.value) + " the true current";
        case Piece::ratio_of_all: return "all inputs show " + times_text(d.value) + " the true current";
        case Piece::loops_joined: return "the secondary leads of " + phase(d.at) + " and " + phase(d.other) + " are mis-paired: their two loops have become one, " +
                                         (d.value > 0.0 ? "aiding each other" : "against each other");
        case Piece::raw_coil: return "a raw coil feeds inputs made for a voltage-output CT: watts show as var";
        case Piece::vars_turned: return "the meter's reactive power has the other sign than it was said to have";
        case Piece::vt_reversed: return "the voltage transformer at " + terminal(d.at) + " is back to front";
        case Piece::vt_ratio: return "all voltages show " + times_text(d.value) + " the true voltage";
        case Piece::supply_neutral_broken: return "the neutral of the supply is broken";
        case Piece::two_element_setting: return "the meter is set to compute two elements";
    }
    return {};
}
}  // namespace

std::vector<Difference> differences_of(wiring::Wiring const& wiring, plan::ServiceModel const& model) {
    std::vector<Difference> list;
    if (wiring.supply_neutral_broken) list.push_back({.piece = Piece::supply_neutral_broken});
    tap_differences(wiring, model, list);
    current_differences(wiring, model, list);
    ratio_differences(wiring, list);
    setting_differences(wiring, list);
    return list;
}

std::string in_words(std::vector<Difference> const& differences, wiring::Wiring const& wiring,
                     plan::ServiceModel const& model, Names const& names) {
    if (differences.empty()) return "wired as planned";
    std::vector<std::string> parts;
    for (auto const& difference : differences) parts.push_back(words_of(difference, wiring, model, names));
    return quantity::joined(parts, "; ");
}

}  // namespace phasewright::diagnosis
