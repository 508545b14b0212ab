// The server's side of question.hpp: what a device does with the bytes of a question.
#include <algorithm>

#include "bus/codec/question.hpp"

namespace phasewright::codec {

namespace {

using Parsed = std::expected<Question, ExceptionCode>;

std::optional<ExceptionCode> broken_limit(unsigned count, unsigned limit, unsigned address) {
    if (count < 1 || count > limit) return ExceptionCode::illegal_data_value;
    if (address + count > 0x10000U) return ExceptionCode::illegal_data_address;
    return std::nullopt;
}

Parsed parse_read(BytesView pdu) {
    if (pdu.size() != 5) return std::unexpected(ExceptionCode::illegal_data_value);
    ReadRegisters const asked{
        .function = static_cast<Function>(u8_at(pdu, 0)), .address = u16_at(pdu, 1), .count = u16_at(pdu, 3)};
    if (auto const broken = broken_limit(asked.count, max_read_registers, asked.address)) {
        return std::unexpected(*broken);
    }
    return asked;
}

Parsed parse_write_many(BytesView pdu) {
    if (pdu.size() < 6) return std::unexpected(ExceptionCode::illegal_data_value);
    unsigned const count = u16_at(pdu, 3);
    if (auto const broken = broken_limit(count, max_write_registers, u16_at(pdu, 1)))
        return std::unexpected(*broken);
    if (u8_at(pdu, 5) != count * 2 || pdu.size() != 6 + count * 2) {
        return std::unexpected(ExceptionCode::illegal_data_value);
    }
    WriteRegisters asked{.address = u16_at(pdu, 1), .values = {}};
    for (std::size_t at = 6; at < pdu.size(); at += 2)
        asked.values.push_back(u16_at(pdu, at));
    return asked;
}

Parsed parse_identification(BytesView pdu) {
    if (pdu.size() < 2 || u8_at(pdu, 1) != 0x0E) return std::unexpected(ExceptionCode::illegal_function);
    if (pdu.size() != 4) return std::unexpected(ExceptionCode::illegal_data_value);
    unsigned const code = u8_at(pdu, 2);
    if (code < 1 || code > 4) return std::unexpected(ExceptionCode::illegal_data_value);
    return ReadIdentification{.code = static_cast<IdentificationCode>(code), .first_object = u8_at(pdu, 3)};
}

void put_echo(Bytes& pdu, Function function, unsigned first, unsigned second) {
    put_u8(pdu, static_cast<unsigned>(function));
    put_u16(pdu, first);
    put_u16(pdu, second);
}

// The objects that a question asks for. A stream that starts at an object which does not exist starts over at
// the first (clause 6.21).
std::vector<IdentificationObject const*> chosen(ReadIdentification const& asked,
                                                std::vector<IdentificationObject> const& objects) {
    unsigned const last = asked.code == IdentificationCode::basic     ? 0x02U
                          : asked.code == IdentificationCode::regular ? 0x7FU
                                                                      : 0xFFU;
    bool const one = asked.code == IdentificationCode::one_object;
    std::vector<IdentificationObject const*> category;
    for (auto const& object : objects) {
        if (one ? object.id == asked.first_object : object.id <= last) category.push_back(&object);
    }
    std::ranges::sort(category, {}, [](auto const* object) { return object->id; });
    if (one) return category;
    auto const first =
        std::ranges::find(category, asked.first_object, [](auto const* object) { return object->id; });
    if (first != category.end()) category.erase(category.begin(), first);
    return category;
}

}  // namespace

std::expected<Question, ExceptionCode> parse_question(BytesView pdu) {
    if (pdu.empty()) return std::unexpected(ExceptionCode::illegal_function);
    switch (static_cast<Function>(u8_at(pdu, 0))) {
        case Function::read_holding_registers:
        case Function::read_input_registers: return parse_read(pdu);
        case Function::write_single_register:
            if (pdu.size() != 5) return std::unexpected(ExceptionCode::illegal_data_value);
            return WriteRegister{.address = u16_at(pdu, 1), .value = u16_at(pdu, 3)};
        case Function::write_multiple_registers: return parse_write_many(pdu);
        case Function::read_device_identification: return parse_identification(pdu);
    }
    return std::unexpected(ExceptionCode::illegal_function);
}

Bytes registers_pdu(ReadRegisters const& asked, std::span<std::uint16_t const> values) {
    Bytes pdu;
    put_u8(pdu, static_cast<unsigned>(asked.function));
    put_u8(pdu, static_cast<unsigned>(values.size() * 2));
    for (auto const value : values)
        put_u16(pdu, value);
    return pdu;
}

Bytes written_pdu(WriteRegister const& asked) {
    Bytes pdu;
    put_echo(pdu, Function::write_single_register, asked.address, asked.value);
    return pdu;
}

Bytes written_pdu(WriteRegisters const& asked) {
    Bytes pdu;
    put_echo(pdu, Function::write_multiple_registers, asked.address,
             static_cast<unsigned>(asked.values.size()));
    return pdu;
}

std::expected<Bytes, ExceptionCode> identification_pdu(ReadIdentification const& asked,
                                                       std::vector<IdentificationObject> const& objects,
                                                       std::uint8_t conformity) {
    auto const category = chosen(asked, objects);
    if (asked.code == IdentificationCode::one_object && category.empty()) {
        return std::unexpected(ExceptionCode::illegal_data_address);
    }
    Bytes listed;
    unsigned count = 0;
    unsigned next = 0;
    for (auto const* object : category) {
        constexpr std::size_t header = 7;
        auto const text = object->text.substr(0, max_pdu_bytes - header - 2);
        if (header + listed.size() + 2 + text.size() > max_pdu_bytes) {
            next = object->id;
            break;
        }
        put_u8(listed, object->id);
        put_u8(listed, static_cast<unsigned>(text.size()));
        for (char const c : text)
            put_u8(listed, static_cast<unsigned char>(c));
        ++count;
    }
    bool const more = count < category.size();
    Bytes pdu;
    put_u8(pdu, static_cast<unsigned>(Function::read_device_identification));
    put_u8(pdu, 0x0E);
    put_u8(pdu, static_cast<unsigned>(asked.code));
    put_u8(pdu, conformity);
    put_u8(pdu, more ? 0xFF : 0x00);
    put_u8(pdu, next);
    put_u8(pdu, count);
    put_bytes(pdu, listed);
    return pdu;
}

Bytes exception_pdu(std::uint8_t function, ExceptionCode code) {
    Bytes pdu;
    put_u8(pdu, function | 0x80U);
    put_u8(pdu, static_cast<unsigned>(code));
    return pdu;
}

}  // namespace phasewright::codec
