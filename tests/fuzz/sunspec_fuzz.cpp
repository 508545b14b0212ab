// SunSpec blocks of any words, and the finder on a line whose every answer is drawn from the input. First two bytes: the
// model; the rest: registers.
#include <algorithm>

#include "bus/profile/energy.hpp"
#include "bus/profile/meter_reading.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

namespace {

// Registers of the input stand at 40000 and are repeated for ever; now and then the device refuses or is silent.
class DrawnLine final : public port::Line {
public:
    explicit DrawnLine(codec::Registers words) : words_(std::move(words)) {}
    std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t, codec::BytesView question) override {
        fuzz::must(++asked_ < 5000);  // no chain of models leads on for ever
        auto const parsed = codec::parse_question(question);
        fuzz::must(parsed.has_value());
        auto const* const read = std::get_if<codec::ReadRegisters>(&*parsed);
        if (read == nullptr) return codec::exception_pdu(codec::u8_at(question, 0), codec::ExceptionCode::illegal_function);
        fuzz::must(read->count >= 1 && read->count <= codec::max_read_registers);
        codec::Registers values;
        for (std::uint32_t at = 0; at < read->count; ++at) {
            std::uint32_t const address = std::uint32_t{read->address} + at;
            fuzz::must(address <= 0xFFFF);
            values.push_back(words_[(address + 65536U - 40000U) % words_.size()]);
        }
        if (values.front() == 0xDEAD) return codec::exception_pdu(codec::u8_at(question, 0), codec::ExceptionCode::illegal_data_address);
        if (values.front() == 0xBEEF) return std::unexpected(codec::Fault{.kind = codec::FaultKind::no_answer, .detail = {}, .exception = {}, .where = {}});
        return codec::registers_pdu(*read, values);
    }
    std::string place() const override { return "drawn"; }

private:
    codec::Registers words_;
    int asked_ = 0;
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    codec::Registers words;
    for (std::size_t at = 0; at + 1 < size; at += 2) words.push_back(static_cast<std::uint16_t>(data[at] << 8U | data[at + 1]));
    if (words.empty()) return 0;
    auto const body = std::span(words).subspan(1);
    for (int const model : {int{words.front()}, 201, 203, 204, 211, 213}) {
        (void)profile::decode_sunspec(model, body);
        (void)profile::decode_sunspec(model, body, plan::Service::three_wire_two_element);
        (void)profile::sunspec_energies(model, body);
    }
    (void)profile::to_text(profile::decode_common(body));
    DrawnLine line(words);
    (void)profile::find_sunspec(line, 1);
    return 0;
}
