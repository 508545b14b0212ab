#include "app/commands/interval_file.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <numbers>

#include "app/commands/interval_columns.hpp"
#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {
constexpr double same_time_s = 0.5;
constexpr double largest =
    1e12;  // a cell beyond it is a mistake of units, and sums stay exact enough below it

std::optional<double> number_of(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    double value = 0.0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

bool has_offset(std::string_view time) {
    if (time.ends_with('Z') || time.ends_with('z')) return true;
    auto const clock = time.find_first_of("Tt ");
    return clock != std::string_view::npos && time.find_first_of("+-", clock) != std::string_view::npos;
}

// One line after the other, without its end.
struct Lines {
    std::string_view rest;
    std::size_t number = 0;
    std::optional<std::string_view> next() {
        if (rest.empty()) return std::nullopt;
        auto const end = rest.find('\n');
        auto line = rest.substr(0, end);
        rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
        ++number;
        if (line.ends_with('\r')) line.remove_suffix(1);
        return line;
    }
};

struct Reader {
    std::string const& file;
    IntervalAsk const& ask;
    IntervalColumns columns;
    IntervalFile result;
    std::vector<double> starts;  // of every line
    std::vector<std::optional<double>> durations;
    std::size_t number = 0;
    std::optional<Fault> fault;

    [[nodiscard]] std::string place(std::size_t column) const {
        return file + ":" + std::to_string(number) + " " + columns.names[column];
    }
    void refuse(std::size_t column, std::string what, std::string found, std::string allowed,
                std::string remedy) {
        if (!fault)
            fault = Fault{std::move(what), place(column), std::move(found), std::move(allowed),
                          std::move(remedy)};
    }

    // Empty: not measured.
    std::optional<double> number_at(std::vector<std::string> const& cells, std::size_t column) {
        auto const& text = cells[column];
        if (text.empty()) return std::nullopt;
        auto const value = number_of(text);
        if (!value || std::abs(*value) > largest)
            refuse(column, "the cell is not a number that can be used", "\"" + text + "\"",
                   "a number with a point, such as 12.5 or -0.75, or nothing where it was not measured",
                   "look at the decimal sign, at thousands marks and at the unit");
        return value;
    }

    std::optional<double> source_at(std::vector<std::string> const& cells, EnergySource const& source,
                                    bool must_not_fall) {
        auto const plus = number_at(cells, *source.plus);
        auto const minus = source.minus ? number_at(cells, *source.minus) : std::optional{0.0};
        for (auto const& [value, column] :
             {std::pair{plus, *source.plus}, {minus, source.minus.value_or(*source.plus)}})
            if (value && *value < 0.0 && (must_not_fall || source.minus))
                refuse(column, "a register that counts one direction cannot go backwards",
                       quantity::shortest(*value), "0 or more", "use --register net for a signed column");
        if (!plus || !minus) return std::nullopt;
        return *plus - *minus;
    }

    void read_time(std::string const& text) {
        auto const start = readings::seconds_of(text);
        if (!start)
            return refuse(columns.time, "the text is not a time", "\"" + text + "\"",
                          "ISO 8601, such as 2026-05-20T10:00:00+02:00",
                          "write date, T, clock and offset from UTC");
        if (!has_offset(text))
            return refuse(columns.time, "the time has no offset from UTC", "\"" + text + "\"",
                          "an offset behind it: Z, +02:00",
                          "export times in UTC or with their offset: one hour a year happens twice");
        if (!starts.empty() && std::abs(*start - starts.back()) < same_time_s)
            return refuse(columns.time, "the interval stands there twice", "\"" + text + "\"",
                          "every time once", "keep one of the two rows; decide which before you restate");
        if (!starts.empty() && *start < starts.back())
            return refuse(columns.time, "the time goes back",
                          "\"" + text + "\" after \"" + result.times.back() + "\"", "times that rise",
                          "sort the rows by time; look whether a clock was set back");
        starts.push_back(*start);
        result.times.push_back(text);
    }

    void read_row(std::string_view line) {
        auto const cells = cells_of(line);
        if (cells.size() != columns.count) {
            fault = Fault{"the row has another number of cells than the header",
                          file + ":" + std::to_string(number), std::to_string(cells.size()),
                          std::to_string(columns.count), "look for a comma inside a number"};
            return;
        }
        read_time(cells[columns.time]);
        auto const duration = columns.duration ? number_at(cells, *columns.duration) : std::nullopt;
        if (columns.duration && (!duration || *duration <= 0.0 || *duration > 366.0 * 86400.0))
            refuse(*columns.duration, "the duration is not one", "\"" + cells[*columns.duration] + "\"",
                   "seconds, above 0 and up to a year", "give every row its duration");
        durations.push_back(duration);
        std::vector<correction::Energy> energies;
        bool measured = true;
        for (std::size_t k = 0; k < columns.watts.size(); ++k) {
            auto const watts = source_at(cells, columns.watts[k], columns.one_way);
            auto const vars =
                columns.vars.empty() ? std::optional{0.0} : source_at(cells, columns.vars[k], false);
            measured = measured && watts && vars;
            energies.emplace_back(watts.value_or(0.0), vars.value_or(0.0));
        }
        std::vector<double> volts;
        for (auto const column : columns.volts) {
            auto const value = number_at(cells, column);
            measured = measured && value;
            volts.push_back(value.value_or(0.0));
        }
        auto const lag = columns.load_lag ? number_at(cells, *columns.load_lag) : std::optional{0.0};
        if (lag && std::abs(*lag) >= 90.0)
            refuse(*columns.load_lag, "the load angle is not that of a load", quantity::shortest(*lag),
                   "degrees between -90 and 90",
                   "give the angle by which the load's current lags its own voltage");
        measured = measured && lag;
        keep(line, measured, energies, volts, lag);
    }

    void keep(std::string_view line, bool measured, std::vector<correction::Energy> const& energies,
              std::vector<double> const& volts, std::optional<double> lag) {
        result.lines.emplace_back(line);
        auto& data = result.data;
        if (!measured || fault) return result.rows.push_back(std::nullopt);
        result.rows.emplace_back(data.start_s.size());
        data.start_s.push_back(starts.back());
        data.duration_s.push_back(durations.back().value_or(0.0));
        data.energy.insert(data.energy.end(), energies.begin(), energies.end());
        data.volts.insert(data.volts.end(), volts.begin(), volts.end());
        if (columns.load_lag) data.load_lag_rad.push_back(*lag * std::numbers::pi / 180.0);
    }

    // The step between most rows, where nobody said how long an interval is.
    void find_durations() {
        std::map<long long, std::size_t> steps;
        if (columns.duration) {
            for (auto const& duration : durations) ++steps[std::llround(*duration)];
        } else {
            for (std::size_t k = 1; k < starts.size(); ++k) ++steps[std::llround(starts[k] - starts[k - 1])];
        }
        auto const most = std::ranges::max_element(steps, {}, [](auto const& step) { return step.second; });
        result.interval_s = most == steps.end() ? 0.0 : static_cast<double>(most->first);
        if (columns.duration) return;
        if (ask.interval_s) {
            result.interval_s = *ask.interval_s;
        } else if (most == steps.end() || 2 * most->second <= starts.size() - 1) {
            fault = Fault{"it is not clear how long an interval is", file,
                          most == steps.end() ? "one row" : "steps of many lengths",
                          "a column duration_s, or --interval", "say --interval 900 for quarters of an hour"};
            return;
        } else {
            result.interval_inferred = true;
        }
        durations.assign(starts.size(), result.interval_s);
        for (auto& duration : result.data.duration_s) duration = result.interval_s;
    }

    void find_gaps(std::vector<std::size_t> const& numbers) {
        for (std::size_t k = 1; k < starts.size(); ++k) {
            double const end = starts[k - 1] + *durations[k - 1];
            if (starts[k] < end - same_time_s) {
                number = numbers[k];
                return refuse(columns.time, "the interval begins before the one above it ends",
                              "\"" + result.times[k] + "\"",
                              "no earlier than " + quantity::shortest(*durations[k - 1]) + " s after \"" +
                                  result.times[k - 1] + "\"",
                              "look at duration_s or --interval, and for rows of two exports in one file");
            }
            if (starts[k] > end + same_time_s)
                result.gaps.push_back({result.times[k - 1], result.times[k], starts[k] - end});
        }
        result.end_s = starts.back() + *durations.back();
    }

    void to_energies() {
        auto& data = result.data;
        double const unit = columns.powers ? (columns.kilo ? 1000.0 : 1.0) : 1000.0;
        for (std::size_t row = 0; row < data.rows(); ++row) {
            double const wh = columns.powers ? unit * data.duration_s[row] / 3600.0 : unit;
            for (std::size_t k = 0; k < data.columns; ++k) data.energy[row * data.columns + k] *= wh;
        }
        result.powers = columns.powers;
        result.watts_a_unit = unit;
    }
};

// Remarks at the top; one of them may be the limit.
std::optional<Fault> read_remark(std::string_view line, std::string const& where,
                                 std::optional<double>& limit_days) {
    constexpr std::string_view key = "limit_days:";
    auto const at = line.find(key);
    if (at == std::string_view::npos) return std::nullopt;
    auto text = line.substr(at + key.size());
    while (text.starts_with(' ')) text.remove_prefix(1);
    while (text.ends_with(' ')) text.remove_suffix(1);
    limit_days = number_of(text);
    if (limit_days && *limit_days > 0.0) return std::nullopt;
    return Fault{"the limit is not a number of days", where + " limit_days", "\"" + std::string{text} + "\"",
                 "a number above 0", "write it as # limit_days: 730"};
}
}  // namespace

std::string IntervalFile::name_of(bool vars, std::optional<std::size_t> element) const {
    auto const n = element ? std::to_string(*element + 1) : std::string{};
    if (!powers) return (vars ? "kvarh" : "kwh") + n;
    bool const kilo = watts_a_unit > 1.0;
    return vars ? "q" + n + (kilo ? "_kvar" : "_var") : "p" + n + (kilo ? "_kw" : "_w");
}

std::expected<IntervalFile, Fault> read_intervals(std::string_view text, std::string const& file,
                                                  IntervalAsk const& ask) {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    Lines lines{text};
    std::optional<double> limit_days;
    auto line = lines.next();
    while (line && (line->empty() || line->starts_with('#'))) {
        if (auto fault = read_remark(*line, file + ":" + std::to_string(lines.number), limit_days))
            return std::unexpected(*fault);
        line = lines.next();
    }
    if (!line)
        return std::unexpected(
            Fault{"the file is empty", file, {}, "a header and rows", "export the intervals as CSV"});
    auto columns = columns_of(*line, file + ":" + std::to_string(lines.number), ask);
    if (!columns) return std::unexpected(columns.error());
    Reader reader{.file = file, .ask = ask, .columns = *columns};
    auto& data = reader.result.data;
    data.columns = columns->watts.size();
    data.totals = columns->totals;
    data.vars_recorded = !columns->vars.empty();
    data.one_way = columns->one_way;
    reader.result.header = std::string{*line};
    reader.result.limit_days = limit_days;
    reader.result.unused = columns->unused;
    std::vector<std::size_t> numbers;
    for (line = lines.next(); line; line = lines.next()) {
        if (line->find_first_not_of(" \t") == std::string_view::npos) continue;
        reader.number = lines.number;
        numbers.push_back(lines.number);
        reader.read_row(*line);
        if (reader.fault) return std::unexpected(*reader.fault);
    }
    if (data.rows() == 0)
        return std::unexpected(Fault{"there is no measured interval in the file",
                                     file,
                                     {},
                                     "at least one row with all its cells",
                                     "look at the export's dates"});
    reader.find_durations();
    if (!reader.fault) reader.find_gaps(numbers);
    if (reader.fault) return std::unexpected(*reader.fault);
    reader.to_energies();
    return std::move(reader.result);
}

std::string with_columns(IntervalFile const& file, std::string const& more_header,
                         std::vector<std::string> const& more) {
    std::string text = file.header + "," + more_header + "\n";
    for (std::size_t k = 0; k < file.lines.size(); ++k) text += file.lines[k] + "," + more[k] + "\n";
    return text;
}

}  // namespace phasewright::commands
