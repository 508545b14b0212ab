// What a profile wants, as pieces that are not torn; core/plan/read_grouping.hpp makes the cheapest questions of them.
#include "bus/profile/decode.hpp"

namespace phasewright::profile {

namespace {

// Registers that must come with one answer: the words of one number.
plan::RegisterRun piece_of(codec::Function function, int first, int count) {
    return {static_cast<int>(function), first, count};
}

void add_with_scale(std::vector<plan::RegisterRun>& pieces, Field const& field) {
    pieces.push_back(piece_of(field.function, field.address, registers_of(field.type)));
    if (field.scale_register)
        pieces.push_back(piece_of(field.scale_register->function, field.scale_register->address, 1));
}

void add_text(std::vector<plan::RegisterRun>& pieces, std::optional<TextField> const& text) {
    if (!text) return;
    for (int word = 0; word < text->registers; ++word)
        pieces.push_back(piece_of(text->function, text->address + word, 1));
}

std::vector<Run> runs_of(std::vector<plan::RegisterRun> const& pieces, Profile const& profile,
                         plan::ReadCost const& cost) {
    plan::ReadLimits const limits{.longest_read = static_cast<int>(profile.longest_read),
                                  .bridge = static_cast<int>(profile.bridge)};
    std::vector<Run> runs;
    for (auto const& run : plan::grouped(pieces, limits, cost)) {
        runs.push_back({static_cast<codec::Function>(run.function), static_cast<std::uint16_t>(run.first),
                        static_cast<std::uint16_t>(run.count)});
    }
    return runs;
}

}  // namespace

std::vector<plan::RegisterRun> measured_registers(Profile const& profile) {
    std::vector<plan::RegisterRun> pieces;
    for (auto const& [measure, fields] : profile.measurements) {
        for (auto const& field : fields) add_with_scale(pieces, field);
    }
    return pieces;
}

ReadPlan read_plan(Profile const& profile, plan::ReadCost const& cost) {
    std::vector<plan::RegisterRun> settings;
    for (auto const name : {SettingName::service, SettingName::ct_primary, SettingName::ct_secondary}) {
        auto const* const setting = find_setting(profile, name);
        if (setting == nullptr) continue;
        for (auto const& piece : setting_registers(*setting)) settings.push_back(piece);
    }
    if (profile.identity.serial_number) add_with_scale(settings, *profile.identity.serial_number);
    add_text(settings, profile.identity.vendor_text);
    add_text(settings, profile.identity.model_text);
    add_text(settings, profile.identity.serial_text);
    return {.settings = runs_of(settings, profile, cost),
            .measurements = runs_of(measured_registers(profile), profile, cost)};
}

}  // namespace phasewright::profile
