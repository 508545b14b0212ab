#include "app/commands/interval_columns.hpp"

#include <algorithm>

#include "core/quantity/text.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {
std::string trimmed(std::string_view text) {
    auto const first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) return {};
    return std::string{text.substr(first, text.find_last_not_of(" \t") - first + 1)};
}

// The names that may stand in a header for so many elements.
std::vector<std::string> known_names(std::size_t elements) {
    std::vector<std::string> names{"time",       "duration_s",   "load_lag_deg", "p_w",   "p_kw",
                                   "q_var",      "q_kvar",       "kwh",          "kvarh", "kwh_import",
                                   "kwh_export", "kvarh_import", "kvarh_export"};
    for (std::size_t k = 1; k <= elements; ++k) {
        auto const n = std::to_string(k);
        for (auto const& name : {"p" + n + "_w", "p" + n + "_kw", "q" + n + "_var", "q" + n + "_kvar",
                                 "kwh" + n, "kvarh" + n, "v" + n + "_v", "i" + n + "_a"})
            names.push_back(name);
    }
    return names;
}

struct Header {
    std::vector<std::string> names;
    std::string where;
    std::vector<bool> used;

    std::optional<std::size_t> take(std::string const& name) {
        auto const found = std::ranges::find(names, name);
        if (found == names.end()) return std::nullopt;
        auto const at = static_cast<std::size_t>(found - names.begin());
        used[at] = true;
        return at;
    }
    [[nodiscard]] bool has(std::string const& name) const {
        return std::ranges::find(names, name) != names.end();
    }
};

std::optional<Fault> wrong_name(Header const& header, std::size_t elements) {
    auto const known = known_names(elements);
    for (std::size_t k = 0; k < header.names.size(); ++k) {
        auto const& name = header.names[k];
        if (name.starts_with("x_")) continue;
        auto const place = header.where + " column " + std::to_string(k + 1);
        if (std::ranges::find(known, name) == known.end()) {
            bool const other_mark = header.names.size() == 1 && name.find(';') != std::string::npos;
            return Fault{"the column is not known", place, "\"" + name + "\"",
                         "the columns of docs/reference/restate.md, or a name that begins with x_",
                         other_mark ? "put commas between the cells and a point into the numbers"
                                    : "did you mean \"" + quantity::nearest_word(name, known) + "\"?"};
        }
        if (std::ranges::count(header.names, name) > 1)
            return Fault{"the column stands there twice", place, "\"" + name + "\"", "every name once",
                         "take one of them out"};
    }
    return std::nullopt;
}

// One of the ways in which a file may speak of one element, or of all ("").
struct Way {
    std::string watts, vars;
    bool powers;
    bool kilo;
};
std::vector<Way> ways_of(std::string const& n) {
    return {{"kwh" + n, "kvarh" + n, false, false},
            {"p" + n + "_w", "q" + n + "_var", true, false},
            {"p" + n + "_kw", "q" + n + "_kvar", true, true}};
}

std::optional<Fault> take_elements(Header& header, IntervalColumns& columns, std::size_t elements) {
    for (std::size_t way = 0; way < 3; ++way) {
        if (!header.has(ways_of("1")[way].watts)) continue;
        columns.powers = ways_of("1")[way].powers;
        columns.kilo = ways_of("1")[way].kilo;
        bool const vars = header.has(ways_of("1")[way].vars);
        for (std::size_t k = 1; k <= elements; ++k) {
            auto const names = ways_of(std::to_string(k))[way];
            auto const watts = header.take(names.watts);
            auto const var = header.take(names.vars);
            if (!watts || var.has_value() != vars) {
                auto const& missing = watts ? names.vars : names.watts;
                return Fault{"the column of one element is missing", header.where,
                             quantity::joined(header.names, ","),
                             missing + " beside those of the other elements",
                             "export the same quantities of all " + std::to_string(elements) + " elements"};
            }
            columns.watts.push_back({watts, std::nullopt});
            if (vars) columns.vars.push_back({var, std::nullopt});
        }
        return std::nullopt;
    }
    return std::nullopt;
}

void take_volts(Header& header, IntervalColumns& columns, std::size_t elements) {
    for (std::size_t k = 1; k <= elements; ++k)
        if (!header.has("v" + std::to_string(k) + "_v")) return;
    for (std::size_t k = 1; k <= elements; ++k)
        columns.volts.push_back(*header.take("v" + std::to_string(k) + "_v"));
}

std::optional<Fault> take_totals(Header& header, IntervalColumns& columns, correction::RegisterKind kind) {
    columns.totals = true;
    bool const amounts =
        kind == correction::RegisterKind::absolute || kind == correction::RegisterKind::per_phase;
    if (amounts && !header.has("kwh"))
        return Fault{"a balance of all elements does not tell the sum of their amounts", header.where,
                     quantity::joined(header.names, ","),
                     "kwh, as that register counted it, or the energies of the elements",
                     "use --register net for a signed balance"};
    if (header.has("kwh_import") != header.has("kwh_export") && !header.has("kwh"))
        return Fault{"one direction alone does not make a balance", header.where,
                     quantity::joined(header.names, ","),
                     "kwh_import and kwh_export, or kwh with --register import or export",
                     "name the column kwh when the meter has this register alone"};
    if (!amounts && header.has("kwh_import") && header.has("kwh_export")) {
        columns.watts.push_back({header.take("kwh_import"), header.take("kwh_export")});
        if (header.has("kvarh_import") && header.has("kvarh_export"))
            columns.vars.push_back({header.take("kvarh_import"), header.take("kvarh_export")});
        else if (header.has("kvarh"))
            columns.vars.push_back({header.take("kvarh"), std::nullopt});
        return std::nullopt;
    }
    for (auto const& way : ways_of("")) {
        if (!header.has(way.watts)) continue;
        columns.powers = way.powers;
        columns.kilo = way.kilo;
        columns.watts.push_back({header.take(way.watts), std::nullopt});
        if (header.has(way.vars)) columns.vars.push_back({header.take(way.vars), std::nullopt});
        columns.one_way = kind != correction::RegisterKind::net && !way.powers;
        return std::nullopt;
    }
    return Fault{"there is no energy in the file", header.where, quantity::joined(header.names, ","),
                 "kwh1, kwh2, ... or p1_w, p2_w, ... of the elements, or kwh or p_w of all together",
                 "name the columns with their units, as docs/reference/restate.md lists them"};
}
}  // namespace

std::vector<std::string> cells_of(std::string_view line) {
    std::vector<std::string> cells;
    std::string cell;
    bool quoted = false;
    for (std::size_t k = 0; k < line.size(); ++k) {
        char const c = line[k];
        if (c == '"') {
            if (quoted && k + 1 < line.size() && line[k + 1] == '"')
                cell += line[++k];
            else
                quoted = !quoted;
        } else if (c == ',' && !quoted) {
            cells.push_back(trimmed(cell));
            cell.clear();
        } else {
            cell += c;
        }
    }
    cells.push_back(trimmed(cell));
    return cells;
}

std::expected<IntervalColumns, Fault> columns_of(std::string_view header_line, std::string const& where,
                                                 IntervalAsk const& ask) {
    Header header{cells_of(header_line), where, {}};
    header.used.assign(header.names.size(), false);
    if (auto fault = wrong_name(header, ask.elements)) return std::unexpected(*fault);
    IntervalColumns columns{.count = header.names.size(), .names = header.names};
    auto const time = header.take("time");
    if (!time)
        return std::unexpected(Fault{"the column of times is missing", where,
                                     quantity::joined(header.names, ","), "time",
                                     "give every row the start of its interval, with its offset from UTC"});
    columns.time = *time;
    columns.duration = header.take("duration_s");
    columns.load_lag = header.take("load_lag_deg");
    if (auto fault = take_elements(header, columns, ask.elements)) return std::unexpected(*fault);
    if (columns.watts.empty()) {
        if (auto fault = take_totals(header, columns, ask.kind)) return std::unexpected(*fault);
    } else {
        take_volts(header, columns, ask.elements);
    }
    for (std::size_t k = 0; k < header.names.size(); ++k)
        if (!header.used[k] && !header.names[k].starts_with("x_")) columns.unused.push_back(header.names[k]);
    return columns;
}

}  // namespace phasewright::commands
