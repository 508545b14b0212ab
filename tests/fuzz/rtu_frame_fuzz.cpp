// A serial line brings anything: frames, two at once, echoes, noise. First byte: which question was asked.
#include "bus/codec/rtu_answer.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    if (size == 0) return 0;
    codec::Bytes heard(size - 1);
    for (std::size_t at = 1; at < size; ++at) heard[at - 1] = static_cast<std::byte>(data[at]);
    if (auto const frame = codec::read_rtu_frame(heard)) fuzz::must(codec::to_bytes(*frame) == heard);
    (void)codec::announced_bytes(heard);
    codec::Question question = codec::ReadRegisters{.address = 107, .count = static_cast<std::uint16_t>(1 + data[0] % 125)};
    if (data[0] % 4 == 1) question = codec::WriteRegister{.address = 1, .value = 3};
    if (data[0] % 4 == 2) question = codec::WriteRegisters{.address = 1, .values = {10, 258}};
    if (data[0] % 4 == 3) question = codec::ReadIdentification{};
    codec::RtuFrame const asked{.unit = 1, .pdu = codec::question_pdu(question).value()};
    for (bool const echo : {false, true}) {
        auto const found = codec::find_answer(heard, asked, question, echo);
        fuzz::must(found.echoed <= heard.size() && found.unexplained <= heard.size());
        fuzz::must((found.state == codec::RtuSearch::State::whole) == found.answer.has_value());
        if (found.answer) fuzz::must(!codec::mismatch(*found.answer, asked) && codec::to_bytes(*found.answer).size() <= heard.size());
    }
    return 0;
}
