// Fewest questions: registers are sorted, and runs that touch (or nearly, as far as the profile bridges)
// become one.
#include <algorithm>

#include "bus/profile/decode.hpp"

namespace phasewright::profile {

namespace {

struct Piece {  // registers that must come with one answer: the words of one number
    codec::Function function = codec::Function::read_holding_registers;
    unsigned first = 0;
    unsigned count = 0;
};

Piece piece_of(Field const& field) {
    return {field.function, field.address, static_cast<unsigned>(registers_of(field.type))};
}

void add_with_scale(std::vector<Piece>& pieces, Field const& field) {
    pieces.push_back(piece_of(field));
    if (field.scale_register)
        pieces.push_back({field.scale_register->function, field.scale_register->address, 1});
}

void add_text(std::vector<Piece>& pieces, std::optional<TextField> const& text) {
    if (!text) return;
    for (unsigned word = 0; word < text->registers; ++word)
        pieces.push_back({text->function, text->address + word, 1});
}

std::vector<Run> runs_of(std::vector<Piece> pieces, Profile const& profile) {
    std::ranges::sort(
        pieces, {}, [](Piece const& piece) { return std::tuple(piece.function, piece.first, piece.count); });
    std::vector<Run> runs;
    for (auto const& piece : pieces) {
        unsigned const end = piece.first + piece.count;
        if (!runs.empty() && runs.back().function == piece.function) {
            Run& last = runs.back();
            unsigned const last_end = unsigned{last.address} + last.count;
            unsigned const whole = std::max(end, last_end) - last.address;
            if (piece.first <= last_end + profile.bridge && whole <= profile.longest_read) {
                last.count = static_cast<std::uint16_t>(whole);
                continue;
            }
        }
        runs.push_back({piece.function, static_cast<std::uint16_t>(piece.first),
                        static_cast<std::uint16_t>(piece.count)});
    }
    return runs;
}

}  // namespace

ReadPlan read_plan(Profile const& profile) {
    std::vector<Piece> measurements;
    for (auto const& [measure, fields] : profile.measurements) {
        for (auto const& field : fields) add_with_scale(measurements, field);
    }
    std::vector<Piece> settings;
    for (auto const* const field : {&profile.service_register, &profile.ct_primary, &profile.ct_secondary,
                                    &profile.identity.serial_number}) {
        if (*field) add_with_scale(settings, **field);
    }
    add_text(settings, profile.identity.vendor_text);
    add_text(settings, profile.identity.model_text);
    add_text(settings, profile.identity.serial_text);
    return {.settings = runs_of(std::move(settings), profile),
            .measurements = runs_of(std::move(measurements), profile)};
}

}  // namespace phasewright::profile
