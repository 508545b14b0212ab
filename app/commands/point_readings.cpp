#include "app/commands/point_readings.hpp"

#include <algorithm>

namespace phasewright::commands {

plan::TerminalNames terminals_for(profile::Profile const* profile, plan::ServiceModel const& model) {
    auto names = plan::default_terminals(model);
    if (profile == nullptr) return names;
    auto const& printed = profile->terminals;
    names.neutral = printed.neutral;
    for (std::size_t t = 0; t < std::min(names.voltage.size(), printed.voltage.size()); ++t)
        names.voltage[t] = printed.voltage[t];
    auto const& shape = profile::shape_for(*profile, model.service);
    for (std::size_t e = 0; e < model.elements.size(); ++e) {
        int const input = model.elements[e].current_input;
        if (input == plan::derived_current) continue;
        bool const listed = shape.service == model.service && e < shape.elements.size();
        auto const pair = static_cast<std::size_t>(listed ? shape.elements[e] : input);
        if (pair < printed.current.size())
            names.current[static_cast<std::size_t>(input)] = printed.current[pair];
    }
    return names;
}

namespace {

// The optional fields that a plan and a meter can fill, in the contract's names.
std::vector<std::string> fields_of(readings::ReadingSet const& set) {
    std::vector<std::string> names;
    auto const note = [&](bool given, char const* name) {
        if (given) names.emplace_back(name);
    };
    note(set.meter_service.has_value(), "meter_service");
    note(!set.ct_planned.empty(), "ct_planned");
    note(!set.ct_programmed.empty(), "ct_programmed");
    note(set.ct_output != plan::CtOutput::unknown, "ct_output");
    note(!set.ct_class.empty(), "ct_class");
    note(set.load_kind.whole.has_value(), "load_kind");
    note(set.flow.has_value(), "flow");
    note(set.breaker_a.has_value(), "breaker");
    note(set.rotation.has_value(), "rotation");
    note(true, "prior");
    note(set.skew_s.has_value(), "skew_s");
    note(set.resolution.v || set.resolution.i || set.resolution.p || set.resolution.q, "resolution");
    return names;
}

// A SunSpec meter's model tells wye from delta, not how many elements or CTs it has.
std::optional<plan::Service> service_told_by(profile::MeterReading const& reading, plan::Service planned) {
    if (!reading.meter_service || reading.sunspec_model == 0) return reading.meter_service;
    auto const told = plan::model_of(*reading.meter_service), wanted = plan::model_of(planned);
    bool const same_kind = told.has_neutral == wanted.has_neutral && told.live.size() == wanted.live.size();
    return same_kind ? std::nullopt : reading.meter_service;
}

}  // namespace

readings::ReadingSet reading_set_of(plan::Site const& site, plan::MeteringPoint const& point,
                                    std::vector<TimedReading> const& readings,
                                    profile::Profile const* profile, bool with_load_kind) {
    auto const& first = readings.front().reading;
    readings::ReadingSet set;
    set.id = point.id;
    set.service = point.service;
    set.model_options = point.model_options;
    set.meter_service = service_told_by(first, point.service);
    auto const panel = std::ranges::find(site.panels, point.panel, &plan::Panel::id);
    if (panel != site.panels.end()) set.nominal = panel->nominal;
    set.ct_planned = {point.ct.ratio};
    if (first.ct_programmed) set.ct_programmed = {*first.ct_programmed};
    set.ct_output = point.ct.output;
    set.ct_class = point.ct.accuracy_class;
    if (with_load_kind) set.load_kind.whole = point.load_kind;
    set.flow = point.flow;
    set.breaker_a = point.breaker_a;
    set.rotation = point.rotation;
    set.prior = site.first_commissioning ? readings::Prior::commissioning : readings::Prior::in_service;
    set.pf_sign = first.pf_sign;
    set.var_sign = first.var_sign;
    set.resolution = first.resolution;
    for (auto const& one : readings) {
        set.skew_s = std::max(set.skew_s.value_or(0.0), one.reading.skew_s);
        set.snapshots.push_back(one.reading.snapshot);
        set.snapshots.back().time = one.time;
    }
    set.region = site.region;
    set.terminals = terminals_for(profile, readings::model_of(set));
    set.fields_given = fields_of(set);
    return set;
}

}  // namespace phasewright::commands
