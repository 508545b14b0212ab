// What a meter's register tables hold, as far as it is known: sparse, one table of holding registers and
// one of input registers. A client fills it by reading; a virtual meter serves from it.
#pragma once
#include <cstdint>
#include <expected>
#include <map>
#include <optional>
#include <span>

#include "bus/codec/question.hpp"

namespace phasewright::profile {

struct RegisterImage {
    std::map<std::uint16_t, std::uint16_t> holding;  // function 3
    std::map<std::uint16_t, std::uint16_t> input;    // function 4
    friend bool operator==(RegisterImage const&, RegisterImage const&) = default;
};

[[nodiscard]] std::optional<std::uint16_t> register_at(RegisterImage const& image, codec::Function function,
                                                       std::uint32_t address);
void put_registers(RegisterImage& image, codec::Function function, std::uint16_t address,
                   std::span<std::uint16_t const> values);

// A device's answer to a read: its registers, or illegal_data_address when one of them does not exist.
[[nodiscard]] std::expected<codec::Registers, codec::ExceptionCode> serve(RegisterImage const& image,
                                                                          codec::ReadRegisters const& asked);

}  // namespace phasewright::profile
