#include "bus/profile/register_image.hpp"

namespace phasewright::profile {

namespace {
std::map<std::uint16_t, std::uint16_t> const& table_of(RegisterImage const& image, codec::Function function) {
    return function == codec::Function::read_input_registers ? image.input : image.holding;
}
}  // namespace

std::optional<std::uint16_t> register_at(RegisterImage const& image, codec::Function function,
                                         std::uint32_t address) {
    if (address > 0xFFFF) return std::nullopt;
    auto const& table = table_of(image, function);
    auto const found = table.find(static_cast<std::uint16_t>(address));
    if (found == table.end()) return std::nullopt;
    return found->second;
}

void put_registers(RegisterImage& image, codec::Function function, std::uint16_t address,
                   std::span<std::uint16_t const> values) {
    auto& table = function == codec::Function::read_input_registers ? image.input : image.holding;
    for (auto const value : values) table[address++] = value;
}

std::expected<codec::Registers, codec::ExceptionCode> serve(RegisterImage const& image,
                                                            codec::ReadRegisters const& asked) {
    codec::Registers values;
    for (std::uint32_t offset = 0; offset < asked.count; ++offset) {
        auto const value = register_at(image, asked.function, asked.address + offset);
        if (!value) return std::unexpected(codec::ExceptionCode::illegal_data_address);
        values.push_back(*value);
    }
    return values;
}

}  // namespace phasewright::profile
