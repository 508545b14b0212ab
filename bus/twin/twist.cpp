#include "bus/twin/twist.hpp"

#include <algorithm>

#include "bus/profile/encode.hpp"

namespace phasewright::twin {

namespace {
void shift(std::uint16_t& address, RegisterTwist const& twist) {
    address = static_cast<std::uint16_t>(address + twist.offset);
}

void twist_field(profile::Field& field, RegisterTwist const& twist) {
    shift(field.address, twist);
    if (field.scale_register) shift(field.scale_register->address, twist);
    bool const long_number = profile::registers_of(field.type) > 1;
    if (twist.words_swapped && long_number)
        field.words = field.words == profile::Order::high_first ? profile::Order::low_first
                                                                : profile::Order::high_first;
    if (!twist.unavailable) return;
    std::uint64_t nothing = 0;
    for (int k = 0; k < profile::registers_of(field.type); ++k) nothing = nothing << 16U | *twist.unavailable;
    field.not_available = {nothing};
}

void twist_setting(profile::Setting& setting, RegisterTwist const& twist) {
    if (setting.field) twist_field(*setting.field, twist);
    if (setting.clock) {
        if (setting.clock->seconds) twist_field(*setting.clock->seconds, twist);
        for (auto& part : setting.clock->parts)
            if (part) twist_field(*part, twist);
    }
    for (auto* keys : {&setting.before, &setting.after})
        for (auto& key : *keys) shift(key.address, twist);
}
}  // namespace

profile::Profile twisted(profile::Profile profile, RegisterTwist const& twist) {
    for (auto& [measure, fields] : profile.measurements)
        for (auto& field : fields) twist_field(field, twist);
    for (auto& energy : profile.energies)
        for (auto& field : energy.fields) {
            twist_field(field, twist);
            if (twist.energies_in_base_unit) field.unit_factor = 1.0;
        }
    for (auto& setting : profile.settings) twist_setting(setting, twist);
    auto& identity = profile.identity;
    for (auto* text : {&identity.vendor_text, &identity.model_text, &identity.serial_text})
        if (*text) shift((*text)->address, twist);
    if (identity.serial_number) twist_field(*identity.serial_number, twist);
    return profile;
}

std::optional<quantity::Fault> without_effect(profile::Profile const& profile, RegisterTwist const& twist,
                                              std::string const& point) {
    auto const fault = [&](std::string what, std::string allowed) {
        return quantity::Fault{.what = std::move(what),
                               .where = "meter " + point + ", registers",
                               .found = profile.name,
                               .allowed = std::move(allowed),
                               .remedy = {}};
    };
    auto const is_prefixed = [](profile::EnergyRegisters const& energy) {
        return std::ranges::any_of(energy.fields,
                                   [](profile::Field const& field) { return field.unit_factor != 1.0; });
    };
    if (twist.energies_in_base_unit && std::ranges::none_of(profile.energies, is_prefixed))
        return fault("the profile has its counters in Wh already", "a meter that counts in kWh");
    for (auto const measure : twist.not_measured)
        if (!profile.measurements.contains(measure))
            return fault("the profile has no " + std::string{profile::name_of(measure)} + " anyway",
                         "a measurement of the profile");
    auto const is_long = [](profile::Field const& field) { return profile::registers_of(field.type) > 1; };
    bool const any_long =
        std::ranges::any_of(profile.measurements,
                            [&](auto const& entry) { return std::ranges::any_of(entry.second, is_long); }) ||
        std::ranges::any_of(profile.energies,
                            [&](auto const& one) { return std::ranges::any_of(one.fields, is_long); });
    if (twist.words_swapped && !any_long)
        return fault("the profile has no number of more than one register", "a meter with long numbers");
    return std::nullopt;
}

void put_not_measured(profile::RegisterImage& image, profile::Profile const& laid_out,
                      RegisterTwist const& twist) {
    for (auto const measure : twist.not_measured)
        if (auto const fields = laid_out.measurements.find(measure); fields != laid_out.measurements.end())
            for (auto const& field : fields->second) profile::put_value(image, field, std::nullopt);
}

}  // namespace phasewright::twin
