#include "bus/profile/setting.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "bus/profile/clock.hpp"
#include "bus/profile/decode.hpp"
#include "bus/profile/encode.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/raw_number.hpp"

namespace phasewright::profile {

namespace {

using quantity::Fault;

struct Words {
    SettingName name;
    std::string_view field, people, unit;
};
constexpr std::array words{
    Words{SettingName::ct_primary, "ct_primary", "CT primary", "A"},
    Words{SettingName::ct_secondary, "ct_secondary", "CT secondary", ""},
    Words{SettingName::vt_primary, "vt_primary", "VT primary", "V"},
    Words{SettingName::vt_secondary, "vt_secondary", "VT secondary", "V"},
    Words{SettingName::service, "service", "service", ""},
    Words{SettingName::demand_interval, "demand_interval", "demand interval", "min"},
    Words{SettingName::time_zone, "time_zone", "time zone", ""},
    Words{SettingName::clock, "clock", "clock", ""},
    Words{SettingName::address, "address", "address", ""},
    Words{SettingName::bit_rate, "bit_rate", "bit rate", "bit/s"},
    Words{SettingName::parity, "parity", "parity", ""},
    Words{SettingName::stop_bits, "stop_bits", "stop bits", ""},
};
Words const& words_for(SettingName name) { return words.at(static_cast<std::size_t>(name)); }

bool near(double a, double b) { return std::abs(a - b) <= 1e-9 * std::max({1.0, std::abs(a), std::abs(b)}); }

std::string zone_words(double minutes) {
    auto const whole = static_cast<int>(std::lround(std::abs(minutes)));
    return fmt::format("UTC{}{:02}:{:02}", minutes < 0.0 ? '-' : '+', whole / 60, whole % 60);
}

// The holding registers of an image, consecutive ones together.
std::vector<SettingRun> runs_in(RegisterImage const& image) {
    std::vector<SettingRun> runs;
    for (auto const& [address, value] : image.holding) {
        bool const follows = !runs.empty() && runs.back().address + runs.back().values.size() == address;
        if (!follows) runs.push_back({address, {}});
        runs.back().values.push_back(value);
    }
    return runs;
}

std::string values_in_words(Setting const& setting) {
    if (!setting.values.empty()) {
        std::string text;
        for (auto const& allowed : setting.values)
            text += (text.empty() ? "" : ", ") + words_of(setting.name, allowed.value);
        return text;
    }
    if (!setting.least || !setting.most) return "nothing: the profile names no allowed values";
    auto text = fmt::format("{} to {}", words_of(setting.name, *setting.least),
                            words_of(setting.name, *setting.most));
    if (setting.step) text += fmt::format(" in steps of {}", *setting.step);
    return text;
}

Fault refusal(Setting const& setting, std::string what, std::string found, std::string allowed,
              std::string remedy) {
    return {.what = std::move(what),
            .where = std::string("settings.") + std::string(name_of(setting.name)),
            .found = std::move(found),
            .allowed = std::move(allowed),
            .remedy = std::move(remedy)};
}

bool in_range(Setting const& setting, double value) {
    if (!setting.least || !setting.most || value < *setting.least || value > *setting.most) return false;
    if (!setting.step) return true;
    double const steps = (value - *setting.least) / *setting.step;
    return near(steps, std::round(steps));
}

}  // namespace

std::string_view name_of(SettingName name) { return words_for(name).field; }
std::string_view words_of(SettingName name) { return words_for(name).people; }

std::optional<SettingName> setting_name_of(std::string_view name) {
    auto const found = std::ranges::find(words, name, &Words::field);
    return found == words.end() ? std::nullopt : std::optional(found->name);
}

std::string words_of(SettingName name, double value) {
    auto const place = static_cast<std::size_t>(std::max(0.0, value));
    switch (name) {
        case SettingName::service:
            if (place < plan::all_services.size())
                return std::string(plan::code_of(plan::all_services.at(place)));
            break;
        case SettingName::parity:
            if (place <= 2) return std::string(plan::name_of(static_cast<plan::Parity>(place)));
            break;
        case SettingName::time_zone: return zone_words(value);
        case SettingName::clock: return clock_text(value);
        default: break;
    }
    auto const number = fmt::format("{:.10g}", value);
    auto const unit = words_for(name).unit;
    return unit.empty() ? number : fmt::format("{} {}", number, unit);
}

bool changes_the_bus(SettingName name) { return name >= SettingName::address; }
bool is_ratio(SettingName name) { return name <= SettingName::vt_secondary; }

std::string_view name_of(TakesEffect when) {
    if (when == TakesEffect::at_once) return "at-once";
    return when == TakesEffect::after_restart ? "after-restart" : "unknown";
}
std::string_view name_of(Rescales rescales) {
    if (rescales == Rescales::no) return "no";
    return rescales == Rescales::yes ? "yes" : "unknown";
}

Setting const* find_setting(Profile const& profile, SettingName name) {
    auto const found = std::ranges::find(profile.settings, name, &Setting::name);
    return found == profile.settings.end() ? nullptr : &*found;
}

std::optional<double> setting_in(Setting const& setting, RegisterImage const& image) {
    if (setting.fixed) return setting.fixed;
    if (setting.clock) return clock_in(*setting.clock, image);
    if (!setting.field) return std::nullopt;
    if (!setting.mapped) return value_of(*setting.field, image);
    auto const raw = raw_of(*setting.field, image);
    auto const known =
        std::ranges::find_if(setting.values, [&](auto const& allowed) { return raw == allowed.raw; });
    return known == setting.values.end() ? std::nullopt : std::optional(known->value);
}

std::vector<plan::RegisterRun> setting_registers(Setting const& setting) {
    std::vector<plan::RegisterRun> pieces;
    auto const add = [&](std::optional<Field> const& field) {
        if (!field) return;
        pieces.push_back({static_cast<int>(field->function), field->address, registers_of(field->type)});
        if (field->scale_register)
            pieces.push_back(
                {static_cast<int>(field->scale_register->function), field->scale_register->address, 1});
    };
    add(setting.field);
    if (!setting.clock) return pieces;
    add(setting.clock->seconds);
    if (!setting.clock->parts.front()) return pieces;
    // The six numbers of one moment must not be torn: one piece from the first to the last of them.
    int first = 65535;
    int last = 0;
    for (auto const& part : setting.clock->parts) {
        first = std::min<int>(first, part->address);
        last = std::max<int>(last, part->address + registers_of(part->type) - 1);
    }
    pieces.push_back({static_cast<int>(setting.clock->parts.front()->function), first, last - first + 1});
    return pieces;
}

std::optional<Fault> not_allowed(Setting const& setting, double value) {
    auto const found = std::isfinite(value) ? words_of(setting.name, value) : std::string("not a number");
    if (!setting.write)
        return refusal(setting, "the profile does not list this setting as one that may be written", found,
                       "what the profile gives a `write` function", "set it at the meter itself");
    if (!std::isfinite(value))
        return refusal(setting, "the value is no number", found, values_in_words(setting), "");
    bool const bad_address = setting.name == SettingName::address && (value < 1.0 || value > 247.0);
    bool const listed =
        std::ranges::any_of(setting.values, [&](auto const& one) { return near(one.value, value); });
    bool const fits = setting.clock            ? value >= 0.0
                      : setting.values.empty() ? in_range(setting, value)
                                               : listed;
    if (fits && !bad_address) return std::nullopt;
    return refusal(setting, "the meter does not take this value", found,
                   setting.clock ? "a time since 1970" : values_in_words(setting),
                   "change the plan, or the meter");
}

std::expected<std::vector<SettingRun>, Fault> runs_for(Setting const& setting, double value) {
    if (auto fault = not_allowed(setting, value)) return std::unexpected(std::move(*fault));
    RegisterImage image;
    put_setting(image, setting, value);
    auto const held = setting_in(setting, image);
    double const tolerance = setting.clock ? 0.5 : 0.0;  // a clock counts whole seconds
    if (!held || (!near(*held, value) && std::abs(*held - value) > tolerance))
        return std::unexpected(refusal(setting, "the register cannot hold this value",
                                       words_of(setting.name, value), "what its type and scale can show",
                                       held ? "the nearest is " + words_of(setting.name, *held) : ""));
    return runs_in(image);
}

void put_setting(RegisterImage& image, Setting const& setting, std::optional<double> value) {
    if (setting.clock) return put_clock(image, *setting.clock, value.value_or(0.0));
    if (!setting.field) return;
    if (!setting.mapped) return put_value(image, *setting.field, value);
    auto const known = std::ranges::find_if(
        setting.values, [&](auto const& allowed) { return value && near(allowed.value, *value); });
    if (known != setting.values.end()) return put_raw(image, *setting.field, known->raw);
    put_value(image, *setting.field, std::nullopt);
}

}  // namespace phasewright::profile
