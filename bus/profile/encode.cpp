#include "bus/profile/encode.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <iterator>
#include <vector>

#include "bus/profile/raw_number.hpp"
#include "bus/profile/text_registers.hpp"

namespace phasewright::profile {

namespace {

using readings::Column;

std::uint64_t raw_for(Field const& field, std::optional<double> value) {
    std::uint64_t const nothing =
        field.not_available.empty() ? bits_of_nan(field.type) : field.not_available.front();
    if (!value || !std::isfinite(*value)) return nothing;
    std::optional<double> number = *value / field.unit_factor / field.scale * (field.reversed ? -1.0 : 1.0);
    if (field.scale_register) {
        number =
            unscaled(*number, *field.scale_register, static_cast<std::uint16_t>(field.scale_register->usual));
        if (!number) return nothing;
    }
    auto const is_nothing = [&](std::uint64_t raw) {
        return std::ranges::find(field.not_available, raw) != field.not_available.end();
    };
    auto raw = bits_of(field.type, *number);
    // At the end of its range the register must not say "not available" by accident.
    for (int step = 1; is_nothing(raw) && step <= 4 && !is_floating(field.type); ++step) {
        raw = bits_of(field.type, *number_of(field.type, raw) + (*number > 0.0 ? -1.0 : 1.0));
    }
    return raw;
}

// Puts the k-th value of the column into the chosen k-th phase; the other phases show nothing.
void put_column(RegisterImage& image, Profile const& profile, Measure measure, Column const& values,
                std::vector<int> const& chosen) {
    auto const found = profile.measurements.find(measure);
    if (found == profile.measurements.end()) return;
    for (std::size_t phase = 0; phase < found->second.size(); ++phase) {
        std::optional<double> value;
        for (std::size_t at = 0; at < chosen.size() && at < values.size(); ++at) {
            if (chosen[at] == static_cast<int>(phase)) value = values[at];
        }
        put_value(image, found->second[phase], value);
    }
}

void put_single(RegisterImage& image, Profile const& profile, Measure measure, std::optional<double> value) {
    auto const found = profile.measurements.find(measure);
    if (found != profile.measurements.end()) put_value(image, found->second.front(), value);
}

void put_text(RegisterImage& image, std::optional<TextField> const& field, std::string_view text) {
    if (field) put_registers(image, field->function, field->address, registers_for(text, field->registers));
}

Column without_sign(Column values) {
    for (auto& value : values) {
        if (value) value = std::abs(*value);
    }
    return values;
}

void put_measurements(RegisterImage& image, Profile const& profile, readings::Snapshot const& shown,
                      ServiceShape const& shape) {
    bool const from_lines = !shape.v_from_lines.empty();
    bool const bare_q = profile.var_sign == readings::SignHabit::unsigned_;
    bool const bare_pf = profile.pf_sign == readings::SignHabit::unsigned_;
    auto const elements = [&](Measure measure, Column const& values) {
        put_column(image, profile, measure, values, shape.elements);
    };
    elements(Measure::v, from_lines ? Column{} : shown.v);
    elements(Measure::i, shown.i);
    elements(Measure::p, shown.p);
    elements(Measure::q, bare_q ? without_sign(shown.q) : shown.q);
    elements(Measure::s, shown.s);
    elements(Measure::pf, bare_pf ? without_sign(shown.pf) : shown.pf);
    elements(Measure::v_angle, from_lines ? Column{} : shown.v_angle);
    elements(Measure::i_angle, from_lines ? Column{} : shown.i_angle);
    elements(Measure::thd_i, shown.thd_i);
    if (from_lines && shown.v_ll.empty()) {
        put_column(image, profile, Measure::v_ll, shown.v, shape.v_from_lines);
    } else {
        // A service without line voltages of its own still leaves the three registers to what the meter
        // measures.
        put_column(image, profile, Measure::v_ll, shown.v_ll,
                   shape.lines.empty() ? std::vector{0, 1, 2} : shape.lines);
    }
    put_single(image, profile, Measure::i_n, shown.i_n);
    put_single(image, profile, Measure::hz, shown.hz);
    put_single(image, profile, Measure::p_total, shown.p_total);
    put_single(image, profile, Measure::q_total,
               bare_q && shown.q_total ? std::optional(std::abs(*shown.q_total)) : shown.q_total);
    put_single(image, profile, Measure::s_total, shown.s_total);
    put_single(image, profile, Measure::pf_total,
               bare_pf && shown.pf_total ? std::optional(std::abs(*shown.pf_total)) : shown.pf_total);
}

double first_allowed(Setting const& setting) {
    if (!setting.values.empty()) return setting.values.front().value;
    bool const zero = setting.least.value_or(0.0) <= 0.0 && setting.most.value_or(0.0) >= 0.0;
    return zero ? 0.0 : setting.least.value_or(0.0);
}

void put_settings(RegisterImage& image, Profile const& profile, MeterSettings const& settings,
                  ServiceShape const& shape) {
    auto const& ratio = settings.ct_programmed;
    for (auto const& setting : profile.settings) {
        auto const other = settings.others.find(setting.name);
        std::optional<double> value;
        if (setting.name == SettingName::service) {
            value = static_cast<double>(shape.service);
        } else if (setting.name == SettingName::ct_primary) {
            if (ratio) value = ratio->primary;
        } else if (setting.name == SettingName::ct_secondary) {
            if (ratio) value = ratio->secondary;
        } else {
            value = other != settings.others.end() ? other->second : first_allowed(setting);
        }
        put_setting(image, setting, value);
    }
    for (auto const& energy : profile.energies) {
        for (auto const& field : energy.fields) put_value(image, field, 0.0);
    }
    put_text(image, profile.identity.vendor_text, settings.vendor);
    put_text(image, profile.identity.model_text, settings.model);
    put_text(image, profile.identity.serial_text, settings.serial);
    if (profile.identity.serial_number) {
        std::uint64_t number = 0;
        auto const* const begin = settings.serial.data();
        auto const parsed = std::from_chars(begin, begin + settings.serial.size(), number);
        bool const whole = parsed.ec == std::errc{} && parsed.ptr == begin + settings.serial.size();
        put_value(image, *profile.identity.serial_number,
            whole ? std::optional(static_cast<double>(number)) : std::nullopt);
    }
}

// A meter that lets a client read across a gap answers something there.
void fill_bridges(RegisterImage& image, Profile const& profile) {
    for (auto* const table : {&image.holding, &image.input}) {
        std::vector<std::uint16_t> gaps;
        for (auto at = table->begin(); at != table->end() && std::next(at) != table->end(); ++at) {
            int const first = at->first + 1;
            int const end = std::next(at)->first;
            if (end - first > static_cast<int>(profile.bridge)) continue;
            for (int address = first; address < end; ++address) gaps.push_back(static_cast<std::uint16_t>(address));
        }
        for (auto const address : gaps) table->emplace(address, std::uint16_t{0});
    }
}

}  // namespace

void put_value(RegisterImage& image, Field const& field, std::optional<double> value) {
    put_raw(image, field, raw_for(field, value));
    if (!field.scale_register) return;
    std::uint16_t const usual[] = {static_cast<std::uint16_t>(field.scale_register->usual)};
    put_registers(image, field.scale_register->function, field.scale_register->address, usual);
}

RegisterImage encode(Profile const& profile, readings::Snapshot const& shown, MeterSettings const& settings) {
    RegisterImage image;
    auto const& shape = shape_for(profile, settings.service);
    put_measurements(image, profile, shown, shape);
    put_settings(image, profile, settings, shape);
    fill_bridges(image, profile);
    return image;
}

}  // namespace phasewright::profile
