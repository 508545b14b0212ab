// XLSX files that people bring (docs/reference/schedule.md): any bytes, within limits.
#include "print/workbook/xlsx_reader.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    workbook::Limits const limits{.bytes = 4U << 20U, .part_bytes = 2U << 20U, .parts = 50, .rows = 2000, .columns = 100, .cells = 20'000};
    auto const read = workbook::read_xlsx(fuzz::text_of(data, size), "fuzz", limits);
    if (!read) {
        fuzz::must(!read.error().what.empty());
        return 0;
    }
    for (auto const& sheet : *read) {
        fuzz::must(sheet.rows.size() <= limits.rows);
        for (auto const& row : sheet.rows) fuzz::must(row.size() <= limits.columns);
    }
    return 0;
}
