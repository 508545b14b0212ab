#include "bus/codec/question.hpp"

#include <fmt/format.h>

namespace phasewright::codec {

namespace {

constexpr unsigned identification_transport = 0x0E;

std::unexpected<Fault> fault(FaultKind kind, std::string detail) {
    return std::unexpected(Fault{.kind = kind, .detail = std::move(detail)});
}
std::unexpected<Fault> malformed(std::string detail) {
    return fault(FaultKind::malformed, std::move(detail));
}

std::optional<std::string> broken_limit(std::size_t count, unsigned limit, std::uint16_t address) {
    if (count < 1 || count > limit) return fmt::format("{} registers; allowed are 1 to {}", count, limit);
    if (address + count > 0x10000U)
        return fmt::format("{} registers from {} on; the last is 65535", count, address);
    return std::nullopt;
}

std::expected<Bytes, Fault> build(ReadRegisters const& asked) {
    if (asked.function != Function::read_holding_registers &&
        asked.function != Function::read_input_registers) {
        return fault(FaultKind::bad_question, "registers are read with function 3 or 4");
    }
    if (auto const broken = broken_limit(asked.count, max_read_registers, asked.address)) {
        return fault(FaultKind::bad_question, *broken);
    }
    Bytes pdu;
    put_u8(pdu, static_cast<unsigned>(asked.function));
    put_u16(pdu, asked.address);
    put_u16(pdu, asked.count);
    return pdu;
}

std::expected<Bytes, Fault> build(WriteRegister const& asked) { return written_pdu(asked); }

std::expected<Bytes, Fault> build(WriteRegisters const& asked) {
    if (auto const broken = broken_limit(asked.values.size(), max_write_registers, asked.address)) {
        return fault(FaultKind::bad_question, *broken);
    }
    Bytes pdu = written_pdu(asked);
    put_u8(pdu, static_cast<unsigned>(asked.values.size() * 2));
    for (auto const value : asked.values)
        put_u16(pdu, value);
    return pdu;
}

std::expected<Bytes, Fault> build(ReadIdentification const& asked) {
    Bytes pdu;
    put_u8(pdu, static_cast<unsigned>(Function::read_device_identification));
    put_u8(pdu, identification_transport);
    put_u8(pdu, static_cast<unsigned>(asked.code));
    put_u8(pdu, asked.first_object);
    return pdu;
}

std::expected<Answer, Fault> judge(BytesView pdu, ReadRegisters const& asked) {
    std::size_t const data_bytes = std::size_t{asked.count} * 2;
    if (pdu.size() < 2) return malformed("the byte count is missing");
    if (u8_at(pdu, 1) != data_bytes) {
        return malformed(fmt::format("the byte count is {}; {} registers have {}", u8_at(pdu, 1), asked.count,
                                     data_bytes));
    }
    if (pdu.size() != data_bytes + 2) {
        return malformed(fmt::format("{} data bytes came, {} are announced", pdu.size() - 2, data_bytes));
    }
    Registers values;
    values.reserve(asked.count);
    for (std::size_t at = 2; at < pdu.size(); at += 2)
        values.push_back(u16_at(pdu, at));
    return values;
}

std::expected<Answer, Fault> judge_echo(BytesView pdu, BytesView expected) {
    if (std::equal(pdu.begin(), pdu.end(), expected.begin(), expected.end())) return Written{};
    return malformed(fmt::format("the echo is {}, expected was {}", to_hex(pdu), to_hex(expected)));
}
std::expected<Answer, Fault> judge(BytesView pdu, WriteRegister const& asked) {
    return judge_echo(pdu, written_pdu(asked));
}
std::expected<Answer, Fault> judge(BytesView pdu, WriteRegisters const& asked) {
    return judge_echo(pdu, written_pdu(asked));
}

std::expected<Answer, Fault> judge(BytesView pdu, ReadIdentification const& asked) {
    constexpr std::size_t header = 7;
    if (pdu.size() < header)
        return malformed(fmt::format("{} bytes; an identification has at least 7", pdu.size()));
    if (u8_at(pdu, 1) != identification_transport) {
        return malformed(fmt::format("the transport type is 0x{:02X}, asked was 0x0E", u8_at(pdu, 1)));
    }
    if (u8_at(pdu, 2) != static_cast<unsigned>(asked.code)) {
        return malformed(fmt::format("the read code is {}, asked was {}", u8_at(pdu, 2),
                                     static_cast<unsigned>(asked.code)));
    }
    unsigned const more = u8_at(pdu, 4);
    if (more != 0x00 && more != 0xFF) return malformed(fmt::format("\"more follows\" is 0x{:02X}", more));
    Identification found{.conformity = u8_at(pdu, 3),
                         .more_follows = more == 0xFF,
                         .next_object = u8_at(pdu, 5),
                         .objects = {}};
    std::size_t at = header;
    for (unsigned left = u8_at(pdu, 6); left > 0; --left) {
        if (at + 2 > pdu.size() || at + 2 + u8_at(pdu, at + 1) > pdu.size()) {
            return malformed(
                fmt::format("the answer ends inside an object; {} of {} are missing", left, u8_at(pdu, 6)));
        }
        IdentificationObject object{.id = u8_at(pdu, at), .text = {}};
        for (auto const byte : pdu.subspan(at + 2, u8_at(pdu, at + 1)))
            object.text += std::to_integer<char>(byte);
        at += 2 + object.text.size();
        found.objects.push_back(std::move(object));
    }
    if (at != pdu.size()) return malformed(fmt::format("{} bytes follow the last object", pdu.size() - at));
    return found;
}

}  // namespace

Function function_of(Question const& question) {
    struct Visitor {
        Function operator()(ReadRegisters const& asked) const { return asked.function; }
        Function operator()(WriteRegister const&) const { return Function::write_single_register; }
        Function operator()(WriteRegisters const&) const { return Function::write_multiple_registers; }
        Function operator()(ReadIdentification const&) const { return Function::read_device_identification; }
    };
    return std::visit(Visitor{}, question);
}

bool only_reads(BytesView question_pdu) {
    if (question_pdu.empty()) return false;
    switch (static_cast<Function>(u8_at(question_pdu, 0))) {
        case Function::read_holding_registers:
        case Function::read_input_registers: return true;
        case Function::read_device_identification:
            return question_pdu.size() > 1 && u8_at(question_pdu, 1) == identification_transport;
        case Function::write_single_register:
        case Function::write_multiple_registers: return false;
    }
    return false;
}

std::expected<Bytes, Fault> question_pdu(Question const& question) {
    return std::visit([](auto const& asked) { return build(asked); }, question);
}

std::expected<Answer, Fault> read_answer(BytesView pdu, Question const& asked) {
    if (pdu.empty()) return malformed("the answer is empty");
    auto const function = static_cast<unsigned>(function_of(asked));
    unsigned const answered = u8_at(pdu, 0);
    if (answered == (function | 0x80U)) {
        if (pdu.size() != 2) return malformed(fmt::format("an exception has 2 bytes, {} came", pdu.size()));
        return std::unexpected(Fault{.kind = FaultKind::refused, .detail = {}, .exception = u8_at(pdu, 1)});
    }
    if (answered != function) {
        return malformed(fmt::format("function 0x{:02X} was asked, 0x{:02X} answered", function, answered));
    }
    return std::visit([pdu](auto const& question) { return judge(pdu, question); }, asked);
}

}  // namespace phasewright::codec
