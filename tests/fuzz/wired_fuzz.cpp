// How the leads really run, against the plan of the demo building (docs/reference/twin.md).
#include <fstream>
#include <iterator>
#include <string>

#include "app/commands/plan_file.hpp"
#include "bus/twin/wired_file.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    auto const text = fuzz::text_of(data, size);
    static auto const site = [] {
        std::ifstream file(PHASEWRIGHT_SOURCE_DIR "/demo/tallowmere-yard.plan.toml", std::ios::binary);
        std::string const plan{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
        return commands::read_plan(plan, "demo").value();
    }();
    auto const read = twin::read_wired(text, "fuzz", site);
    if (!read) fuzz::must(!read.error().what.empty());
    return 0;
}
