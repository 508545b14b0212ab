#include "app/commands/plan_export_command.hpp"

#include <ostream>

#include "app/commands/plan_file.hpp"
#include "app/commands/schedule_sheet.hpp"
#include "app/commands/whole_file.hpp"
#include "print/workbook/csv.hpp"
#include "print/workbook/xlsx_writer.hpp"

namespace phasewright::commands {

namespace {
std::expected<void, quantity::Fault> exported(PlanExportOptions const& options, std::ostream& out) {
    if (!options.xlsx && !options.csv)
        return std::unexpected(quantity::Fault{"no file to write is named", {}, {}, "--xlsx FILE, --csv FILE or both", {}});
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return std::unexpected(text.error());
    auto const site = read_draft(*text, options.plan_file.string());
    if (!site) return std::unexpected(site.error());
    auto const sheet = schedule_of(*site);
    if (options.xlsx)
        if (auto const written = workbook::write_xlsx({sheet}, *options.xlsx); !written) return written;
    if (!options.csv) return {};
    auto const csv = workbook::write_csv(sheet);
    if (*options.csv != "-") return write_whole(*options.csv, csv, "schedule", "name another file with --csv");
    out << csv;
    return {};
}
}  // namespace

int plan_export_command(PlanExportOptions const& options, std::ostream& out, std::ostream& err) {
    if (auto const done = exported(options, out); !done) return err << quantity::to_sentence(done.error()) << "\n", 2;
    return 0;
}

}  // namespace phasewright::commands
