// Schedules as CSV (docs/reference/schedule.md): any bytes; what reads is written and reads back the same, and its rows come
// into a plan or stand aside.
#include "app/commands/schedule_rows.hpp"
#include "print/workbook/csv.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    if (size > (16U << 10U)) return 0;
    auto const read = workbook::read_csv(fuzz::text_of(data, size), "fuzz");
    if (!read) {
        fuzz::must(!read.error().what.empty());
        return 0;
    }
    auto const layout = commands::layout_of(*read, "fuzz");
    if (!layout || !*layout) return 0;
    plan::Site base;
    base.name = "fuzz";
    base.region = *plan::region_of("iec");
    auto const done = commands::import_rows(base, *read, **layout,
                                            {.plan_file = "fuzz", .panel = {}, .may_add = true, .nominal = plan::Nominal{230.0, 400.0, 50.0}});
    std::size_t rows = 0;
    for (std::size_t r = (*layout)->header_row + 1; r < read->rows.size(); ++r) rows += workbook::is_empty(read->rows[r]) ? 0 : 1;
    fuzz::must(done.added + done.changed + done.aside.size() == rows);
    fuzz::must(done.site.points.size() == done.added);
    return 0;
}
