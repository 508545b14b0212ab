#include "bus/decoder/deck.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "bus/profile/decode.hpp"

namespace phasewright::decoder {

namespace {

using codec::Function;
using profile::Field;
using profile::ValueType;

// The bits of all words of a field and what they weigh as any registers; state absent when one is missing.
Shown weighed(Field const& field, std::span<Dump const> dumps, std::size_t dump) {
    Shown shown;
    auto const words = static_cast<std::uint32_t>(profile::registers_of(field.type));
    shown.repeated = dump > 0;
    for (std::uint32_t word = 0; word < words; ++word) {
        auto const value = profile::register_at(dumps[dump].image, field.function, field.address + word);
        if (!value) return {};
        bool const still =
            dump > 0 && profile::register_at(dumps[dump - 1].image, field.function, field.address + word) == value;
        shown.log_background += log_background(*value, dump > 0, still);
        shown.repeated = shown.repeated && still;
    }
    shown.state = Shown::State::nothing;
    return shown;
}

}  // namespace

bool is_signed(ValueType type) {
    return type == ValueType::int16 || type == ValueType::int32 || type == ValueType::int64 ||
           profile::is_floating(type);
}

bool same_size_and_kind(ValueType a, ValueType b) {
    return profile::registers_of(a) == profile::registers_of(b) && profile::is_floating(a) == profile::is_floating(b);
}

std::vector<std::uint64_t> usual_nothings(ValueType type) {
    switch (type) {
        case ValueType::int16: return {0x8000, 0x7FFF};
        case ValueType::uint16: return {0xFFFF};
        case ValueType::int32: return {0x80000000, 0x7FFFFFFF};
        case ValueType::uint32: return {0xFFFFFFFF};
        case ValueType::int64: return {0x8000000000000000, 0x7FFFFFFFFFFFFFFF};
        case ValueType::uint64: return {0xFFFFFFFFFFFFFFFF};
        default: return {};
    }
}

double last_bit_of(ValueType type, double number) {
    if (!profile::is_floating(type)) return 1.0;
    int exponent = 0;
    std::frexp(number, &exponent);
    bool const single = type == ValueType::float32;
    return std::ldexp(1.0, std::max(exponent, single ? -125 : -1021) - (single ? 24 : 53));
}

double grain_of(ValueType type, double number) {
    double const bit = last_bit_of(type, number);
    if (!profile::is_floating(type) || number == 0.0 || std::abs(number) > 1e6) return bit;
    for (int decimals = 0; decimals <= 3; ++decimals) {
        double const power = std::pow(10.0, decimals);
        double rounded = std::round(number * power) / power;
        if (type == ValueType::float32) rounded = static_cast<double>(static_cast<float>(rounded));
        if (rounded == number) return std::max(bit, 0.2 / power);
    }
    return bit;
}

Shown shown_by(Field const& field, std::span<Dump const> dumps, std::size_t dump) {
    auto shown = weighed(field, dumps, dump);
    if (shown.state == Shown::State::absent) return shown;
    auto const value = profile::value_of(field, dumps[dump].image);
    if (!value) return shown;
    shown.state = Shown::State::number;
    shown.value = *value;
    double const factor = std::abs(field.scale * field.unit_factor);
    bool const floating = profile::is_floating(field.type);
    shown.step = floating ? last_bit_of(field.type, *value / factor) * factor
                          : profile::step_of(field, dumps[dump].image).value_or(factor);
    shown.grain = floating ? grain_of(field.type, *value / factor) * factor : shown.step;
    return shown;
}

Deck::Deck(std::span<Dump const> dumps) : dumps_(dumps) {
    for (auto* const table : {&holding_, &input_}) {
        std::set<std::uint16_t> known;
        for (auto const& dump : dumps) {
            for (auto const& [address, value] : table == &holding_ ? dump.image.holding : dump.image.input)
                known.insert(address);
        }
        table->addresses.assign(known.begin(), known.end());
        table->place.assign(0x10000, -1);
        for (std::size_t at = 0; at < table->addresses.size(); ++at)
            table->place[table->addresses[at]] = static_cast<int>(at);
    }
}

Deck::Table const& Deck::table(Function function) const {
    return function == Function::read_input_registers ? input_ : holding_;
}
std::vector<std::uint16_t> const& Deck::addresses(Function function) const { return table(function).addresses; }
int Deck::place_of(Function function, std::uint32_t address) const {
    return address > 0xFFFF ? -1 : table(function).place[address];
}

Deck::Line const& Deck::line(Function function, Format const& format) const {
    auto const key = std::tuple{function, format};
    auto const found = lines_.find(key);
    if (found != lines_.end()) return found->second;
    return lines_.emplace(key, made(function, format)).first->second;
}

Deck::Line Deck::made(Function function, Format const& format) const {
    Line line;
    Field field{.function = function, .type = format.type, .words = format.words, .bytes = format.bytes};
    field.not_available = usual_nothings(format.type);
    auto const bits = static_cast<unsigned>(16 * profile::registers_of(format.type));
    for (auto const address : addresses(function)) {
        field.address = address;
        bool top = false;
        for (std::size_t dump = 0; dump < dumps_.size(); ++dump) {
            line.cells.push_back(shown_by(field, dumps_, dump));
            auto const raw = profile::raw_of(field, dumps_[dump].image);
            top = top || (raw && (*raw >> (bits - 1U) & 1U) != 0);
        }
        line.top_bit.push_back(top);
    }
    return line;
}

}  // namespace phasewright::decoder
