// How one number is kept in registers: where, how wide, in which order, scaled by what.
//   value in SI = sign * raw * scale * 10^(scale register) * unit factor
// docs/reference/profile.md, "Numbers, addresses, words".
#pragma once
#include <cstdint>
#include <optional>
#include <vector>

#include "bus/codec/question.hpp"

namespace phasewright::profile {

enum class ValueType { int16, uint16, int32, uint32, int64, uint64, float32, float64 };
[[nodiscard]] int registers_of(ValueType type);  // 1, 2 or 4

enum class Order { high_first, low_first };  // of the words in a value, of the bytes in a word

// How a register can hold the scale of others: 10^raw, raw itself, or 1/raw.
enum class ScaleKind { power_of_ten, multiplier, divisor };
struct ScaleRegister {
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;
    ScaleKind kind = ScaleKind::power_of_ten;
    int usual = 0;  // the raw value it usually holds; only virtual meters use it
};

struct Field {
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;  // on the wire, the profile's base included
    ValueType type = ValueType::uint16;
    Order words = Order::high_first;
    Order bytes = Order::high_first;
    double scale = 1.0;
    std::optional<ScaleRegister> scale_register;
    double unit_factor = 1.0;  // 1000 for kW
    bool reversed = false;     // the meter's sign is the opposite of docs/reference/directions.md
    std::vector<std::uint64_t> not_available;  // raw bit patterns, right-aligned
};

struct TextField {  // characters, two a register, high byte first; ends at the first NUL
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;
    std::uint16_t registers = 1;
};

}  // namespace phasewright::profile
