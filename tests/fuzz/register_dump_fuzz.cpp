// Register dumps (docs/reference/register-dump.md): what is read is written back and read again.
#include "bus/decoder/register_dump.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    auto const text = fuzz::text_of(data, size);
    auto const read = decoder::read_dumps(text, "fuzz");
    if (!read) {
        fuzz::must(!read.error().what.empty());
        return 0;
    }
    fuzz::must(!read->empty());
    for (auto const& dump : *read) fuzz::must(decoder::registers_in(dump) > 0);
    auto const again = decoder::read_dumps(decoder::to_text(*read), "fuzz");
    fuzz::must(again.has_value() && *again == *read);
    return 0;
}
