// Every register of the dumps read as every kind of number: what stands at an address if a field of this format began
// there. Made once for each format and looked up many times.
#pragma once
#include <map>
#include <span>
#include <tuple>
#include <vector>

#include "bus/decoder/likelihood.hpp"
#include "bus/decoder/register_dump.hpp"
#include "bus/profile/raw_number.hpp"

namespace phasewright::decoder {

struct Format {
    profile::ValueType type = profile::ValueType::uint16;
    profile::Order words = profile::Order::high_first;
    profile::Order bytes = profile::Order::high_first;
    friend auto operator<=>(Format const&, Format const&) = default;
};
[[nodiscard]] bool is_signed(profile::ValueType type);
[[nodiscard]] bool same_size_and_kind(profile::ValueType a, profile::ValueType b);  // int32 and uint32

// The raw patterns that often stand for "no value": the ends of the range, and all bits set.
[[nodiscard]] std::vector<std::uint64_t> usual_nothings(profile::ValueType type);
// What the last bit of this number is worth: 1 for whole numbers, 2^(exponent - 23 or 52) for floating point.
[[nodiscard]] double last_bit_of(profile::ValueType type, double number);
// How wide a stretch of numbers the meter shows as this one. Floating point that holds exactly 231 or 0.92 was rounded
// before it was sent: it is a coarser witness than its last bit.
[[nodiscard]] double grain_of(profile::ValueType type, double number);
// What this field shows in a dump, read as its profile says; `nothings` false: only its own not_available counts.
[[nodiscard]] Shown shown_by(profile::Field const& field, std::span<Dump const> dumps, std::size_t dump);

class Deck {
public:
    explicit Deck(std::span<Dump const> dumps);

    struct Line {  // the fields of one format that could begin at each address
        std::vector<Shown> cells;     // address place * dumps + dump
        std::vector<bool> top_bit;    // at a place: the highest bit is set in some dump
    };
    [[nodiscard]] std::vector<std::uint16_t> const& addresses(codec::Function function) const;
    [[nodiscard]] Line const& line(codec::Function function, Format const& format) const;
    // Where the address stands among addresses(function); -1 when no dump has it.
    [[nodiscard]] int place_of(codec::Function function, std::uint32_t address) const;
    [[nodiscard]] std::size_t dumps() const { return dumps_.size(); }
    [[nodiscard]] std::span<Dump const> all() const { return dumps_; }

private:
    struct Table {
        std::vector<std::uint16_t> addresses;
        std::vector<int> place;  // of each of the 65536 addresses
    };
    [[nodiscard]] Table const& table(codec::Function function) const;
    [[nodiscard]] Line made(codec::Function function, Format const& format) const;

    std::span<Dump const> dumps_;
    Table holding_, input_;
    mutable std::map<std::tuple<codec::Function, Format>, Line> lines_;
};

}  // namespace phasewright::decoder
