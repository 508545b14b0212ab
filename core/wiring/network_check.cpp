#include <cmath>
#include <string>

#include "core/quantity/text.hpp"
#include "core/wiring/network.hpp"

namespace phasewright::wiring {
namespace {

using quantity::Fault;
using Checked = std::optional<Fault>;

std::string numbered(std::string_view list, std::size_t at) {
    return std::string{list} + "[" + std::to_string(at) + "]";
}

Checked not_positive(double value, std::string where, std::string_view unit) {
    if (std::isfinite(value) && value > 0.0) return std::nullopt;
    return Fault{
        .what = "a part of the secondary network is no positive number of " + std::string{unit},
        .where = std::move(where),
        .found = quantity::shortest(value),
        .allowed = "a number above zero",
        .remedy = "a joint without resistance is 0.001 ohm; an open one is a lead that lands nowhere"};
}

Checked not_passive(std::complex<double> ohm, std::string where) {
    bool const finite = std::isfinite(ohm.real()) && std::isfinite(ohm.imag());
    if (finite && ohm.real() >= 0.0 && std::abs(ohm) > 0.0) return std::nullopt;
    return Fault{.what = "an impedance of the secondary network is zero or gives power away",
                 .where = std::move(where),
                 .found = quantity::shortest(ohm.real()) + " + j " + quantity::shortest(ohm.imag()),
                 .allowed = "a resistance of zero or more, and not zero altogether",
                 .remedy = "look at the sign and the unit"};
}

Checked unknown_point(Network const& network, plan::ServiceModel const& model, Point point,
                      std::string where) {
    std::size_t count = 1;
    std::string_view name = "only index 0";
    switch (point.place) {
        case Place::earth:
        case Place::neutral_terminal:
        case Place::star_point: break;
        case Place::conductor:
            count = 4;
            name = "conductors 0 to 3";
            break;
        case Place::voltage_terminal:
            count = model.terminals.size();
            name = "a voltage terminal of the meter";
            break;
        case Place::ct_s1:
        case Place::ct_s2:
            count = network.cts.size();
            name = "a CT of the network";
            break;
        case Place::input_s1:
        case Place::input_s2:
            count = network.inputs.size();
            name = "a current input of the meter";
            break;
    }
    if (point.at >= 0 && static_cast<std::size_t>(point.at) < count) return std::nullopt;
    return Fault{.what = "a wire of the secondary network names a place that is not there",
                 .where = std::move(where),
                 .found = std::to_string(point.at),
                 .allowed = std::string{name} + ", from 0 to " + std::to_string(count - 1),
                 .remedy = "count from 0"};
}

Checked wrong_source(SecondarySource const& ct, std::string const& where) {
    for (double const turns : ct.through_window)
        if (!std::isfinite(turns)) return not_positive(turns, where + ".through_window", "turns");
    if (auto fault = not_positive(ct.winding_ohm, where + ".winding_ohm", "ohm")) return fault;
    if (!std::isfinite(ct.winding_h) || ct.winding_h < 0.0)
        return not_positive(ct.winding_h, where + ".winding_h", "henry");
    if (auto fault = not_positive(ct.rated_secondary_a, where + ".rated_secondary_a", "ampere")) return fault;
    if (auto fault = not_positive(ct.knee_share, where + ".knee_share", "rated currents")) return fault;
    if (ct.output == plan::CtOutput::coil) return not_positive(ct.mutual_h, where + ".mutual_h", "henry");
    if (auto fault = not_positive(ct.turns, where + ".turns", "turns")) return fault;
    if (ct.internal_burden_ohm != 0.0 || ct.output == plan::CtOutput::millivolts)
        if (auto fault = not_positive(ct.internal_burden_ohm, where + ".internal_burden_ohm", "ohm"))
            return fault;
    auto const magnetising = ct.magnetising_s;
    bool const finite = std::isfinite(magnetising.real()) && std::isfinite(magnetising.imag());
    if (finite && magnetising.real() >= 0.0 && magnetising.imag() <= 0.0 && std::abs(magnetising) > 0.0)
        return std::nullopt;
    return Fault{
        .what = "a current transformer has no magnetising admittance that a core could have",
        .where = where + ".magnetising_s",
        .found = quantity::shortest(magnetising.real()) + " + j " + quantity::shortest(magnetising.imag()),
        .allowed = "core loss of zero or more, an inductance (negative imaginary part), not both zero",
        .remedy = "1/R of the core loss minus j/(omega L)"};
}

Checked wrong_counts(Network const& network, plan::ServiceModel const& model) {
    if (auto fault = not_positive(network.hz, "hz", "hertz")) return fault;
    if (network.inputs.size() != model.current_inputs.size())
        return Fault{.what = "the network has another number of current inputs than the service's meter",
                     .where = "inputs",
                     .found = std::to_string(network.inputs.size()),
                     .allowed = std::to_string(model.current_inputs.size()),
                     .remedy = "begin with planned_network"};
    if (model.elements.size() > most_elements)
        return Fault{.what = "the service has more elements than a meter here can have",
                     .where = "elements",
                     .found = std::to_string(model.elements.size()),
                     .allowed = "at most " + std::to_string(most_elements),
                     .remedy = "split it over several metering points"};
    return std::nullopt;
}

Checked wrong_lead(Network const& network, plan::ServiceModel const& model, Lead const& lead,
                   std::string const& where) {
    if (auto fault = unknown_point(network, model, {Place::ct_s1, lead.ct}, where + ".ct")) return fault;
    if (auto fault = not_positive(lead.ohm, where + ".ohm", "ohm")) return fault;
    return lead.to ? unknown_point(network, model, *lead.to, where + ".to") : std::nullopt;
}

// Both ends of a part.
template <class Part>
Checked wrong_ends(Network const& network, plan::ServiceModel const& model, Part const& part,
                   std::string const& where) {
    if (auto fault = unknown_point(network, model, part.from, where + ".from")) return fault;
    return unknown_point(network, model, part.to, where + ".to");
}

Checked wrong_joints(Network const& network, plan::ServiceModel const& model) {
    for (std::size_t k = 0; k < network.links.size(); ++k) {
        auto const where = numbered("links", k);
        if (auto fault = wrong_ends(network, model, network.links[k], where)) return fault;
        if (auto fault = not_positive(network.links[k].contact_ohm, where + ".contact_ohm", "ohm"))
            return fault;
    }
    for (std::size_t k = 0; k < network.earths.size(); ++k) {
        auto const where = numbered("earths", k);
        if (auto fault = unknown_point(network, model, network.earths[k].at, where + ".at")) return fault;
        if (auto fault = not_positive(network.earths[k].ohm, where + ".ohm", "ohm")) return fault;
    }
    for (std::size_t k = 0; k < network.strays.size(); ++k) {
        auto const where = numbered("strays", k);
        if (auto fault = wrong_ends(network, model, network.strays[k], where)) return fault;
        if (auto fault = not_positive(network.strays[k].farad, where + ".farad", "farad")) return fault;
    }
    return std::nullopt;
}

Checked wrong_voltage_side(Network const& network, plan::ServiceModel const& model) {
    for (std::size_t k = 0; k < network.taps.size(); ++k) {
        auto const& tap = network.taps[k];
        auto const where = numbered("taps", k);
        if (auto fault = not_positive(tap.fuse_ohm, where + ".fuse_ohm", "ohm")) return fault;
        if (!tap.to) continue;
        if (auto fault = unknown_point(network, model, *tap.to, where + ".to")) return fault;
    }
    for (std::size_t k = 0; k < network.shunts.size(); ++k) {
        auto const where = numbered("shunts", k);
        if (auto fault = wrong_ends(network, model, network.shunts[k], where)) return fault;
        if (auto fault = not_passive(network.shunts[k].ohm, where + ".ohm")) return fault;
    }
    return std::nullopt;
}

}  // namespace

std::optional<quantity::Fault> fault_in(Network const& network, plan::ServiceModel const& model) {
    if (auto fault = wrong_counts(network, model)) return fault;
    for (std::size_t k = 0; k < network.cts.size(); ++k)
        if (auto fault = wrong_source(network.cts[k], numbered("cts", k))) return fault;
    for (std::size_t k = 0; k < network.leads.size(); ++k)
        if (auto fault = wrong_lead(network, model, network.leads[k], numbered("leads", k))) return fault;
    for (std::size_t k = 0; k < network.inputs.size(); ++k) {
        auto const where = numbered("inputs", k);
        if (auto fault = not_passive(network.inputs[k].ohm, where + ".ohm")) return fault;
        auto const scale = network.inputs[k].displayed_per_ampere;
        if (!std::isfinite(scale.real()) || !std::isfinite(scale.imag()))
            return not_positive(std::abs(scale), where + ".displayed_per_ampere", "amperes");
    }
    if (auto fault = wrong_joints(network, model)) return fault;
    return wrong_voltage_side(network, model);
}

}  // namespace phasewright::wiring
