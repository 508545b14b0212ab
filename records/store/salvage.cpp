#include "records/store/salvage.hpp"

#include <algorithm>
#include <optional>

namespace phasewright::store {

namespace {

// Only a plain table: what somebody put in its place under its name could run without end.
bool is_table(Database const& database, std::string const& table) {
    auto const found =
        database.number_of("SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = '" + table +
                           "' AND sql LIKE 'CREATE TABLE%'");
    return found && *found == 1;
}

// Column 0 is the row's number. The last that was reached; `broken` when it ended before the end.
std::optional<std::int64_t> scan(Database const& database, std::string const& sql, std::int64_t stop_at,
                                 bool& broken, std::function<void(Statement const&)> const& take) {
    std::optional<std::int64_t> last;
    auto statement = database.prepare(sql);
    broken = !statement;
    while (!broken) {
        auto const row = statement->step();
        broken = !row;
        if (broken || !*row || statement->number(0) == stop_at) break;
        last = statement->number(0);
        take(*statement);
    }
    return last;
}

constexpr std::int64_t rows_tried_blindly = 10'000;
constexpr int misses_in_a_row = 200;

}  // namespace

std::string salvage_rows(Database const& database, std::string const& table, std::string const& columns,
                         std::function<void(Statement const&)> const& take) {
    if (!is_table(database, table)) return "the table " + table + " is missing";
    auto const select = "SELECT rowid, " + columns + " FROM " + table + " ";
    bool broken = false;
    auto const front = scan(database, select + "ORDER BY rowid", -1, broken, take);
    if (!broken) return {};
    bool broken_behind = false;
    auto const back = scan(database, select + "ORDER BY rowid DESC", front.value_or(0), broken_behind, take);
    auto const from = front.value_or(0) + 1;
    auto const to = back ? *back - 1 : from + rows_tried_blindly;
    int missed = 0;
    for (auto number = from; broken_behind && number <= to && missed < misses_in_a_row; ++number) {
        bool ignored = false;
        auto const found =
            scan(database, select + "WHERE rowid = " + std::to_string(number), -1, ignored, take);
        missed = found ? 0 : missed + 1;
    }
    return "the table " + table + " is damaged behind row " + std::to_string(front.value_or(0));
}

}  // namespace phasewright::store
