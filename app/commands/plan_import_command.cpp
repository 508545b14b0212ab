#include "app/commands/plan_import_command.hpp"

#include <algorithm>
#include <istream>
#include <iterator>
#include <ostream>

#include "app/commands/plan_entries.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"
#include "app/commands/schedule_rows.hpp"
#include "app/commands/whole_file.hpp"
#include "print/workbook/csv.hpp"
#include "print/workbook/xlsx_reader.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;
using workbook::Sheet;

struct Chosen {
    Sheet sheet;
    ScheduleLayout layout;
};

std::string where_of(std::string const& file, Sheet const& sheet) {
    return sheet.name.empty() ? file : file + " sheet \"" + sheet.name + "\"";
}

// The one sheet that has a header row, or the one that was asked for.
std::expected<Chosen, Fault> schedule_in(std::vector<Sheet> sheets, std::string const& file, std::string const& wanted) {
    std::optional<Chosen> chosen;
    std::vector<std::string> names;
    for (auto& sheet : sheets) {
        names.push_back(sheet.name);
        if (!wanted.empty() && sheet.name != wanted) continue;
        auto const layout = layout_of(sheet, where_of(file, sheet));
        if (!layout) return std::unexpected(layout.error());
        if (!*layout) continue;
        if (chosen)
            return std::unexpected(Fault{"two sheets look like a schedule", file, chosen->sheet.name + ", " + sheet.name, "one of them",
                                         "name it with --sheet"});
        chosen = Chosen{std::move(sheet), **layout};
    }
    if (chosen) return std::move(*chosen);
    if (!wanted.empty() && std::ranges::find(names, wanted) == names.end())
        return std::unexpected(Fault{"the file has no such sheet", file, wanted, quantity::joined(names, ", "), {}});
    return std::unexpected(Fault{"no row among the first looks like the header of a schedule", file, {},
                                 "a row with two columns or more that are known: point, panel, service, breaker, CT ratio",
                                 "docs/reference/schedule.md lists what is read above a column"});
}

std::expected<std::vector<Sheet>, Fault> sheets_of(std::string const& bytes, std::string const& file) {
    if (workbook::looks_like_xlsx(bytes)) return workbook::read_xlsx(bytes, file);
    auto sheet = workbook::read_csv(bytes, file);
    if (!sheet) return std::unexpected(sheet.error());
    std::vector<Sheet> sheets;
    sheets.push_back(std::move(*sheet));
    return sheets;
}

std::expected<std::optional<plan::Nominal>, Fault> nominal_of(PlanImportOptions const& options) {
    if (options.nominal.empty()) return std::nullopt;
    auto const slash = options.nominal.find('/');
    auto const v_ln = number_in(options.nominal.substr(0, slash), DecimalSign::point);
    auto const v_ll = slash == std::string::npos ? v_ln : number_in(options.nominal.substr(slash + 1), DecimalSign::point);
    if (slash == std::string::npos || !v_ln || !v_ll || *v_ln < 1.0 || *v_ll < *v_ln || *v_ll > 1000.0)
        return std::unexpected(Fault{"the rated voltages are not understood", "--nominal", options.nominal, "V_LN/V_LL, such as 230/400", {}});
    return plan::Nominal{*v_ln, *v_ll, options.hz};
}

std::expected<plan::Site, Fault> base_of(PlanImportOptions const& options) {
    if (options.into) {
        auto const text = text_of(*options.into, "the plan");
        if (!text) return std::unexpected(text.error());
        return read_draft(*text, options.into->string());
    }
    plan::Site site;
    site.name = options.out.stem().string();
    if (site.name.ends_with(".plan")) site.name.resize(site.name.size() - 5);
    site.region = *plan::region_of("iec");
    return site;
}

std::string cell_of(std::string const& file, Sheet const& sheet, RowTrouble const& trouble) {
    return file + ":" + (sheet.name.empty() ? "" : sheet.name + "!") + workbook::cell_name(trouble.row, trouble.column);
}

// The rows as they stood, with the cell and the reason before them. They may be mended there and read again.
std::string aside_text(Chosen const& chosen, std::vector<RowTrouble> const& aside) {
    Sheet rows;
    auto const with = [&](std::size_t row, std::string first, std::string second) {
        workbook::Row made;
        bool const again = !chosen.layout.columns.empty() && chosen.layout.columns.front().is_ours;  // read from such a file
        made.push_back({.text = std::move(first)});
        made.push_back({.text = std::move(second)});
        auto const& old = chosen.sheet.rows[row];
        made.insert(made.end(), old.begin() + static_cast<std::ptrdiff_t>(again ? std::min<std::size_t>(2, old.size()) : 0), old.end());
        rows.rows.push_back(std::move(made));
    };
    with(chosen.layout.header_row, std::string{aside_cell}, std::string{aside_why});
    for (auto const& trouble : aside) with(trouble.row, workbook::cell_name(trouble.row, trouble.column), trouble.what);
    return workbook::write_csv(rows);
}

std::filesystem::path aside_file(std::filesystem::path out) {
    out.replace_extension();
    return out.string() + ".aside.csv";
}

std::expected<int, Fault> imported(PlanImportOptions const& options, std::string const& bytes, std::ostream& out) {
    auto const file = options.schedule_file == "-" ? std::string{"standard input"} : options.schedule_file.string();
    auto sheets = sheets_of(bytes, file);
    if (!sheets) return std::unexpected(sheets.error());
    auto const chosen = schedule_in(std::move(*sheets), file, options.sheet);
    if (!chosen) return std::unexpected(chosen.error());
    auto base = base_of(options);
    if (!base) return std::unexpected(base.error());
    auto const nominal = nominal_of(options);
    if (!nominal) return std::unexpected(nominal.error());
    ImportRules rules{.plan_file = options.into.value_or(options.out).string(), .panel = options.panel,
                      .may_add = !options.into, .nominal = *nominal};
    if (rules.may_add && !rules.panel.empty() && *nominal && is_id(rules.panel))
        base->panels.push_back({.id = rules.panel, .name = rules.panel, .nominal = **nominal});
    if (!rules.panel.empty() && std::ranges::find(base->panels, rules.panel, &plan::Panel::id) == base->panels.end())
        return std::unexpected(Fault{"the plan has no such panel", "--panel", rules.panel, "the id of a panel", "--nominal as well, for a new one"});
    auto const done = import_rows(std::move(*base), chosen->sheet, chosen->layout, rules);

    auto const text = write_plan(done.site);
    if (done.added + done.changed > 0) {
        if (auto const again = read_draft(text, rules.plan_file); !again) return std::unexpected(again.error());
        if (auto const written = write_whole(options.out, text, "plan", "name another file with -o"); !written)
            return std::unexpected(written.error());
    }
    if (!done.aside.empty()) {
        auto const beside = aside_file(options.out);
        if (auto const written = write_whole(beside, aside_text(*chosen, done.aside), "file of rows kept aside", "name another file with -o"); !written)
            return std::unexpected(written.error());
        for (auto const& trouble : done.aside)
            out << cell_of(file, chosen->sheet, trouble) << ": " << trouble.what
                << (trouble.found.empty() ? "" : "; found \"" + trouble.found + "\"") << "\n";
        out << done.aside.size() << " rows are kept aside in " << beside.string() << "\n";
    }
    if (done.added + done.changed == 0) {
        out << "no row came in; " << options.out.string() << " was not written\n";
        return done.aside.empty() ? 0 : 1;
    }
    out << done.added << " points added, " << done.changed << " changed: " << options.out.string() << "\n";
    return done.aside.empty() ? 0 : 1;
}
}  // namespace

int plan_import_command(PlanImportOptions const& options, std::istream& in, std::ostream& out, std::ostream& err) {
    std::string bytes;
    if (options.schedule_file == "-") {
        bytes.assign(std::istreambuf_iterator<char>(in), {});
    } else {
        auto text = text_of(options.schedule_file, "the schedule");
        if (!text) return err << quantity::to_sentence(text.error()) << "\n", 2;
        bytes = std::move(*text);
    }
    auto const done = imported(options, bytes, out);
    if (!done) return err << quantity::to_sentence(done.error()) << "\n", 2;
    return *done;
}

}  // namespace phasewright::commands
