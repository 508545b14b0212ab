#include "bus/port/line.hpp"

#include <chrono>

#include <fmt/format.h>

namespace phasewright::port {

double Line::now_s() const {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

namespace {

codec::Fault with_place(codec::Fault fault, Line const& line, std::uint8_t unit) {
    if (fault.where.empty()) fault.where = fmt::format("{} unit {}", line.place(), unit);
    return fault;
}

std::expected<codec::Answer, codec::Fault> converse(Line& line, std::uint8_t unit,
                                                    codec::Question const& question) {
    auto const pdu = codec::question_pdu(question);
    if (!pdu) return std::unexpected(with_place(pdu.error(), line, unit));
    auto const answer_pdu = line.ask(unit, *pdu);
    if (!answer_pdu) return std::unexpected(with_place(answer_pdu.error(), line, unit));
    auto answer = codec::read_answer(*answer_pdu, question);
    if (!answer) return std::unexpected(with_place(answer.error(), line, unit));
    return answer;
}

std::expected<void, codec::Fault> written(std::expected<codec::Answer, codec::Fault> const& answer) {
    if (!answer) return std::unexpected(answer.error());
    return {};
}

}  // namespace

std::expected<codec::Registers, codec::Fault> read_registers(Line& line, std::uint8_t unit,
                                                             codec::Function function, std::uint16_t address,
                                                             std::uint16_t count) {
    auto answer =
        converse(line, unit, codec::ReadRegisters{.function = function, .address = address, .count = count});
    if (!answer) return std::unexpected(answer.error());
    return std::get<codec::Registers>(std::move(*answer));
}

std::expected<void, codec::Fault> write_register(Line& line, std::uint8_t unit, std::uint16_t address,
                                                 std::uint16_t value) {
    return written(converse(line, unit, codec::WriteRegister{.address = address, .value = value}));
}

std::expected<void, codec::Fault> write_registers(Line& line, std::uint8_t unit, std::uint16_t address,
                                                  codec::Registers const& values) {
    return written(converse(line, unit, codec::WriteRegisters{.address = address, .values = values}));
}

std::expected<codec::Identification, codec::Fault> read_identification(Line& line, std::uint8_t unit,
                                                                       codec::IdentificationCode code) {
    codec::Identification whole;
    codec::ReadIdentification question{.code = code, .first_object = 0};
    // Each answer must bring at least one object with a higher id than the last: at most 256 rounds, whatever
    // comes.
    while (true) {
        auto answer = converse(line, unit, question);
        if (!answer) return std::unexpected(answer.error());
        auto part = std::get<codec::Identification>(std::move(*answer));
        whole.conformity = part.conformity;
        bool const more = part.more_follows && part.next_object > question.first_object;
        for (auto& object : part.objects)
            whole.objects.push_back(std::move(object));
        if (!more) return whole;
        question.first_object = part.next_object;
    }
}

}  // namespace phasewright::port
