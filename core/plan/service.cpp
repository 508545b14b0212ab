#include "core/plan/service.hpp"

#include <numbers>

#include "core/quantity/three_phase.hpp"

namespace phasewright::plan {

namespace {
struct ServiceName {
    Service service;
    std::string_view code;
    std::string_view words;
};
constexpr std::array<ServiceName, 10> names{{
    {Service::one_phase_two_wire, "1P2W", "one-phase two-wire"},
    {Service::split_phase_three_wire, "1P3W", "split-phase three-wire"},
    {Service::two_phases_of_wye, "2P3W", "two phases of a wye and neutral"},
    {Service::four_wire_wye, "3P4W", "three-phase four-wire wye"},
    {Service::three_wire_three_ct, "3P3W", "three-phase three-wire, three CTs"},
    {Service::three_wire_two_element, "3P3W-2E", "three-phase three-wire, two elements"},
    {Service::three_wire_two_ct, "3P3W-2CT", "three-phase three-wire, two CTs, third current derived"},
    {Service::four_wire_two_ct, "3P4W-2CT", "three-phase four-wire, two CTs, third current derived"},
    {Service::high_leg_delta, "3P4W-HL", "four-wire high-leg delta"},
    {Service::corner_earthed_delta, "3P3W-CE", "corner-earthed delta"},
}};
ServiceName const& name_of(Service service) { return names[static_cast<std::size_t>(service)]; }

std::complex<double> at_degrees(double magnitude, double degrees) {
    return std::polar(magnitude, degrees * std::numbers::pi / 180.0);
}
}  // namespace

std::string_view code_of(Service service) { return name_of(service).code; }
std::string_view words_of(Service service) { return name_of(service).words; }

std::optional<Service> service_of(std::string_view code) {
    for (auto const& name : names)
        if (name.code == code) return name.service;
    return std::nullopt;
}

char letter_of(Conductor conductor) { return "abcn"[static_cast<std::size_t>(conductor)]; }

std::optional<Conductor> conductor_of(std::string_view letter) {
    if (letter.size() != 1) return std::nullopt;
    auto const at = std::string_view{"abcn"}.find(letter.front());
    if (at == std::string_view::npos) return std::nullopt;
    return static_cast<Conductor>(at);
}

namespace {
using enum Conductor;

ServiceModel three_elements_to(int minus, Service service) {
    ServiceModel model{.service = service, .live = {a, b, c}, .terminals = {a, b, c}};
    model.has_neutral = minus == to_neutral_terminal;
    model.elements = {{0, minus, 0}, {1, minus, 1}, {2, minus, 2}};
    model.current_inputs = {a, b, c};
    model.line_pairs = {{0, 1}, {1, 2}, {2, 0}};
    return model;
}

ServiceModel two_elements(Service service) {
    ServiceModel model{.service = service, .live = {a, b, c}, .terminals = {a, b, c}};
    model.has_neutral = false;
    model.elements = {{0, 1, 0}, {2, 1, 1}};
    model.current_inputs = {a, c};
    model.currents_sum_to_zero = true;
    model.line_pairs = {{0, 1}, {1, 2}, {2, 0}};
    return model;
}

ServiceModel two_legs(Service service) {
    ServiceModel model{.service = service, .live = {a, b}, .terminals = {a, b}};
    model.elements = {{0, to_neutral_terminal, 0}, {1, to_neutral_terminal, 1}};
    model.current_inputs = {a, b};
    model.line_pairs = {{0, 1}};
    return model;
}

ServiceModel one_phase(std::vector<Branch> const& branches) {
    ServiceModel model{.service = Service::one_phase_two_wire, .live = {a}, .terminals = {a}};
    model.elements = {{0, to_neutral_terminal, 0}};
    model.current_inputs = {a};
    if (branches.empty()) return model;
    model.live.clear();
    model.terminals.clear();
    model.elements.clear();
    model.current_inputs.clear();
    for (auto const& branch : branches) {
        int terminal = 0;
        while (terminal < static_cast<int>(model.terminals.size()) &&
               model.terminals[static_cast<std::size_t>(terminal)] != branch.phase)
            ++terminal;
        if (terminal == static_cast<int>(model.terminals.size())) model.terminals.push_back(branch.phase);
        int const input = static_cast<int>(model.current_inputs.size());
        model.elements.push_back({terminal, to_neutral_terminal, input});
        model.current_inputs.push_back(branch.phase);
        model.live.push_back(branch.phase);
    }
    return model;
}
}  // namespace

ServiceModel model_of(Service service, ModelOptions const& options) {
    switch (service) {
        case Service::one_phase_two_wire: return one_phase(options.branches);
        case Service::split_phase_three_wire:
        case Service::two_phases_of_wye: return two_legs(service);
        case Service::four_wire_wye: return three_elements_to(to_neutral_terminal, service);
        case Service::three_wire_two_element:
        case Service::corner_earthed_delta: return two_elements(service);
        case Service::three_wire_three_ct: {
            auto model = three_elements_to(to_star_point, service);
            model.currents_sum_to_zero = true;
            return model;
        }
        case Service::three_wire_two_ct: {
            auto model = three_elements_to(to_star_point, service);
            model.currents_sum_to_zero = true;
            model.elements = {{0, to_star_point, 0}, {1, to_star_point, derived_current}, {2, to_star_point, 1}};
            model.current_inputs = {a, c};
            return model;
        }
        case Service::four_wire_two_ct: {
            auto model = three_elements_to(to_neutral_terminal, service);
            model.elements[2].current_input = derived_current;
            model.current_inputs = {a, b};
            model.currents_sum_to_zero = true;  // what the derived third current takes for granted
            return model;
        }
        case Service::high_leg_delta: {
            auto model = three_elements_to(to_neutral_terminal, service);
            model.high_leg = options.high_leg;
            return model;
        }
    }
    return {};
}

SourcePhasors source_phasors(ServiceModel const& model, Nominal const& nominal, Sequence sequence) {
    double const turn = sequence == Sequence::abc ? -120.0 : 120.0;
    double const phase_v = model.has_neutral ? nominal.v_ln : quantity::phase_from_line_v(nominal.v_ll);
    switch (model.service) {
        case Service::split_phase_three_wire:
            return {at_degrees(phase_v, 0.0), at_degrees(phase_v, 180.0), 0.0, 0.0};
        case Service::high_leg_delta: {
            // The leg before the high leg in the order of the phases, the high leg, the leg after it.
            auto const high = static_cast<std::size_t>(model.high_leg);
            auto const before = (high + 2) % 3;
            auto const after = (high + 1) % 3;
            SourcePhasors u{};
            u[before] = at_degrees(nominal.v_ln, 0.0);
            u[after] = at_degrees(nominal.v_ln, 180.0);
            u[high] = at_degrees(quantity::high_leg_v(nominal.v_ll), sequence == Sequence::abc ? -90.0 : 90.0);
            auto const zero = std::conj(u[0]) / std::abs(u[0]);
            for (auto& phasor : u) phasor *= zero;
            return u;
        }
        default:
            return {at_degrees(phase_v, 0.0), at_degrees(phase_v, turn), at_degrees(phase_v, -turn), 0.0};
    }
}

Nominal nominal_from_ln(Service service, double v_ln, double hz) {
    bool const two_to_one =
        service == Service::split_phase_three_wire || service == Service::high_leg_delta;
    return {v_ln, two_to_one ? 2.0 * v_ln : quantity::line_from_phase_v(v_ln), hz};
}

}  // namespace phasewright::plan
