#include "bus/decoder/layout.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace phasewright::decoder {

namespace {

using codec::Function;
using profile::ValueType;

constexpr double least_gain = 2.0;      // below it the registers stay unexplained
constexpr double must_speak_for_itself = 4.0;
constexpr unsigned far_away = 64;       // as far as another table of registers is
constexpr double words_per_rival = 12;  // rivals that are e^12 times less likely are forgotten

std::size_t side_of(Function function) { return function == Function::read_input_registers ? 1 : 0; }

bool is_power_of(Quantity quantity) {
    return quantity == Quantity::p || quantity == Quantity::q || quantity == Quantity::s;
}

}  // namespace

double power_of_ten(int exponent) {
    static constexpr std::array powers{1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1, 1e0, 1e1, 1e2,
                                       1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9, 1e10};
    int const place = std::clamp(exponent, -6, 10) + 6;
    return powers.at(static_cast<std::size_t>(place));
}

double log_prior_of_scale(Placed const& placed, std::span<Placed const> before) {
    bool const floating = profile::is_floating(placed.format.type);
    for (auto const& other : before) {
        if (family_of(other.quantity) != family_of(placed.quantity) || is_counter(other.quantity)) continue;
        if (profile::is_floating(other.format.type) != floating) continue;
        return other.exponent == placed.exponent ? -0.15 : -3.0;
    }
    for (auto const& known : scales_for(placed.quantity, floating))
        if (known.exponent == placed.exponent) return known.log_probability;
    return -9.0;
}

void read_rows(Deck const& deck, Placed const& placed, Rows& rows) {
    auto const& line = deck.line(placed.function, placed.format);
    double const factor = power_of_ten(placed.exponent);
    rows.dumps.assign(deck.dumps(), Row{});
    for (std::size_t phase = 0; phase < placed.addresses.size(); ++phase) {
        int const place = deck.place_of(placed.function, placed.addresses[phase]);
        if (place < 0) continue;
        for (std::size_t dump = 0; dump < deck.dumps(); ++dump) {
            auto& shown = rows.dumps[dump].at(phase);
            shown = line.cells[static_cast<std::size_t>(place) * deck.dumps() + dump];
            shown.value *= factor;
            shown.step *= factor;
            shown.grain *= factor;
        }
    }
}

Rows rows_of(Deck const& deck, Placed const& placed) {
    Rows rows;
    read_rows(deck, placed, rows);
    return rows;
}

Picture empty_picture(Deck const& deck, Expected const& expected) {
    Picture picture{.expected = expected, .time_s = {}, .rows = {}};
    for (auto const& dump : deck.all()) picture.time_s.push_back(dump.time_s);
    return picture;
}

Draft::Draft(Deck const& deck, Expected const& expected) : deck_(&deck), picture_(empty_picture(deck, expected)) {
    for (auto const function : both_functions) taken_.at(side_of(function)).assign(deck.addresses(function).size(), false);
    measure_gaps();
}

void Draft::place(Placed placed) {
    auto const words = static_cast<std::uint32_t>(profile::registers_of(placed.format.type));
    for (auto const address : placed.addresses) {
        for (std::uint32_t word = 0; word < words; ++word) {
            int const place = deck_->place_of(placed.function, address + word);
            if (place >= 0) taken_.at(side_of(placed.function))[static_cast<std::size_t>(place)] = true;
        }
    }
    picture_.rows.at(index_of(placed.quantity)) = rows_of(*deck_, placed);
    if (words > 1) words_ = placed.format.words;
    layout_.log_odds += placed.gain;
    layout_.placed.push_back(std::move(placed));
    measure_gaps();
}

void Draft::measure_gaps() {
    for (auto const function : both_functions) {
        auto const& addresses = deck_->addresses(function);
        auto const& taken = taken_.at(side_of(function));
        auto& gaps = gaps_.at(side_of(function));
        gaps.assign(addresses.size(), far_away);
        auto const pass = [&](std::size_t at, std::optional<std::uint16_t>& last) {
            if (taken[at]) last = addresses[at];
            if (last) gaps[at] = std::min(gaps[at], static_cast<unsigned>(std::abs(int{addresses[at]} - int{*last})));
        };
        std::optional<std::uint16_t> last;
        for (std::size_t at = 0; at < addresses.size(); ++at) pass(at, last);
        last.reset();
        for (std::size_t at = addresses.size(); at-- > 0;) pass(at, last);
    }
}

bool Draft::is_free(Placed const& placed) const {
    auto const words = static_cast<std::uint32_t>(profile::registers_of(placed.format.type));
    auto const& taken = taken_.at(side_of(placed.function));
    return std::ranges::all_of(placed.addresses, [&](std::uint32_t address) {
        for (std::uint32_t word = 0; word < words; ++word) {
            int const place = deck_->place_of(placed.function, address + word);
            if (place < 0 || taken[static_cast<std::size_t>(place)]) return false;
        }
        return true;
    });
}

double Draft::log_prior(Placed const& placed) const {
    double sum = log_prior_of_type(placed.quantity, placed.format.type);
    sum += log_prior_of_scale(placed, layout_.placed);
    unsigned gap = far_away;
    auto const words = static_cast<std::uint32_t>(profile::registers_of(placed.format.type));
    auto const& gaps = gaps_.at(side_of(placed.function));
    for (auto const address : placed.addresses) {
        for (std::uint32_t const end : {std::uint32_t{address}, address + words - 1}) {
            int const place = deck_->place_of(placed.function, end);
            if (place >= 0) gap = std::min(gap, gaps[static_cast<std::size_t>(place)]);
        }
    }
    sum += log_prior_of_gap(gap > 0 ? gap - 1 : 0);
    if (!layout_.placed.empty()) {
        auto const& first = layout_.placed.front();
        sum += log_prior_beside(first.format.type, placed.format.type);
        if (first.function != placed.function) sum -= 2.0;
    }
    return sum;
}

std::vector<ValueType> Draft::types_for(Quantity quantity) const {
    using enum ValueType;
    auto const first = layout_.placed.empty() ? uint16 : layout_.placed.front().format.type;
    std::vector<ValueType> types{int32, uint32, float32};
    if (!is_counter(quantity)) types.insert(types.end(), {int16, uint16});
    if (is_counter(quantity) || profile::registers_of(first) == 4) types.insert(types.end(), {int64, uint64, float64});
    return types;
}

std::vector<unsigned> Draft::strides_for(Quantity quantity, ValueType type) const {
    auto const size = static_cast<unsigned>(profile::registers_of(type));
    if (!is_per_phase(quantity) || picture_.expected.phases == 1) return {size};
    std::vector<unsigned> strides{size};
    for (auto const& other : layout_.placed) {
        if (other.addresses.size() < 2) continue;
        auto const stride = static_cast<unsigned>(other.addresses[1] - other.addresses[0]);
        if (stride >= size && std::ranges::find(strides, stride) == strides.end()) strides.push_back(stride);
    }
    return strides;
}

void Draft::each_place(Quantity quantity,
                       std::function<void(Placed const&, Deck::Line const&, int)> const& see) const {
    bool const per_phase = is_per_phase(quantity);
    std::size_t const phases = picture_.expected.phases;
    std::size_t const fields = !per_phase ? 1 : quantity == Quantity::v_ll && phases == 2 ? 1 : phases;
    auto const bytes = layout_.placed.empty() ? profile::Order::high_first : layout_.placed.front().format.bytes;
    Placed placed{.quantity = quantity};
    for (auto const function : both_functions) {
        if (deck_->addresses(function).empty()) continue;
        placed.function = function;
        for (auto const type : types_for(quantity)) {
            placed.format = {type, words_, bytes};
            auto const& line = deck_->line(function, placed.format);
            for (auto const stride : strides_for(quantity, type)) {
                for (std::uint32_t const start : deck_->addresses(function)) {
                    placed.addresses.clear();
                    bool top = false;
                    std::size_t shown = 0;
                    for (std::size_t field = 0; field < fields; ++field) {
                        auto const address = start + static_cast<std::uint32_t>(field) * stride;
                        int const place = deck_->place_of(function, address);
                        if (place < 0) break;
                        auto const& cell = line.cells[static_cast<std::size_t>(place) * deck_->dumps()];
                        if (cell.state == Shown::State::absent) break;
                        if (cell.state == Shown::State::number) ++shown;
                        top = top || line.top_bit[static_cast<std::size_t>(place)];
                        placed.addresses.push_back(static_cast<std::uint16_t>(address));
                    }
                    if (placed.addresses.size() != fields || 2 * shown <= fields || !is_free(placed)) continue;
                    // Without the highest bit the signed and the unsigned type are one number: the likelier stands for both.
                    if (!top && !profile::is_floating(type) && is_signed(type) != mostly_signed(quantity)) continue;
                    see(placed, line, deck_->place_of(function, start));
                }
            }
        }
    }
}

namespace {

// Between which sizes the number must lie to be worth a closer look.
struct Window {
    double least = 0.0;
    double most = std::numeric_limits<double>::infinity();
};
std::array<Window, most_phases> windows_for(Quantity quantity, Picture const& picture) {
    std::array<Window, most_phases> windows;
    for (std::size_t phase = 0; phase < picture.expected.phases; ++phase) {
        auto& window = windows.at(phase);
        if (auto const told = told_by_others(quantity, picture, 0, phase)) {
            // The apparent power of the whole may be that of its P and Q, smaller than the sum of the phases'.
            window = {quantity == Quantity::s_total ? 0.0 : 0.5 * std::abs(*told), 1.5 * std::abs(*told)};
        } else if (auto const most = told_by_others(Quantity::s, picture, 0, phase); most && is_power_of(quantity)) {
            window.most = 1.1 * *most;
        }
    }
    return windows;
}

}  // namespace

namespace {

// A counter that went back between two dumps is none; one that wrapped just then would be missed.
bool falls(Rows const& rows) {
    for (std::size_t dump = 1; dump < rows.dumps.size(); ++dump)
        if (rows.dumps[dump].front().value < rows.dumps[dump - 1].front().value) return true;
    return false;
}

// What nothing else tells must speak for itself: a current in the neutral, a counter that was not seen to rise.
bool is_untold(Quantity quantity, Rows const& rows) {
    if (quantity == Quantity::i_n) return true;
    return is_counter(quantity) &&
           std::ranges::all_of(rows.dumps.begin() + 1, rows.dumps.end(), [](Row const& row) { return row.front().repeated; });
}

}  // namespace

std::vector<Placed> Draft::candidates(Quantity quantity) const {
    std::vector<Placed> found;
    Rows rows;
    double best = least_gain;
    auto const windows = windows_for(quantity, picture_);
    auto const thinkable = [&](Placed const& placed, Deck::Line const& line) {
        double const factor = power_of_ten(placed.exponent);
        for (std::size_t phase = 0; phase < placed.addresses.size(); ++phase) {
            auto const place = static_cast<std::size_t>(deck_->place_of(placed.function, placed.addresses[phase]));
            auto const& cell = line.cells[place * deck_->dumps()];
            if (cell.state != Shown::State::number) continue;
            double const size = std::abs(cell.value) * factor;
            // A step that swallows what is to be shown shows nothing.
            if (cell.step * factor > 0.5 * windows.at(phase).most) return false;
            double const slack = 3.0 * cell.step * factor;
            if (size > windows.at(phase).most + slack || size + slack < windows.at(phase).least) return false;
        }
        return true;
    };
    each_place(quantity, [&](Placed const& at, Deck::Line const& line, int) {
        Placed placed = at;
        for (auto const& scale : scales_for(quantity, profile::is_floating(at.format.type))) {
            placed.exponent = scale.exponent;
            if (!thinkable(placed, line)) continue;
            read_rows(*deck_, placed, rows);
            if (is_counter(quantity) && falls(rows)) continue;
            placed.gain = log_odds(quantity, rows, picture_) - (is_untold(quantity, rows) ? must_speak_for_itself : 0.0);
            if (placed.gain < best - words_per_rival) continue;
            placed.gain += log_prior(placed);
            if (placed.gain < best - words_per_rival || placed.gain < 0.0) continue;
            best = std::max(best, placed.gain);
            found.push_back(placed);
        }
    });
    std::ranges::stable_sort(found, std::ranges::greater{}, &Placed::gain);
    if (found.size() > 12) found.resize(12);
    return found;
}

void Draft::look_for(Quantity quantity) {
    auto found = candidates(quantity);
    if (found.empty() || found.front().gain < least_gain) return;
    double all = std::exp(-found.front().gain);  // nothing of the kind, with a gain of 0
    for (auto const& one : found) all += std::exp(one.gain - found.front().gain);
    for (auto& one : found) one.local = std::exp(one.gain - found.front().gain) / all;
    place(found.front());
    for (auto& one : found) {
        bool const placed_itself = one.addresses == found.front().addresses && one.exponent == found.front().exponent &&
                                   one.format == found.front().format;
        if (one.local > 0.001 && !placed_itself) layout_.rivals.push_back(one);
    }
}

}  // namespace phasewright::decoder
