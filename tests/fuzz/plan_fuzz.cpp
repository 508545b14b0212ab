// Plans that people write (docs/reference/plan.md).
#include "app/commands/plan_file.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    auto const text = fuzz::text_of(data, size);
    auto const read = commands::read_plan(text, "fuzz");
    if (!read) fuzz::must(!read.error().what.empty());
    return 0;
}
