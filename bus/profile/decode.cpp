#include "bus/profile/decode.hpp"

#include <algorithm>

#include "bus/profile/raw_number.hpp"
#include "bus/profile/text_registers.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::profile {

namespace {

using readings::Column;

std::vector<Field> const* fields_of(Profile const& profile, Measure measure) {
    auto const found = profile.measurements.find(measure);
    return found == profile.measurements.end() ? nullptr : &found->second;
}

// The values of the chosen phases; an empty column when the profile does not offer the measurement.
Column column(Profile const& profile, RegisterImage const& image, Measure measure,
              std::vector<int> const& chosen) {
    auto const* const fields = fields_of(profile, measure);
    Column values;
    if (fields == nullptr) return values;
    for (int const index : chosen)
        values.push_back(value_of(fields->at(static_cast<std::size_t>(index)), image));
    return values;
}

std::optional<double> single(Profile const& profile, RegisterImage const& image, Measure measure) {
    auto const* const fields = fields_of(profile, measure);
    if (fields == nullptr || fields->empty()) return std::nullopt;
    return value_of(fields->front(), image);
}

// A meter counts angles from its first phase; a snapshot from its first element that has a voltage.
void turn_to_first_element(readings::Snapshot& shown, std::vector<int> const& elements) {
    if (elements.front() == 0) return;
    auto const first =
        std::ranges::find_if(shown.v_angle, [](auto const& angle) { return angle.has_value(); });
    if (first == shown.v_angle.end()) return;
    double const zero = **first;
    for (auto* const angles : {&shown.v_angle, &shown.i_angle}) {
        for (auto& angle : *angles) {
            if (angle) angle = quantity::wrapped_deg(*angle - zero);
        }
    }
}

std::string text_in(std::optional<TextField> const& field, RegisterImage const& image) {
    std::vector<std::uint16_t> registers;
    if (!field) return {};
    for (std::uint32_t word = 0; word < field->registers; ++word) {
        auto const value = register_at(image, field->function, field->address + word);
        if (!value) break;
        registers.push_back(*value);
    }
    return text_of(registers);
}

}  // namespace

std::optional<double> value_of(Field const& field, RegisterImage const& image) {
    auto const raw = raw_of(field, image);
    if (!raw || std::ranges::find(field.not_available, *raw) != field.not_available.end())
        return std::nullopt;
    auto number = number_of(field.type, *raw);
    if (!number) return std::nullopt;
    if (field.scale_register) {
        auto const raw_scale =
            register_at(image, field.scale_register->function, field.scale_register->address);
        if (!raw_scale) return std::nullopt;
        number = scaled(*number, *field.scale_register, *raw_scale);
        if (!number) return std::nullopt;
    }
    double const value = *number * field.scale * field.unit_factor * (field.reversed ? -1.0 : 1.0);
    if (!std::isfinite(value)) return std::nullopt;
    return value + 0.0;  // no minus zero
}

std::optional<double> step_of(Field const& field, RegisterImage const& image) {
    if (is_floating(field.type)) return std::nullopt;
    std::optional<double> step = std::abs(field.scale * field.unit_factor);
    if (field.scale_register) {
        auto const raw_scale =
            register_at(image, field.scale_register->function, field.scale_register->address);
        if (!raw_scale) return std::nullopt;
        step = scaled(*step, *field.scale_register, *raw_scale);
    }
    return step;
}

readings::Snapshot decode(Profile const& profile, RegisterImage const& image,
                          std::optional<plan::Service> service) {
    auto const& shape = shape_for(profile, service ? service : service_in(profile, image));
    bool const from_lines = !shape.v_from_lines.empty();
    auto const elements = [&](Measure measure) { return column(profile, image, measure, shape.elements); };
    readings::Snapshot shown;
    shown.v = from_lines ? column(profile, image, Measure::v_ll, shape.v_from_lines) : elements(Measure::v);
    shown.i = elements(Measure::i);
    shown.p = elements(Measure::p);
    shown.q = elements(Measure::q);
    shown.s = elements(Measure::s);
    shown.pf = elements(Measure::pf);
    shown.thd_i = elements(Measure::thd_i);
    if (!shape.lines.empty()) shown.v_ll = column(profile, image, Measure::v_ll, shape.lines);
    if (!from_lines) {  // else the angles are those of other voltages than the elements'
        shown.v_angle = elements(Measure::v_angle);
        shown.i_angle = elements(Measure::i_angle);
        turn_to_first_element(shown, shape.elements);
    }
    shown.i_n = single(profile, image, Measure::i_n);
    shown.hz = single(profile, image, Measure::hz);
    shown.p_total = single(profile, image, Measure::p_total);
    shown.q_total = single(profile, image, Measure::q_total);
    shown.s_total = single(profile, image, Measure::s_total);
    shown.pf_total = single(profile, image, Measure::pf_total);
    return shown;
}

std::optional<quantity::TransformerRatio> ct_ratio_in(Profile const& profile, RegisterImage const& image) {
    auto const* const kept_primary = find_setting(profile, SettingName::ct_primary);
    auto const* const kept_secondary = find_setting(profile, SettingName::ct_secondary);
    if (kept_primary == nullptr || kept_secondary == nullptr) return std::nullopt;
    auto const primary = setting_in(*kept_primary, image);
    auto const secondary = setting_in(*kept_secondary, image);
    if (!primary || !secondary || *primary <= 0.0 || *secondary <= 0.0) return std::nullopt;
    return quantity::TransformerRatio{*primary, *secondary};
}

std::optional<plan::Service> service_in(Profile const& profile, RegisterImage const& image) {
    auto const* const kept = find_setting(profile, SettingName::service);
    auto const service = kept == nullptr ? std::nullopt : setting_in(*kept, image);
    if (!service) return std::nullopt;
    return static_cast<plan::Service>(static_cast<int>(*service));
}

std::string identity_in(Profile const& profile, RegisterImage const& image) {
    std::vector<std::string> names;
    for (auto const* const field : {&profile.identity.vendor_text, &profile.identity.model_text}) {
        auto text = text_in(*field, image);
        if (!text.empty()) names.push_back(std::move(text));
    }
    auto identity = quantity::joined(names, " ");
    auto serial = text_in(profile.identity.serial_text, image);
    if (serial.empty() && profile.identity.serial_number) {
        auto const number = value_of(*profile.identity.serial_number, image);
        if (number) serial = quantity::fixed(*number, 0);
    }
    if (serial.empty()) return identity;
    return identity.empty() ? "serial " + serial : identity + ", serial " + serial;
}

}  // namespace phasewright::profile
