#include "bus/twin/twist.hpp"

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
    if (twist.unavailable && !long_number) field.not_available = {*twist.unavailable};
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

}  // namespace phasewright::twin
