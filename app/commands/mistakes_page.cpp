#include "app/commands/mistakes_page.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <map>
#include <numbers>
#include <vector>

#include <fmt/core.h>

#include "core/diagnosis/differences.hpp"
#include "core/diagnosis/primitives.hpp"
#include "core/quantity/angle.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::commands {

namespace {
using Complex = std::complex<double>;

constexpr double amperes = 10.0;
constexpr double power_factor = 0.9;  // lagging, of the tables' V, A, W and var
constexpr double nothing = 1e-9;
constexpr double same_volts = 0.1;  // volts within a tenth of the plan's could be the supply's own
constexpr double same_deg = 1e-6;

struct Example {
    plan::ServiceModel model;
    plan::Nominal nominal;
    plan::SourcePhasors u;
    wiring::Currents per_ampere;  // balanced, power factor 1, 1 A
};

plan::Nominal nominal_of(plan::Service service) {
    switch (service) {
        case plan::Service::split_phase_three_wire: return {120.0, 240.0, 60.0};
        case plan::Service::two_phases_of_wye: return plan::nominal_from_ln(service, 120.0, 60.0);
        case plan::Service::high_leg_delta: return {120.0, 240.0, 60.0};
        case plan::Service::corner_earthed_delta: return {0.0, 480.0, 60.0};
        case plan::Service::three_wire_three_ct:
        case plan::Service::three_wire_two_element:
        case plan::Service::three_wire_two_ct: return {0.0, 400.0, 50.0};
        default: return plan::nominal_from_ln(service, 230.0, 50.0);
    }
}

// Three wires and more: the currents stand with the voltages to the centre of the three; otherwise with those
// to the neutral.
Example example_of(plan::Service service) {
    Example example{.model = plan::model_of(service), .nominal = nominal_of(service)};
    example.u = plan::source_phasors(example.model, example.nominal, plan::Sequence::abc);
    Complex const centre =
        example.model.live.size() == 3 ? (example.u[0] + example.u[1] + example.u[2]) / 3.0 : Complex{};
    for (auto const conductor : example.model.live) {
        auto const k = static_cast<std::size_t>(conductor);
        auto const to_centre = example.u[k] - centre;
        example.per_ampere[k] = to_centre / std::abs(to_centre);
    }
    return example;
}

wiring::Currents currents_at(Example const& example, double lag_rad) {
    auto currents = example.per_ampere;
    for (auto& current : currents) current *= std::polar(amperes, -lag_rad);
    return currents;
}

Complex registered(wiring::Wiring const& wiring, Example const& example, double lag_rad) {
    Complex sum{};
    auto const seen = wiring::seen_by(wiring, example.model);
    for (auto const& element : wiring::elements_of(seen, example.u, currents_at(example, lag_rad)))
        sum += element.s;
    return sum;
}

// S' = e^{j phi} C for every phi, so the share follows from one evaluation at phi = 0.
ShareLaw law_of(wiring::Wiring const& wiring, Example const& example) {
    double const truth = wiring::true_power(example.u, currents_at(example, 0.0)).real();
    auto const c = registered(wiring, example, 0.0);
    return {c.real() / truth, -c.imag() / truth};
}

std::string rounded(double value) {
    double const whole = std::round(value);
    return fmt::format("{:.0f}", whole == 0.0 ? 0.0 : whole);
}

std::string share(double value) {
    auto text = fmt::format("{:.3f}", std::abs(value) < 5e-4 ? 0.0 : value);
    if (text.front() == '-') text.replace(0, 1, "−");
    return text;
}

template <class Value>
std::string per_element(std::vector<wiring::ElementSeen> const& elements, Value const& value) {
    std::string text;
    for (std::size_t k = 0; k < elements.size(); ++k) {
        auto one = value(elements[k], k);
        if (one.front() == '-') one.replace(0, 1, "−");
        text += (k == 0 ? "" : " · ") + one;
    }
    return text;
}

std::optional<double> lag_deg(wiring::ElementSeen const& element) {
    if (std::abs(element.v) < nothing || std::abs(element.i) < nothing) return std::nullopt;
    return (std::arg(element.v) - std::arg(element.i)) * 180.0 / std::numbers::pi;
}

bool currents_tell(Example const& example, std::vector<wiring::ElementSeen> const& elements) {
    if (!example.model.currents_sum_to_zero || example.model.current_inputs.size() < 3) return false;
    Complex sum{};
    for (auto const& element : elements) sum += element.i;
    return std::abs(sum) > 0.01 * amperes;
}

std::string like_load_at(double turn_deg) {
    double const lag = std::acos(power_factor) * 180.0 / std::numbers::pi + turn_deg;
    auto text = fmt::format("{:.0f}°", quantity::wrapped_deg(lag));
    if (text.front() == '-') text.replace(0, 1, "−");
    if (std::abs(std::abs(quantity::wrapped_deg(turn_deg)) - 180.0) < same_deg) return "looks like export";
    return "looks like a load at " + text;
}

// What one snapshot of V, A, W and var tells of it, whatever the load: volts that are not the plan's; a
// current that is not there; elements turned against each other. What turns or scales all elements alike is
// also what another load would show.
std::string shown_by(Example const& example, std::vector<wiring::ElementSeen> const& planned,
                     std::vector<wiring::ElementSeen> const& now) {
    std::optional<double> turn, size;
    bool dead = false, turned_apart = false, sized_apart = false, all_dead = true;
    for (std::size_t k = 0; k < now.size(); ++k) {
        if (std::abs(std::abs(now[k].v) - std::abs(planned[k].v)) > same_volts * std::abs(planned[k].v))
            return "yes: volts";
        all_dead = all_dead && std::abs(now[k].i) < nothing;
    }
    if (all_dead) return "looks like no load";
    if (currents_tell(example, now)) return "yes: currents do not sum to zero";
    for (std::size_t k = 0; k < now.size(); ++k) {
        auto const before = lag_deg(planned[k]), after = lag_deg(now[k]);
        if (!before || !after) {
            dead = true;
            continue;
        }
        double const by = quantity::wrapped_deg(*after - *before);
        double const times = std::abs(now[k].i) / std::abs(planned[k].i);
        turned_apart = turned_apart || (turn && std::abs(quantity::wrapped_deg(by - *turn)) > same_deg);
        sized_apart = sized_apart || (size && std::abs(times / *size - 1.0) > 1e-9);
        if (!turn) turn = by;
        if (!size) size = times;
    }
    if (turned_apart) return "yes: the elements disagree";
    if (dead) return "looks like an unloaded phase";
    if (turn && std::abs(*turn) > same_deg) return like_load_at(*turn);
    if (sized_apart) return "looks like an uneven load";
    if (size && std::abs(*size - 1.0) > 1e-9)
        return *size > 1.0 ? "looks like a larger load" : "looks like a smaller load";
    return "no: it reads as a right wiring";
}

struct Row {
    std::string words;
    wiring::Wiring wiring;
};

// Every one of them, on a point where all are possible: voltage transformers stand before the meter, CTs are
// current loops, and nobody told which service the meter is set to.
diagnosis::PointFacts everything_possible(plan::ServiceModel const& model) {
    diagnosis::PointFacts facts{.voltage_transformers = true, .raw_coil_odds = 1.0};
    facts.two_elements_odds = model.service == plan::Service::four_wire_wye ? 1.0 : 0.0;
    return facts;
}

std::vector<wiring::Wiring> single_mistakes(plan::ServiceModel const& model) {
    auto const odds = diagnosis::odds_for({});
    auto const facts = everything_possible(model);
    diagnosis::RatioSetting const right{1.0, 1.0, 1.0};
    auto const taps = diagnosis::planned_taps(model);
    auto const currents = diagnosis::planned_currents(model);
    std::vector<wiring::Wiring> list;
    for (auto const& primitive : diagnosis::current_primitives(model, odds, facts)) {
        auto current = currents;
        diagnosis::apply(primitive, model, current);
        list.push_back(diagnosis::wiring_of(model, taps, current, right));
    }
    for (auto const& primitive : diagnosis::tap_primitives(model, odds, facts)) {
        auto tap = taps;
        diagnosis::apply(primitive, model, tap);
        list.push_back(diagnosis::wiring_of(model, tap, currents, right));
    }
    for (auto const& primitive : diagnosis::ratio_primitives(model, odds, facts)) {
        // Wrong ratios are as many as there are standard primaries: twice and half stand for them.
        if (primitive.quotient != 2.0 && primitive.quotient != 0.5) continue;
        auto ratio = right;
        for (std::size_t k = 0; k < ratio.size(); ++k)
            if (primitive.at < 0 || static_cast<std::size_t>(primitive.at) == k)
                ratio[k] = primitive.quotient;
        list.push_back(diagnosis::wiring_of(model, taps, currents, ratio));
    }
    return list;
}

std::vector<Row> rows_of(Example const& example) {
    auto const& model = example.model;
    diagnosis::Names const names{plan::default_terminals(model), {}};
    std::vector<Row> rows;
    for (auto const& wiring : single_mistakes(model)) {
        if (std::ranges::any_of(rows, [&](Row const& row) { return row.wiring == wiring; })) continue;
        rows.push_back(
            {diagnosis::in_words(diagnosis::differences_of(wiring, model), wiring, model, names), wiring});
    }
    return rows;
}

std::vector<wiring::ElementSeen> as_shown(Row const& row, wiring::Seen const& seen, Example const& example,
                                          double lag) {
    auto elements = wiring::elements_of(seen, example.u, currents_at(example, lag));
    if (!row.wiring.vars_turned) return elements;
    for (auto& element : elements) {
        element.s = std::conj(element.s);
        if (std::abs(element.v) > nothing) element.i = std::conj(element.s / element.v);
    }
    return elements;
}

std::string row_text(Row const& row, Example const& example,
                     std::vector<wiring::ElementSeen> const& planned) {
    double const lag = std::acos(power_factor);
    auto const seen = wiring::seen_by(row.wiring, example.model);
    auto const now = as_shown(row, seen, example, lag);
    auto const law = law_of(row.wiring, example);
    auto const volts = per_element(now, [&](auto const& e, std::size_t k) {
        return seen.voltage_lost[k] ? std::string{"stray"} : rounded(std::abs(e.v));
    });
    auto const amps = per_element(now, [](auto const& e, std::size_t) { return rounded(std::abs(e.i)); });
    auto const watts = per_element(now, [](auto const& e, std::size_t) { return rounded(e.s.real()); });
    auto const vars = per_element(now, [](auto const& e, std::size_t) { return rounded(e.s.imag()); });
    return fmt::format("| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |\n", row.words, volts, amps, watts,
                       vars, share(law.at_power_factor(1.0)), share(law.at_power_factor(0.9)),
                       share(law.at_power_factor(0.5)), words_of(law),
                       // The example's load is balanced, and only a balanced load hides it.
                       row.wiring.supply_neutral_broken ? "stop: volts go apart with the loads"
                                                        : shown_by(example, planned, now));
}

std::string volts_words(Example const& example) {
    auto const& n = example.nominal;
    if (!example.model.has_neutral) return fmt::format("{:.0f} V between lines", n.v_ll);
    if (example.model.terminals.size() < 2) return fmt::format("{:.0f} V to neutral", n.v_ln);
    return fmt::format("{:.0f} V to neutral, {:.0f} V between lines", n.v_ln, n.v_ll);
}

std::string section_of(plan::Service service) {
    auto const example = example_of(service);
    auto const& model = example.model;
    auto const right = wiring::as_planned(model);
    auto const planned = wiring::elements_of(wiring::seen_by(right, model), example.u,
                                             currents_at(example, std::acos(power_factor)));
    std::string text =
        fmt::format("\n## {}: {}\n\n{}, {:.0f} A a conductor. {} a column: {}.\n\n", plan::code_of(service),
                    plan::words_of(service), volts_words(example), amperes,
                    planned.size() == 1 ? "One value" : fmt::format("{} values", planned.size()),
                    planned.size() == 1 ? "the one element" : "one an element, in the meter's order");
    text +=
        "| mistake | V | A | W | var | share at PF 1 | 0.9 | 0.5 | law | does one snapshot show it? |\n"
        "|---|---|---|---|---|---|---|---|---|---|\n";
    text += row_text({"*none*", right}, example, planned);
    for (auto const& row : rows_of(example)) text += row_text(row, example, planned);
    return text;
}

constexpr auto head = R"(# What each mistake does to the readings

`phasewright mistakes` wrote this page: every mistake that the diagnosis weighs, made alone on a right wiring, sent through the
wiring model (`core/wiring`), and read as a meter would show it. A test compares the page with the program. Sets of up to three
mistakes are weighed too; they are products of these.

- The load is balanced, its current lags by φ; V, A, W and var are at power factor 0.9 lagging, sequence a-b-c, rated volts.
- *Share* is registered over true power, at power factor 1, 0.9 and 0.5 lagging; *law* is the same for every φ. For a leading
  load φ is negative. 1 is right, 0 is a meter that stands still, a negative share runs backwards.
- *Stray*: a lost voltage shows anything from nothing to a good part of rated, fed back through whatever hangs on the dead
  lead; the W and var beside it are those of an input held at its neutral, or between its live neighbours.
- *Does one snapshot show it?* "Yes": volts that are not the plan's, or elements turned against each other as no ordinary load
  turns them (one phase that feeds back while the others draw is not ordinary, but the program weighs it too). "Looks like":
  some load on a right wiring shows the same, so the program weighs how likely that load is and says what to measure next.
  "No": the readings are those of a right wiring. On an unbalanced supply a lost neutral shows, too.
- Wrong ratios stand for all: programmed over installed r on all CTs gives the share r; on one of three alike (2 + r)/3.
- Two loops that became one are shown as half their vector sum or difference, which holds only while no core saturates: both
  elements then still show one current, of any size, so no share is to be trusted. **Stop**: the pair is as dangerous as an
  open loop.
- A raw coil is shown with the gain of a right CT; its true gain is anything.
- A current that is not there may be an open loop: **stop**, whatever the share (see [readings](readings.md), `findings`).

The laws are derived in [docs/physics](../physics/README.md); `cases/worked` holds them as tests with their sources.
)";
}  // namespace

double ShareLaw::at_power_factor(double lagging) const {
    return constant + slope * std::tan(std::acos(lagging));
}

std::optional<std::string> as_surd(double x) {
    if (std::abs(x) < 1e-9) return "0";
    std::string const sign = x < 0.0 ? "−" : "";
    double const size = std::abs(x);
    auto const near = [](double value) { return std::abs(value - std::round(value)) < 1e-9; };
    for (int below = 1; below <= 12; ++below)
        if (double const above = size * below; near(above))
            return below == 1 ? fmt::format("{}{:.0f}", sign, above)
                              : fmt::format("{}{:.0f}/{}", sign, above, below);
    for (int below = 1; below <= 18; ++below) {
        double const above = size * below / std::numbers::sqrt3;
        if (!near(above)) continue;
        if (below % 3 == 0 && below / 3 == 1) return fmt::format("{}{:.0f}/√3", sign, above);
        if (below % 3 == 0) return fmt::format("{}{:.0f}/({}√3)", sign, above, below / 3);
        auto const times = std::round(above) == 1.0 ? std::string{} : fmt::format("{:.0f}", above);
        return below == 1 ? fmt::format("{}{}√3", sign, times) : fmt::format("{}{}√3/{}", sign, times, below);
    }
    return std::nullopt;
}

std::string words_of(ShareLaw const& law) {
    auto const number = [](double x) {
        auto text = as_surd(x).value_or(fmt::format("{:.4f}", x));
        if (text.front() == '-') text.replace(0, 1, "−");
        return text;
    };
    bool const constant = std::abs(law.constant) > 1e-9, slope = std::abs(law.slope) > 1e-9;
    if (!slope) return number(law.constant);
    auto const factor = number(std::abs(law.slope));
    std::string const tangent = factor == "1" ? "tan φ" : factor + " · tan φ";
    if (!constant) return (law.slope < 0.0 ? "−" : "") + tangent;
    return number(law.constant) + (law.slope < 0.0 ? " − " : " + ") + tangent;
}

std::string mistakes_page() {
    std::string page = head;
    for (auto const service : plan::all_services) page += section_of(service);
    return page;
}

}  // namespace phasewright::commands
