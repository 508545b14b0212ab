// For tests: registers written as hex, and a line that answers from them without a socket.
#pragma once
#include <string>
#include <vector>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/port/line.hpp"
#include "bus/profile/register_image.hpp"

namespace phasewright::profile {

// "5375 6E53" or "53 75 6E 53": two bytes a register.
[[nodiscard]] inline codec::Registers registers(std::string_view hex_text) {
    auto const bytes = codec::hex(hex_text);
    codec::Registers values;
    for (std::size_t at = 0; at + 1 < bytes.size(); at += 2) values.push_back(codec::u16_at(bytes, at));
    return values;
}

inline void put_holding(RegisterImage& image, std::uint16_t address, std::string_view hex_text) {
    put_registers(image, codec::Function::read_holding_registers, address, registers(hex_text));
}
inline void put_input(RegisterImage& image, std::uint16_t address, std::string_view hex_text) {
    put_registers(image, codec::Function::read_input_registers, address, registers(hex_text));
}

// One device. Its clock gains `seconds_a_question`; every read is noted as "3:40000+2".
class ImageLine final : public port::Line {
public:
    explicit ImageLine(RegisterImage image) : image_(std::move(image)) {}

    std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t, codec::BytesView question) override {
        now_s_ += seconds_a_question;
        auto const parsed = codec::parse_question(question);
        auto const function = codec::u8_at(question, 0);
        if (!parsed) return codec::exception_pdu(function, parsed.error());
        if (auto const* who = std::get_if<codec::ReadIdentification>(&*parsed);
            who != nullptr && !objects.empty()) {
            return codec::identification_pdu(*who, objects).value();
        }
        auto const* const read = std::get_if<codec::ReadRegisters>(&*parsed);
        if (read == nullptr) return codec::exception_pdu(function, codec::ExceptionCode::illegal_function);
        reads.push_back(std::to_string(function) + ":" + std::to_string(read->address) + "+" +
                        std::to_string(read->count));
        if (silent_from && reads.size() > *silent_from) {
            return std::unexpected(codec::Fault{.kind = codec::FaultKind::no_answer, .detail = "silence"});
        }
        auto const values = serve(image_, *read);
        if (!values) return codec::exception_pdu(function, values.error());
        return codec::registers_pdu(*read, *values);
    }
    std::string place() const override { return "test"; }
    double now_s() const override { return now_s_; }

    double seconds_a_question = 0.125;
    std::vector<codec::IdentificationObject> objects;
    std::optional<std::size_t> silent_from;  // reads that are still answered
    std::vector<std::string> reads;

private:
    RegisterImage image_;
    double now_s_ = 0.0;
};

}  // namespace phasewright::profile
