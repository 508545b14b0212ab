// Reading sets, one JSON object a line (docs/reference/readings.md), and whether their numbers contradict each other.
#include "app/commands/reading_lines.hpp"
#include "core/readings/check.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    auto const text = fuzz::text_of(data, size);
    auto const read = commands::read_line(text);
    if (!read) {
        fuzz::must(!read.error().fault.what.empty() || !read.error().fault.found.empty());
        return 0;
    }
    (void)readings::check(read->set);
    return 0;
}
