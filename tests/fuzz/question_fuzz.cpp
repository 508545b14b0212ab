// PDUs on both sides. First byte: which question the answer belongs to.
#include <variant>

#include "bus/codec/question.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    if (size == 0) return 0;
    codec::Bytes pdu(size - 1);
    for (std::size_t at = 1; at < size; ++at) pdu[at - 1] = static_cast<std::byte>(data[at]);
    // What is understood is understood whole.
    if (auto const question = codec::parse_question(pdu)) fuzz::must(codec::question_pdu(*question).value() == pdu);
    codec::Question asked = codec::ReadRegisters{.address = 107, .count = static_cast<std::uint16_t>(1 + data[0] % 125)};
    if (data[0] % 4 == 1) asked = codec::WriteRegister{.address = 1, .value = 3};
    if (data[0] % 4 == 2) asked = codec::WriteRegisters{.address = 1, .values = {10, 258}};
    if (data[0] % 4 == 3) asked = codec::ReadIdentification{};
    auto const answer = codec::read_answer(pdu, asked);
    if (!answer) {
        fuzz::must(!codec::to_finding(answer.error()).empty());
        return 0;
    }
    if (auto const* const values = std::get_if<codec::Registers>(&*answer))
        fuzz::must(values->size() == std::get<codec::ReadRegisters>(asked).count);
    return 0;
}
