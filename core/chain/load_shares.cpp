#include "core/chain/load_shares.hpp"

#include <algorithm>

namespace phasewright::chain {

namespace {
using Complex = std::complex<double>;

std::size_t index_of(plan::Conductor conductor) { return static_cast<std::size_t>(conductor); }

Complex element_volts(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                      plan::ElementPlan const& element) {
    auto const terminal = [&](int at) { return u[index_of(model.terminals[static_cast<std::size_t>(at)])]; };
    Complex const plus = terminal(element.plus);
    if (element.minus >= 0) return plus - terminal(element.minus);
    if (element.minus == plan::to_neutral_terminal) return plus - u[index_of(plan::Conductor::n)];
    Complex mean = 0.0;
    for (auto const conductor : model.terminals) mean += u[index_of(conductor)];
    return plus - mean / static_cast<double>(model.terminals.size());
}

// The same size on every conductor; against the centre of three live ones, against the neutral of fewer.
Complex balanced_current(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                         plan::Conductor conductor, quantity::Degrees lag) {
    Complex centre = u[index_of(plan::Conductor::n)];
    if (model.live.size() == 3 && model.service != plan::Service::one_phase_two_wire) {
        centre = 0.0;
        for (auto const live : model.live) centre += u[index_of(live)] / 3.0;
    }
    Complex const against = u[index_of(conductor)] - centre;
    return against / std::abs(against) * std::polar(1.0, -quantity::to_radians(lag).value);
}
}  // namespace

Complex LoadShares::of_input(std::size_t input) const {
    Complex sum = 0.0;
    for (std::size_t k = 0; k < elements; ++k) sum += of[k][input];
    return sum;
}
Complex LoadShares::of_element(std::size_t element) const {
    Complex sum = 0.0;
    for (std::size_t j = 0; j < inputs; ++j) sum += of[element][j];
    return sum;
}

LoadShares load_shares(plan::ServiceModel const& model, plan::Nominal const& nominal, quantity::Degrees lag) {
    auto const u = plan::source_phasors(model, nominal, plan::Sequence::abc);
    LoadShares shares{.elements = std::min(model.elements.size(), most_in_a_meter),
                      .inputs = std::min(model.current_inputs.size(), most_in_a_meter)};
    double total = 0.0;
    for (std::size_t k = 0; k < shares.elements; ++k) {
        auto const& element = model.elements[k];
        Complex const volts = element_volts(model, u, element);
        for (std::size_t j = 0; j < shares.inputs; ++j) {
            bool const derived = element.current_input == plan::derived_current;
            if (!derived && element.current_input != static_cast<int>(j)) continue;
            Complex const amps =
                balanced_current(model, u, model.current_inputs[j], lag) * (derived ? -1.0 : 1.0);
            shares.of[k][j] = volts * std::conj(amps);
            total += shares.of[k][j].real();
        }
    }
    for (auto& row : shares.of)
        for (auto& share : row) share /= total;
    return shares;
}

}  // namespace phasewright::chain
