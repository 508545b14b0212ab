#include "app/commands/schedule_rows.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "app/commands/plan_bus.hpp"
#include "app/commands/plan_entries.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;

constexpr std::size_t rows_looked_at = 20;  // for the header; titles and dates stand above it

ScheduleLayout layout_at(workbook::Sheet const& sheet, std::size_t header_row) {
    ScheduleLayout layout{.header_row = header_row, .columns = {}};
    std::size_t width = 0;
    for (std::size_t r = header_row; r < sheet.rows.size(); ++r) width = std::max(width, sheet.rows[r].size());
    std::set<std::string> headers;
    for (std::size_t k = 0; k < width; ++k) {
        ScheduleColumn column{.known = {}, .header = trimmed(workbook::text_at(sheet.rows[header_row], k))};
        if (column.header.empty()) column.header = "column " + workbook::column_name(k);
        else column.known = known_header(column.header);
        column.is_ours = column.header == aside_cell || column.header == aside_why;
        // Two columns of somebody's own with one name stay two.
        auto const name = column.header;
        for (int n = 2; !headers.insert(column.header).second; ++n) column.header = name + " (" + std::to_string(n) + ")";
        layout.columns.push_back(std::move(column));
    }
    for (std::size_t k = 0; k < width && layout.sign == DecimalSign::unknown; ++k) {
        auto const& known = layout.columns[k].known;
        if (!known || head_of(known->column).content == Content::text) continue;
        for (std::size_t r = header_row + 1; r < sheet.rows.size() && layout.sign == DecimalSign::unknown; ++r)
            if (k < sheet.rows[r].size() && !sheet.rows[r][k].is_number) layout.sign = sign_shown_by(sheet.rows[r][k].text);
    }
    return layout;
}

// What the reader of plans says against this point alone.
std::optional<Fault> fault_of(plan::Site const& base, plan::MeteringPoint point, std::string const& plan_file) {
    auto alone = base;
    point.parent.clear();
    alone.points = {std::move(point)};
    auto const read = read_draft(write_plan(alone), plan_file);
    return read ? std::nullopt : std::optional{read.error()};
}

class Import {
public:
    Import(plan::Site base, workbook::Sheet const& sheet, ScheduleLayout const& layout, ImportRules const& rules)
        : sheet_(sheet), layout_(layout), rules_(rules), frame_(base) {
        done_.site = std::move(base);
        frame_.points.clear();
        frame_.sums.clear();
        for (auto const& point : done_.site.points)
            if (!point.to_choose.address) places_[place_of(point)] = point.id;
    }

    Imported run() {
        for (std::size_t r = layout_.header_row + 1; r < sheet_.rows.size(); ++r)
            if (!workbook::is_empty(sheet_.rows[r])) take(r);
        while (drop_orphans() || drop_rings()) {}
        done_.site.panels = std::move(frame_.panels);
        done_.site.serial_lines = std::move(frame_.serial_lines);
        std::ranges::sort(done_.aside, {}, &RowTrouble::row);
        for (auto const& [id, from] : rows_) (from.before ? done_.changed : done_.added) += 1;
        return std::move(done_);
    }

private:
    struct Origin {
        std::size_t row = 0;
        std::optional<plan::MeteringPoint> before;  // as it stood in the plan
    };

    void put_aside(std::size_t row, std::optional<std::size_t> column, std::string what, std::string found) {
        done_.aside.push_back({row, column.value_or(0), std::move(what), std::move(found)});
    }
    [[nodiscard]] std::string cell(std::size_t row, Column column) const {
        auto const at = layout_.place_of(column);
        return at ? trimmed(workbook::text_at(sheet_.rows[row], *at)) : std::string{};
    }

    void take(std::size_t row) {
        auto const said = cell(row, Column::id).empty() ? cell(row, Column::name) : cell(row, Column::id);
        auto const column = layout_.place_of(cell(row, Column::id).empty() ? Column::name : Column::id);
        auto const id = is_id(said) ? said : id_from(said);
        if (!is_id(id)) return put_aside(row, column, "the row names no point", said);
        if (auto const before = rows_.find(id); before != rows_.end())
            return put_aside(row, column, "the point stands in row " + std::to_string(before->second.row + 1) + " already", said);

        auto& points = done_.site.points;
        auto const known = std::ranges::find(points, id, &plan::MeteringPoint::id);
        plan::MeteringPoint point;
        if (known != points.end()) {
            point = *known;
        } else {
            point.id = id;
            point.name = said;
            point.to_choose = {.ct = true, .meter = true, .address = true};
        }
        auto base = frame_;  // a row that is put aside adds no panel and no line
        if (auto trouble = apply_row(point, base, sheet_.rows[row], layout_, rules_)) {
            trouble->row = row;
            done_.aside.push_back(std::move(*trouble));
            return;
        }
        if (auto const fault = fault_of(base, point, rules_.plan_file)) return put_aside(row, column_of(*fault), words_of(*fault), {});
        if (!take_place(row, point)) return;
        auto const at = known - points.begin();
        bool const is_new = known == points.end();
        rows_[id] = {row, is_new ? std::nullopt : std::optional{points[static_cast<std::size_t>(at)]}};
        frame_ = std::move(base);
        if (is_new) points.push_back(std::move(point));
        else points[static_cast<std::size_t>(at)] = std::move(point);
    }

    bool take_place(std::size_t row, plan::MeteringPoint const& point) {
        if (point.to_choose.address) return true;
        auto const place = place_of(point);
        auto const other = places_.find(place);
        if (other != places_.end() && other->second != point.id) {
            auto const from = rows_.find(other->second);
            put_aside(row, layout_.place_of(Column::unit),
                      "the point \"" + other->second + "\"" +
                          (from == rows_.end() ? " of the plan" : " in row " + std::to_string(from->second.row + 1)) +
                          " has the same place on the bus, " + place,
                      cell(row, Column::unit));
            return false;
        }
        std::erase_if(places_, [&](auto const& entry) { return entry.second == point.id; });
        places_[place] = point.id;
        return true;
    }

    static std::string words_of(Fault const& fault) {
        auto text = fault.what;
        if (!fault.found.empty()) text += "; found " + fault.found;
        if (!fault.allowed.empty()) text += "; allowed: " + fault.allowed;
        return text;
    }
    // "...:12 point.usual_a" -> the column that carries it.
    [[nodiscard]] std::optional<std::size_t> column_of(Fault const& fault) const {
        constexpr std::pair<std::string_view, Column> fields[] = {
            {"breaker_a", Column::breaker},   {"least_a", Column::least},       {"usual_a", Column::usual},
            {"most_a", Column::most},         {"power_factor", Column::power_factor}, {"accuracy_percent", Column::accuracy},
            {"cables_per_phase", Column::cables_per_phase}, {"cable.diameter_mm", Column::cable_diameter},
            {"ct.ratio", Column::ct_ratio},   {"burden_va", Column::ct_burden}, {"lead.length_m", Column::lead_length},
            {"tap.fuse_a", Column::tap_fuse}, {"address.unit", Column::unit},   {"address.port", Column::port},
            {"address.position", Column::position}, {"service", Column::service}};
        for (auto const& [field, column] : fields)
            if (fault.where.ends_with(field)) return layout_.place_of(column);
        return std::nullopt;
    }

    void take_back(std::string const& id, std::string what) {
        auto const from = rows_.at(id);
        rows_.erase(id);
        put_aside(from.row, layout_.place_of(Column::parent), std::move(what), cell(from.row, Column::parent));
        auto& points = done_.site.points;
        auto const at = std::ranges::find(points, id, &plan::MeteringPoint::id);
        if (from.before) *at = *from.before;
        else points.erase(at);
    }
    bool drop_orphans() {
        for (auto const& point : done_.site.points) {
            bool const has = point.parent.empty() || std::ranges::any_of(done_.site.points, [&](auto const& one) { return one.id == point.parent; });
            if (has || !rows_.contains(point.id)) continue;
            take_back(std::string{point.id}, "no such point is in the plan, or its row was kept aside");
            return true;
        }
        return false;
    }
    bool drop_rings() {
        for (auto const& id : plan::ring_of_parents(done_.site.points))
            if (rows_.contains(id)) {
                take_back(id, "the parents lead back to this point");
                return true;
            }
        return false;
    }

    workbook::Sheet const& sheet_;
    ScheduleLayout const& layout_;
    ImportRules const& rules_;
    Imported done_;
    plan::Site frame_;  // the plan without points and sums: what rows are looked up in
    std::map<std::string, Origin> rows_;          // of the points that came in
    std::map<std::string, std::string> places_;  // on the bus, to the point that has it
};
}  // namespace

std::optional<std::size_t> ScheduleLayout::place_of(Column column) const {
    for (std::size_t k = 0; k < columns.size(); ++k)
        if (columns[k].known && columns[k].known->column == column) return k;
    return std::nullopt;
}

std::expected<std::optional<ScheduleLayout>, Fault> layout_of(workbook::Sheet const& sheet, std::string const& file) {
    for (std::size_t r = 0; r < std::min(rows_looked_at, sheet.rows.size()); ++r) {
        std::map<Column, std::size_t> found;
        std::optional<std::pair<std::size_t, std::size_t>> twice;
        for (std::size_t k = 0; k < sheet.rows[r].size(); ++k)
            if (auto const known = known_header(sheet.rows[r][k].text))
                if (auto const [other, is_new] = found.emplace(known->column, k); !is_new) twice = {other->second, k};
        if (found.size() < 2) continue;
        if (twice)
            return std::unexpected(Fault{"two columns say the same, " + workbook::cell_name(r, twice->first) + " and " +
                                             workbook::cell_name(r, twice->second),
                                         file, workbook::text_at(sheet.rows[r], twice->first) + "\" and \"" + workbook::text_at(sheet.rows[r], twice->second),
                                         "one column for each thing", "give the other one a name of its own; it is kept"});
        return layout_at(sheet, r);
    }
    return std::nullopt;
}

Imported import_rows(plan::Site base, workbook::Sheet const& sheet, ScheduleLayout const& layout, ImportRules const& rules) {
    return Import(std::move(base), sheet, layout, rules).run();
}

}  // namespace phasewright::commands
