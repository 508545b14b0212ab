#include "bus/profile/lint.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "bus/profile/raw_number.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::profile {

namespace {

using Findings = std::vector<LintFinding>;

// One number of the profile, and the registers under it.
struct Used {
    std::string name;  // "measurements.v 1", "settings.ct_primary"
    codec::Function function = codec::Function::read_holding_registers;
    int first = 0, last = 0;
    bool scale = false;  // a scale register may be shared
};

void use(std::vector<Used>& all, std::string const& name, std::optional<Field> const& field) {
    if (!field) return;
    all.push_back({name, field->function, field->address, field->address + registers_of(field->type) - 1});
    if (field->scale_register)
        all.push_back({"the scale of " + name, field->scale_register->function,
                       field->scale_register->address, field->scale_register->address, true});
}

std::vector<Used> registers_in_use(Profile const& profile) {
    std::vector<Used> all;
    for (auto const& [measure, fields] : profile.measurements)
        for (std::size_t k = 0; k < fields.size(); ++k)
            use(all,
                fields.size() == 1 ? std::string(name_of(measure))
                                   : fmt::format("{} {}", name_of(measure), k + 1),
                fields[k]);
    for (auto const& energy : profile.energies)
        for (auto const& field : energy.fields) use(all, "energies." + energy.habit.name, field);
    for (auto const& setting : profile.settings) {
        auto const name = fmt::format("settings.{}", name_of(setting.name));
        use(all, name, setting.field);
        if (!setting.clock) continue;
        use(all, name, setting.clock->seconds);
        for (auto const& part : setting.clock->parts) use(all, name, part);
    }
    use(all, "serial_number", profile.identity.serial_number);
    for (auto const* const text :
         {&profile.identity.vendor_text, &profile.identity.model_text, &profile.identity.serial_text})
        if (*text)
            all.push_back(
                {"identity", (*text)->function, (*text)->address, (*text)->address + (*text)->registers - 1});
    return all;
}

void overlapping(Profile const& profile, Findings& findings) {
    auto const all = registers_in_use(profile);
    std::set<std::string> told;
    for (std::size_t a = 0; a < all.size(); ++a) {
        for (std::size_t b = a + 1; b < all.size(); ++b) {
            if (all[a].function != all[b].function || all[a].last < all[b].first ||
                all[b].last < all[a].first)
                continue;
            if ((all[a].scale && all[b].scale) || all[a].name == all[b].name) continue;
            if (!told.insert(all[a].name + "/" + all[b].name).second) continue;
            findings.push_back({LintSeverity::mend,
                                fmt::format("{} and {} share register {}", all[a].name, all[b].name,
                                            std::max(all[a].first, all[b].first)),
                                "one register cannot mean two things",
                                "compare both with the maker's table"});
        }
    }
}

bool measures(Profile const& profile, Measure measure) { return profile.measurements.contains(measure); }

void measurements(Profile const& profile, Findings& findings) {
    if (!measures(profile, Measure::p))
        findings.push_back({LintSeverity::mend, "no active power of each phase is listed",
                            "which current belongs to which voltage shows in the power of each phase",
                            "add [measurements.p], if the meter has it"});
    if (!measures(profile, Measure::p_total))
        findings.push_back(
            {LintSeverity::mind, "no total active power is listed",
             "the total is what the counters follow; a sum of the phases cannot show that they disagree",
             "add [measurements.p_total]"});
    if (!measures(profile, Measure::q) && !measures(profile, Measure::v_angle))
        findings.push_back({LintSeverity::mend, "neither reactive power nor angles of each phase are listed",
                            "without them the sign of the angle between voltage and current is not known",
                            "add [measurements.q], or v_angle and i_angle"});
    if (!measures(profile, Measure::hz))
        findings.push_back({LintSeverity::mind, "no frequency is listed",
                            "it is the plainest check that registers are read rightly",
                            "add [measurements.hz]"});
    if (!measures(profile, Measure::v_ll))
        findings.push_back({LintSeverity::mind, "no line voltages are listed",
                            "they tell apart two terminals on one phase from a right one",
                            "add [measurements.v_ll]"});
    bool const has_pf = measures(profile, Measure::pf) || measures(profile, Measure::pf_total);
    if (has_pf && profile.pf_sign == readings::SignHabit::unknown)
        findings.push_back({LintSeverity::mind, "how the power factor carries its sign is not known",
                            "a sign that is misread turns lagging into leading",
                            "set pf in [signs]; unsigned is an answer too"});
    bool const has_q = measures(profile, Measure::q) || measures(profile, Measure::q_total);
    if (has_q && profile.var_sign == readings::SignHabit::unknown)
        findings.push_back({LintSeverity::mend, "how reactive power carries its sign is not known",
                            "half of all wiring mistakes look like another one with the other sign",
                            "set var in [signs]"});
    for (auto const& [measure, fields] : profile.measurements) {
        if (fields.front().type == ValueType::int16 && fields.front().scale_register &&
            fields.front().not_available.empty())
            findings.push_back({LintSeverity::mind,
                                fmt::format(R"({} has no value for "not available")", name_of(measure)),
                                "what the meter sends where it measures nothing would be taken for a number",
                                "list it in not_available, or know that there is none"});
    }
}

void energies(Profile const& profile, Findings& findings) {
    if (profile.energies.empty()) {
        findings.push_back({LintSeverity::mind, "no energies are listed",
                            "nothing of what the meter counts can be followed", "add [energies.NAME]"});
        return;
    }
    bool total = false;
    for (auto const& energy : profile.energies) {
        total = total || (!energy.per_phase && energy.habit.quantity == EnergyQuantity::active);
        if (!energy.habit.wrap_known)
            findings.push_back({LintSeverity::mend,
                                fmt::format("where energies.{} begins anew is not stated", energy.habit.name),
                                "the day it falls to zero cannot be told from a meter that was exchanged",
                                "wraps_after, wraps_at_full_width or never_wraps"});
        if (!energy.fields.empty() && energy.fields.front().type == ValueType::float32)
            findings.push_back(
                {LintSeverity::mind,
                 fmt::format("energies.{} is kept in 32 bits of floating point", energy.habit.name),
                 "24 bits of fraction: above 16 777 216 steps of its unit small energies are lost",
                 "take a whole number or 64 bits, if the meter has them"});
        double const last = energy.wraps_after && !energy.fields.empty()
                                ? *energy.wraps_after / std::abs(energy.fields.front().scale)
                                : 0.0;
        bool const floating = !energy.fields.empty() && is_floating(energy.fields.front().type);
        if (!floating && !energy.fields.empty() && !energy.fields.front().scale_register &&
            last > std::ldexp(1.0, 16 * registers_of(energy.fields.front().type)))
            findings.push_back(
                {LintSeverity::mend,
                 fmt::format("energies.{} would wrap above what its register can hold", energy.habit.name),
                 "its end is never reached", "compare wraps_after, type, scale and unit"});
    }
    if (!total)
        findings.push_back({LintSeverity::mind, "no active energy of all phases together is listed",
                            "bills are made from the total", "add a counter with `register`"});
}

void settings(Profile const& profile, Findings& findings) {
    for (auto const& setting : profile.settings) {
        auto const name = name_of(setting.name);
        bool const open = setting.write && setting.values.empty() && !setting.least && !setting.clock;
        if (open)
            findings.push_back({LintSeverity::mend, fmt::format("settings.{} has no allowed values", name),
                                "it is never written without them", "values, or least and most"});
        if (setting.write && setting.takes_effect == TakesEffect::unknown)
            findings.push_back({LintSeverity::mind,
                                fmt::format("when settings.{} takes effect is not known", name),
                                "after writing it is not known where the meter answers", "takes_effect"});
        if (setting.write && is_ratio(setting.name) && setting.rescales_energy == Rescales::unknown)
            findings.push_back(
                {LintSeverity::mind,
                 fmt::format("whether settings.{} rescales what was counted is not known", name),
                 "the record after a change of ratio needs it", "rescales_energy"});
        if (profile.legal && setting.write)
            findings.push_back({LintSeverity::mind,
                                fmt::format("settings.{} is writable in a sealed meter", name),
                                "`legal` forbids every writing, so this is never used", "leave `write` out"});
    }
    for (auto const name : {SettingName::ct_primary, SettingName::ct_secondary, SettingName::service}) {
        if (find_setting(profile, name) == nullptr)
            findings.push_back({LintSeverity::mind, fmt::format("settings.{} is not listed", name_of(name)),
                                "a wrong one would not be seen",
                                "add it, or `fixed` where it cannot be set"});
    }
    auto const* const service = find_setting(profile, SettingName::service);
    if (service != nullptr && service->values.size() != profile.services.size())
        findings.push_back({LintSeverity::mend, "not every service says what its setting holds",
                            "the meter set to one of them would not be understood",
                            "`setting` in each [[services]]"});
}

void reads(Profile const& profile, Findings& findings) {
    if (profile.bridge > profile.longest_read)
        findings.push_back({LintSeverity::mind,
                            fmt::format("bridge {} is more than the {} registers of one answer",
                                        profile.bridge, profile.longest_read),
                            "so wide a gap is never read along", "a smaller bridge"});
    for (auto const* const text :
         {&profile.identity.vendor_text, &profile.identity.model_text, &profile.identity.serial_text})
        if (*text && (*text)->registers > profile.longest_read)
            findings.push_back({LintSeverity::mind, "a text is longer than one answer",
                                "it is read in pieces, and some meters refuse that",
                                "compare length and longest_read"});
    if (!profile.identity.device_identification && !profile.identity.serial_number &&
        !profile.identity.serial_text)
        findings.push_back({LintSeverity::mind, "the meter tells nothing of itself",
                            "two of a kind at one address cannot be told apart",
                            "add [identity] or [serial_number]"});
}

void hardware(Profile const& profile, Findings& findings) {
    auto const& meter = profile.hardware;
    std::vector<std::string> missing;
    if (meter.current_inputs.empty()) missing.emplace_back("current_inputs");
    if (!meter.voltage_inputs) missing.emplace_back("voltage_inputs");
    if (meter.wires.empty()) missing.emplace_back("wires");
    if (!meter.supply) missing.emplace_back("supply");
    if (!meter.limits) missing.emplace_back("limits");
    if (meter.accuracy.empty()) missing.emplace_back("accuracy");
    if (!meter.bus) missing.emplace_back("bus");
    if (meter.bus && meter.bus->kind != plan::BusKind::ethernet && meter.bus_terminals.empty())
        missing.emplace_back("terminals.bus");
    if (meter.supply && meter.supply->kind != plan::SupplyKind::voltage_inputs &&
        meter.supply_terminals.empty())
        missing.emplace_back("terminals.supply");
    if (!missing.empty())
        findings.push_back(
            {LintSeverity::mind,
             "the meter as a thing with screws is not told whole: " + quantity::joined(missing, ", "),
             "plan checks and the wiring schedule are made from it", "add what the data sheet says"});
    std::set<std::string> labels;
    std::vector<std::string> all = profile.terminals.voltage;
    all.push_back(profile.terminals.neutral);
    for (auto const& pair : profile.terminals.current) {
        all.push_back(pair.s1);
        all.push_back(pair.s2);
    }
    for (auto const& one : meter.supply_terminals) all.push_back(one.label);
    for (auto const& one : meter.bus_terminals) all.push_back(one.label);
    if (!meter.earth_terminal.empty()) all.push_back(meter.earth_terminal);
    for (auto const& label : all)
        if (!labels.insert(label).second)
            findings.push_back({LintSeverity::mend, fmt::format(R"(two terminals are called "{}")", label),
                                "the words of a repair would send the hand to the wrong one",
                                "what is printed, exactly"});
    bool const d1 = std::ranges::find(meter.bus_terminals, plan::BusRole::d1, &plan::BusTerminal::role) !=
                    meter.bus_terminals.end();
    bool const common = std::ranges::find(meter.bus_terminals, plan::BusRole::common,
                                          &plan::BusTerminal::role) != meter.bus_terminals.end();
    if (d1 && !common)
        findings.push_back({LintSeverity::mind, "the bus has no common terminal",
                            "the serial-line specification wants the third wire (V1.02, clause 3.4)",
                            "look for it on the meter"});
}

}  // namespace

std::string_view name_of(LintSeverity severity) { return severity == LintSeverity::mend ? "mend" : "mind"; }

std::vector<LintFinding> lint(Profile const& profile) {
    Findings findings;
    overlapping(profile, findings);
    measurements(profile, findings);
    energies(profile, findings);
    settings(profile, findings);
    reads(profile, findings);
    hardware(profile, findings);
    std::ranges::stable_sort(findings, {}, &LintFinding::severity);
    return findings;
}

}  // namespace phasewright::profile
