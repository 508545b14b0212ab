#include "bus/decoder/fit.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "bus/decoder/profile_changes.hpp"
#include "bus/decoder/words.hpp"
#include "bus/profile/raw_number.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::decoder {

namespace {

using enum Quantity;

constexpr double says_no_value = 1.5;  // a listed "no value" is a small witness for the list

std::optional<Quantity> quantity_of(profile::EnergyRegisters const& energy) {
    using profile::EnergyKind;
    using profile::EnergyQuantity;
    if (energy.per_phase || energy.fields.size() != 1 || energy.habit.quadrant != 0) return std::nullopt;
    if (energy.habit.quantity == EnergyQuantity::reactive) return reactive_energy;
    if (energy.habit.quantity == EnergyQuantity::apparent) return apparent_energy;
    return energy.habit.kind == EnergyKind::export_ ? energy_export : energy_import;
}

Rows rows_of(std::vector<profile::Field> const& fields, std::span<Dump const> dumps) {
    Rows rows;
    for (std::size_t dump = 0; dump < dumps.size(); ++dump) {
        Row row;
        for (std::size_t at = 0; at < fields.size() && at < row.size(); ++at)
            row.at(at) = shown_by(fields[at], dumps, dump);
        rows.dumps.push_back(row);
    }
    return rows;
}

bool any_number(Rows const& rows, std::size_t fields) {
    return std::ranges::any_of(rows.dumps, [&](Row const& row) {
        return std::any_of(row.begin(), row.begin() + static_cast<std::ptrdiff_t>(fields),
                           [](Shown const& shown) { return shown.state != Shown::State::absent; });
    });
}

}  // namespace

Picture picture_of(profile::Profile const& profile, std::span<Dump const> dumps, Expected const& expected) {
    Picture picture{.expected = expected, .time_s = {}, .rows = {}};
    for (auto const& dump : dumps) picture.time_s.push_back(dump.time_s);
    for (auto const& [measure, fields] : profile.measurements) {
        auto const quantity = decoder::quantity_of(measure);
        if (!quantity) continue;
        auto rows = rows_of(fields, dumps);
        if (any_number(rows, std::min(fields.size(), most_phases))) picture.rows.at(index_of(*quantity)) = std::move(rows);
    }
    for (auto const& energy : profile.energies) {
        auto const quantity = quantity_of(energy);
        if (!quantity || picture.rows.at(index_of(*quantity))) continue;
        auto rows = rows_of(energy.fields, dumps);
        if (any_number(rows, 1)) picture.rows.at(index_of(*quantity)) = std::move(rows);
    }
    return picture;
}

namespace {

double weighed(Picture const& picture) {
    double sum = 0.0;
    for (auto const quantity : all_quantities) {
        auto const& rows = picture.rows.at(index_of(quantity));
        if (!rows) continue;
        sum += log_odds(quantity, *rows, picture);
        for (auto const& row : rows->dumps) {
            for (auto const& shown : row)
                if (shown.state == Shown::State::nothing) sum += says_no_value;
        }
    }
    return sum;
}

std::size_t fields_shown(Picture const& picture, Shown::State state, bool equal) {
    std::size_t count = 0;
    for (auto const quantity : all_quantities) {
        auto const& rows = picture.rows.at(index_of(quantity));
        if (!rows) continue;
        std::size_t const fields = is_per_phase(quantity) ? picture.expected.phases : 1;
        for (std::size_t at = 0; at < fields; ++at)
            if ((rows->dumps.front().at(at).state == state) == equal) ++count;
    }
    return count;
}

std::size_t fields_of_profile(profile::Profile const& profile) {
    std::size_t count = 0;
    for (auto const& [measure, fields] : profile.measurements)
        if (decoder::quantity_of(measure)) count += fields.size();
    for (auto const& energy : profile.energies)
        if (quantity_of(energy)) ++count;
    return count;
}

// One number alone in its row, so that its neighbours do not hide it.
double log_odds_alone(Quantity quantity, Picture const& picture, std::size_t at) {
    Rows only = *picture.rows.at(index_of(quantity));
    double const all = log_odds(quantity, only, picture);
    for (auto& row : only.dumps) row.at(at).state = Shown::State::nothing;
    return all - log_odds(quantity, only, picture);
}

std::vector<std::string> misfits_of(Picture const& picture) {
    std::vector<std::string> misfits;
    for (auto const quantity : all_quantities) {
        auto const& rows = picture.rows.at(index_of(quantity));
        if (!rows) continue;
        std::size_t const fields = is_per_phase(quantity) ? picture.expected.phases : 1;
        for (std::size_t at = 0; at < fields; ++at) {
            auto const& shown = rows->dumps.front().at(at);
            if (shown.state != Shown::State::number || log_odds_alone(quantity, picture, at) > -1.5) continue;
            auto const told = told_by_others(quantity, picture, 0, at);
            misfits.push_back(fmt::format("{}{}: {} {} does not fit{}", name_of(quantity),
                                          fields > 1 ? fmt::format(" {}", at + 1) : "", number_words(shown.value, shown.step),
                                          unit_of(quantity),
                                          told ? fmt::format("; {} is due", number_words(*told, std::max(shown.step, 1e-3 * std::abs(*told)))) : ""));
        }
    }
    return misfits;
}

std::vector<std::string> doubts_of(ProfileFit const& fit, Picture const& picture) {
    std::vector<std::string> doubts;
    if (fit.judged == 0) {
        doubts.push_back("the dump holds none of this profile's registers: read those that it names, with its function");
        return doubts;
    }
    if (fit.missing > fit.judged)
        doubts.push_back("most of the profile's registers are not in the dump: what is not there was not judged");
    auto const& first = fit.changes.front();
    if (fit.changes.size() > 1 && fit.changes[1].probability > 0.05) {
        auto const& second = fit.changes[1];
        bool const base = first.kind == ChangeKind::base || second.kind == ChangeKind::base;
        bool const scale = first.kind == ChangeKind::scale || second.kind == ChangeKind::scale;
        bool const unit = first.kind == ChangeKind::energy_unit || second.kind == ChangeKind::energy_unit;
        doubts.push_back(fmt::format(
            R"("{}" and "{}" cannot be told apart for certain. {})", first.in_words, second.in_words,
            base    ? "Switch a known one-phase load on the first phase and dump again: only its current and power may move"
            : unit  ? "Dump again, with times, once the counter must have risen by ten steps"
            : scale ? "Read one phase with a clamp, and give --current around it"
                    : "Dump again under another load on every phase"));
    }
    if (!picture.rows.at(index_of(i)))
        doubts.push_back("no currents were there to be judged: only voltages and frequency speak");
    bool const moved = picture.time_s.size() > 1;
    bool const counters = std::ranges::any_of(all_quantities, [&](Quantity quantity) {
        return is_counter(quantity) && picture.rows.at(index_of(quantity)).has_value();
    });
    if (counters && !moved)
        doubts.push_back("one dump shows no rise of a counter: Wh against kWh was judged by size alone");
    return doubts;
}

}  // namespace

std::string_view name_of(ChangeKind kind) {
    switch (kind) {
        case ChangeKind::none: return "none";
        case ChangeKind::base: return "base";
        case ChangeKind::word_order: return "word_order";
        case ChangeKind::byte_order: return "byte_order";
        case ChangeKind::function: return "function";
        case ChangeKind::scale: return "scale";
        case ChangeKind::energy_unit: return "energy_unit";
        case ChangeKind::sign: return "sign";
        case ChangeKind::not_available: return "not_available";
    }
    return {};
}

ProfileFit fit_of(profile::Profile const& profile, std::span<Dump const> all_dumps, Expected const& expected) {
    ProfileFit fit;
    auto const dumps = refreshed(all_dumps);
    auto const as_it_is = picture_of(profile, dumps, expected);
    fit.judged = fields_shown(as_it_is, Shown::State::absent, false);
    auto const all = fields_of_profile(profile);
    fit.missing = all > fit.judged ? all - fit.judged : 0;
    double best = -1e300;
    for (auto& [change, changed] : changes_of(profile, dumps)) {
        auto const picture = picture_of(changed, dumps, expected);
        change.log_odds += weighed(picture);
        // What a change moves out of the dump is as if it held something else.
        auto const there = fields_shown(picture, Shown::State::absent, false);
        if (there < fit.judged) change.log_odds -= 4.0 * static_cast<double>(fit.judged - there);
        best = std::max(best, change.log_odds);
        fit.changes.push_back(change);
    }
    std::ranges::stable_sort(fit.changes, std::ranges::greater{}, &ProfileChange::log_odds);
    double sum = 0.0;
    for (auto const& change : fit.changes) sum += std::exp(change.log_odds - best);
    for (auto& change : fit.changes) change.probability = std::exp(change.log_odds - best) / sum;
    fit.misfits = misfits_of(as_it_is);
    fit.doubts = doubts_of(fit, as_it_is);
    // What is written stands until a change is clearly likelier: two dumps within a second cannot tell kWh from Wh, and
    // that is a doubt, not a misfit.
    constexpr double least_to_stand = 0.1;
    auto const as_written = std::ranges::find(fit.changes, ChangeKind::none, &ProfileChange::kind);
    fit.fits = fit.judged > 0 && as_written != fit.changes.end() && as_written->probability > least_to_stand &&
               4 * fit.misfits.size() <= fit.judged;
    return fit;
}

}  // namespace phasewright::decoder
