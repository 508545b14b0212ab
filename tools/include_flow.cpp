#include "tools/include_flow.hpp"

#include <algorithm>
#include <array>
#include <deque>
#include <fstream>
#include <iterator>
#include <map>
#include <optional>
#include <set>
#include <string_view>

#include "tools/source_scan.hpp"

namespace phasewright::tools {
namespace {

// ---- The tables. Changing the house means changing these lines, in a commit that says why. ----

struct Room {
    std::string_view folder;
    std::vector<std::string_view> uses;  // what it may use directly; whatever those may use is allowed too
};

std::vector<Room> const& rooms() {
    static std::vector<Room> const table{
        {"core/quantity", {}},
        {"core/plan", {"core/quantity"}},
        {"core/chain", {"core/plan"}},
        {"core/wiring", {"core/plan"}},
        {"core/readings", {"core/plan"}},
        {"core/checks", {"core/chain", "core/wiring", "core/readings"}},
        {"core/design", {"core/checks"}},
        {"core/diagnosis", {"core/wiring", "core/readings", "core/chain"}},
        {"core/correction", {"core/diagnosis"}},
        {"core/evidence", {"core/correction"}},
        {"core/report", {"core/evidence"}},

        {"bus/codec", {"core/quantity"}},
        {"bus/port", {"bus/codec", "core/plan"}},
        {"bus/tables", {"core/quantity"}},
        {"bus/profile", {"bus/port", "bus/tables", "core/readings"}},
        {"bus/finder", {"bus/profile"}},
        {"bus/linefault", {"bus/finder"}},
        {"bus/decoder", {"bus/profile"}},
        {"bus/program", {"bus/profile"}},
        {"bus/poller", {"bus/profile"}},
        {"bus/twin", {"bus/profile"}},

        {"records/schema", {"core/report", "core/checks"}},
        {"records/store", {"records/schema"}},
        {"records", {"records/store"}},
        {"audit/source", {"core/correction"}},
        {"audit/reduce", {"audit/source"}},
        {"audit", {"audit/reduce"}},
        {"print/sheet", {"core/report"}},
        {"print/drawing", {"print/sheet"}},
        {"print/workbook", {"core/quantity"}},
        {"print", {"print/drawing", "print/workbook"}},

        {"app/commands",
         {"core/report", "core/checks", "core/design", "bus/linefault", "bus/decoder", "bus/program", "bus/poller", "bus/twin",
          "records", "audit", "print"}},
        {"app/server", {"app/commands"}},
        {"app", {"app/server"}},

        {"tests", {"app"}},
        {"tests/cases", {"tests"}},
        {"tests/journeys", {"tests"}},
        {"tests/fuzz", {"tests"}},
        {"benchmarks", {"app"}},
        {"tools", {}},
    };
    return table;
}

// The virtual meters must not share a line with what they are there to put to the test, not even at second
// hand.
struct Wall {
    std::string_view from;
    std::string_view to;
};
constexpr std::array walls{Wall{"bus/twin", "core/wiring"}, Wall{"bus/twin", "core/diagnosis"}};

// Core touches no file, socket, clock, locale or dice, and starts no thread: time and seeds are arguments.
constexpr std::array<std::string_view, 16> banned_in_core{
    "fstream", "filesystem", "iostream", "istream", "ostream", "sstream", "iomanip",
    "cstdio",  "thread",     "future",   "mutex",   "random",  "locale",  "condition_variable",
    "ctime",   "clocale"};
constexpr std::array<std::string_view, 6> banned_words_in_core{
    "system_clock", "steady_clock", "high_resolution_clock", "getenv", "rand", "srand"};
constexpr std::array<std::string_view, 1> libraries_of_core{"Eigen/"};

// Headers that cost seconds in every source that sees them: they stay in a few .cpp files.
constexpr std::array<std::string_view, 12> heavy_headers{
    "nlohmann/json.hpp", "Eigen/", "CLI/",    "httplib.h", "asio.hpp", "asio/", "boost/",
    "toml++/",           "pqxx/",  "spdlog/", "cairo",     "pango/"};

// ---- What is asked of the tables. ----

Room const* room_named(std::string_view folder) {
    auto const found = std::ranges::find(rooms(), folder, &Room::folder);
    return found == rooms().end() ? nullptr : &*found;
}

std::set<std::string_view> all_used_by(std::string_view folder) {
    std::set<std::string_view> used;
    std::deque<std::string_view> open{folder};
    while (!open.empty()) {
        auto const* room = room_named(open.front());
        open.pop_front();
        for (auto const next : room->uses) {
            if (used.insert(next).second) open.push_back(next);
        }
    }
    return used;
}

std::string_view folder_of(std::string_view path) {
    auto const slash = path.rfind('/');
    return slash == std::string_view::npos ? std::string_view{} : path.substr(0, slash);
}
std::string_view first_part(std::string_view path) { return path.substr(0, path.find('/')); }
std::string_view last_part(std::string_view path) { return path.substr(path.rfind('/') + 1); }

bool is_header(std::string_view path) { return path.ends_with(".hpp"); }
bool is_test(std::string_view path) { return path.ends_with("_test.cpp"); }
bool in_core(std::string_view path) { return path.starts_with("core/"); }
bool is_outer(std::string_view part) {
    return part == "bus" || part == "records" || part == "audit" || part == "print";
}

bool is_own_folder(std::string_view part) {
    return std::ranges::any_of(rooms(), [&](Room const& room) { return first_part(room.folder) == part; });
}

template <class Table>
bool starts_with_any(std::string_view path, Table const& table) {
    return std::ranges::any_of(table, [&](std::string_view start) { return path.starts_with(start); });
}

template <class Words>
std::string joined(Words const& words, std::string_view between) {
    std::string all;
    for (auto const word : words) {
        all += all.empty() ? std::string_view{} : between;
        all += word;
    }
    return all.empty() ? "nothing" : all;
}

// ---- The rules, one function each: a sentence when the rule is broken. ----

using Sentence = std::optional<std::string>;

Sentence unknown_folder(std::string_view path) {
    if (room_named(folder_of(path)) != nullptr) return std::nullopt;
    auto const depth = std::ranges::count(path, '/');
    if (depth > 2) return "sources lie at most two folders deep";
    return "this folder is no room of the house; a new room needs its line in tools/include_flow.cpp";
}

Sentence against_the_flow(std::string_view path, std::string_view included) {
    auto const from = folder_of(path);
    auto const to = folder_of(included);
    if (from == to || (is_test(path) && first_part(to) == "tests")) return std::nullopt;
    if (is_outer(first_part(from)) && is_outer(first_part(to)) && first_part(from) != first_part(to)) {
        return std::string(from) + " may not use " + std::string(to) +
               "; bus, records, audit and print never include each other, app joins them";
    }
    auto const allowed = all_used_by(from);
    if (allowed.contains(to)) return std::nullopt;
    return std::string(from) + " may not use " + std::string(to) + "; it may use " + joined(allowed, ", ");
}

Sentence wrong_own_include(Include const& include, std::set<std::string_view> const& known) {
    if (!include.quoted) {
        if (!is_own_folder(first_part(include.path)) || include.path.find('/') == std::string::npos)
            return std::nullopt;
        return "<" + include.path + "> is ours: write it in quotation marks";
    }
    if (include.path.starts_with(".") || include.path.find("/../") != std::string::npos) {
        return "\"" + include.path + "\" is relative; includes start at the root";
    }
    if (known.contains(include.path)) return std::nullopt;
    return "\"" + include.path +
           "\" is no file of the house as seen from the root; other people's headers go in <>";
}

Sentence wrong_in_core(std::string_view path, Include const& include) {
    if (!in_core(path) || is_test(path) || include.quoted) return std::nullopt;
    if (std::ranges::find(banned_in_core, include.path) != banned_in_core.end()) {
        return "core may not include <" + include.path +
               ">; it touches no file, socket, clock, locale or dice";
    }
    bool const is_standard = include.path.find_first_of("./") == std::string::npos;
    if (is_standard || starts_with_any(include.path, libraries_of_core)) return std::nullopt;
    return "core may not include <" + include.path + ">; besides the standard library it knows only Eigen";
}

Sentence too_heavy(std::string_view path, Include const& include) {
    if (!is_header(path) || include.quoted || !starts_with_any(include.path, heavy_headers))
        return std::nullopt;
    return "<" + include.path + "> is heavy; it may stand in .cpp files only";
}

Sentence without_pragma_once(std::string_view path, std::string_view code) {
    if (!is_header(path) || code.find("#pragma once") != std::string_view::npos) return std::nullopt;
    return "a header needs #pragma once";
}

Sentence without_namespace(std::string_view path, std::string_view code) {
    auto const name = "namespace phasewright::" + std::string(last_part(folder_of(path)));
    if (!is_header(path) || line_of_word(code, name) != 0) return std::nullopt;
    return "a header of this folder needs " + name;
}

// ---- Second hand: the chain of includes from a file to a folder behind a wall. ----

using Graph = std::map<std::string_view, std::vector<std::string_view>>;

Sentence through_the_wall(std::string_view start, Wall const& wall, Graph const& graph) {
    if (folder_of(start) != wall.from) return std::nullopt;
    std::map<std::string_view, std::string_view> reached_from{{start, {}}};
    std::deque<std::string_view> open{start};
    while (!open.empty()) {
        auto const file = open.front();
        open.pop_front();
        if (folder_of(file) == wall.to) {
            std::deque<std::string_view> steps{file};
            for (auto step = reached_from[file]; !step.empty(); step = reached_from[step]) {
                steps.push_front(step);
            }
            return std::string(wall.from) + " must not reach " + std::string(wall.to) + ": " +
                   joined(steps, " -> ");
        }
        auto const edges = graph.find(file);
        if (edges == graph.end()) continue;
        for (auto const next : edges->second) {
            if (reached_from.emplace(next, file).second) open.push_back(next);
        }
    }
    return std::nullopt;
}

struct Scanned {
    SourceFile const* file;
    ScannedSource source;
};

void check_includes(Scanned const& scanned, std::set<std::string_view> const& known,
                    std::vector<Breach>& breaches) {
    auto const& path = scanned.file->path;
    auto const note = [&](int line, Sentence const& what) {
        if (what) breaches.push_back({path, line, *what});
    };
    for (auto const& include : scanned.source.includes) {
        note(include.line, wrong_own_include(include, known));
        note(include.line, wrong_in_core(path, include));
        note(include.line, too_heavy(path, include));
        bool const both_are_rooms =
            room_named(folder_of(path)) != nullptr && room_named(folder_of(include.path)) != nullptr;
        if (both_are_rooms) note(include.line, against_the_flow(path, include.path));
    }
}

void check_file(Scanned const& scanned, std::vector<Breach>& breaches) {
    auto const& path = scanned.file->path;
    auto const& code = scanned.source.code;
    auto const note = [&](int line, Sentence const& what) {
        if (what) breaches.push_back({path, line, *what});
    };
    note(0, unknown_folder(path));
    note(0, without_pragma_once(path, code));
    note(0, without_namespace(path, code));
    if (!in_core(path) || is_test(path)) return;
    for (auto const word : banned_words_in_core) {
        if (auto const line = line_of_word(code, word)) {
            note(line, "core may not use " + std::string(word) + "; time, seeds and settings are arguments");
        }
    }
}

}  // namespace

std::string to_line(Breach const& breach) {
    auto const place = breach.line == 0 ? breach.file : breach.file + ":" + std::to_string(breach.line);
    return place + ": " + breach.what;
}

std::vector<Breach> breaches_among(std::vector<SourceFile> const& sources) {
    std::vector<Scanned> all;
    std::set<std::string_view> known;
    Graph graph;
    for (auto const& file : sources) {
        all.push_back({&file, scan(file.text)});
        known.insert(file.path);
    }
    for (auto const& scanned : all) {
        for (auto const& include : scanned.source.includes) {
            if (auto const target = known.find(include.path); target != known.end()) {
                graph[scanned.file->path].push_back(*target);
            }
        }
    }
    std::vector<Breach> breaches;
    for (auto const& scanned : all) {
        check_file(scanned, breaches);
        check_includes(scanned, known, breaches);
        for (auto const& wall : walls) {
            if (auto const what = through_the_wall(scanned.file->path, wall, graph)) {
                breaches.push_back({scanned.file->path, 0, *what});
            }
        }
    }
    return breaches;
}

std::vector<SourceFile> sources_below(std::filesystem::path const& root) {
    std::vector<SourceFile> sources;
    std::set<std::string> tops{"cases", "profiles", "demo", "docs", "contract"};
    for (auto const& room : rooms()) tops.emplace(first_part(room.folder));
    for (auto const& top : tops) {
        if (!std::filesystem::is_directory(root / top)) continue;
        for (auto const& entry : std::filesystem::recursive_directory_iterator(root / top)) {
            auto const extension = entry.path().extension();
            if (!entry.is_regular_file() || (extension != ".hpp" && extension != ".cpp")) continue;
            std::ifstream in(entry.path(), std::ios::binary);
            sources.push_back({entry.path().lexically_relative(root).generic_string(),
                               {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()}});
        }
    }
    std::ranges::sort(sources, {}, &SourceFile::path);
    return sources;
}

}  // namespace phasewright::tools
