#include "bus/decoder/register_dump.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <utility>

#include <fmt/format.h>

#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::decoder {

namespace {

using quantity::Fault;

constexpr std::size_t most_lines = 1'000'000;
constexpr std::size_t most_dumps = 64;

std::string_view trimmed(std::string_view text) {
    auto const first = text.find_first_not_of(" \t\r");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

// Decimal or 0x; the whole text or nothing.
std::optional<long long> whole_in(std::string_view text) {
    bool const negative = text.starts_with('-');
    if (negative) text.remove_prefix(1);
    bool const hex = text.starts_with("0x") || text.starts_with("0X");
    if (hex) text.remove_prefix(2);
    unsigned value = 0;
    auto const parsed = std::from_chars(text.data(), text.data() + text.size(), value, hex ? 16 : 10);
    if (text.empty() || parsed.ec != std::errc{} || parsed.ptr != text.data() + text.size()) return std::nullopt;
    return negative ? -static_cast<long long>(value) : static_cast<long long>(value);
}

struct Time {
    double seconds = 0.0;
    bool iso = false;
};
std::optional<Time> time_in(std::string_view text) {
    double seconds = 0.0;
    auto const parsed = std::from_chars(text.data(), text.data() + text.size(), seconds);
    if (!text.empty() && parsed.ec == std::errc{} && parsed.ptr == text.data() + text.size()) {
        if (!std::isfinite(seconds)) return std::nullopt;
        return Time{seconds, false};
    }
    if (auto const iso = readings::seconds_of(text)) return Time{*iso, true};
    return std::nullopt;
}

class Reader {
public:
    explicit Reader(std::string where) : where_(std::move(where)) {}

    [[nodiscard]] std::optional<Fault> take(std::string_view line) {
        if (++line_ > most_lines) return refused("the dump is too long", {}, fmt::format("{} lines", most_lines));
        line = trimmed(line.substr(0, line.find('#')));
        if (line.empty()) return std::nullopt;
        std::array<std::string_view, 4> cells;
        std::size_t count = 0;
        for (std::string_view rest = line;; ++count) {
            auto const comma = rest.find(',');
            if (count == cells.size())
                return refused("a line has too many columns", line, "function,address,value[,time]");
            cells[count] = trimmed(rest.substr(0, comma));
            if (comma == std::string_view::npos) break;
            rest.remove_prefix(comma + 1);
        }
        ++count;
        if (cells[0] == "function" && !any_) return std::nullopt;
        if (count < 3) return refused("a line has too few columns", line, "function,address,value[,time]");
        return register_line(cells, count == 4);
    }

    [[nodiscard]] std::expected<std::vector<Dump>, Fault> dumps() {
        if (!any_)
            return std::unexpected(Fault{"the dump holds no register", where_, {}, "one register a line",
                                         "docs/reference/register-dump.md shows the format"});
        std::vector<Dump> made;
        for (auto& [time, image] : images_)
            made.push_back({std::move(image), timed_ ? std::optional(time) : std::nullopt});
        return made;
    }

private:
    std::optional<Fault> register_line(std::array<std::string_view, 4> const& cells, bool has_time) {
        auto const function = whole_in(cells[0]);
        if (!function || (*function != 3 && *function != 4))
            return refused("this function reads no registers", cells[0], "3 or 4");
        auto const address = whole_in(cells[1]);
        if (!address || *address < 0 || *address > 0xFFFF)
            return refused("this is no register address", cells[1], "0 to 65535, as on the wire");
        auto const value = whole_in(cells[2]);
        if (!value || *value < -0x8000 || *value > 0xFFFF)
            return refused("a register does not hold this", cells[2], "0 to 65535, or -32768 to -1");
        Time time;
        if (has_time) {
            auto const given = time_in(cells[3]);
            if (!given) return refused("this is no time", cells[3], "seconds, or ISO 8601 with offset");
            time = *given;
        }
        if (any_ && (has_time != timed_ || time.iso != iso_))
            return refused("times are given in two ways", has_time ? cells[3] : "no time",
                           "seconds on all lines, ISO 8601 on all, or none");
        any_ = true;
        timed_ = has_time;
        iso_ = time.iso;
        auto& image = images_[time.seconds + 0.0];
        if (images_.size() > most_dumps)
            return refused("the file has too many times", cells[3], fmt::format("{} dumps", most_dumps));
        auto& table = *function == 3 ? image.holding : image.input;
        auto const bits = static_cast<std::uint16_t>(*value & 0xFFFF);
        auto const [known, is_new] = table.try_emplace(static_cast<std::uint16_t>(*address), bits);
        if (!is_new && known->second != bits)
            return refused("this register stands twice with two values", cells[1], "each register once in a dump");
        return std::nullopt;
    }

    Fault refused(std::string what, std::string_view found, std::string allowed) const {
        return {std::move(what), fmt::format("{}:{}", where_, line_), std::string(found), std::move(allowed),
                "docs/reference/register-dump.md shows the format"};
    }

    std::string where_;
    std::size_t line_ = 0;
    bool any_ = false, timed_ = false, iso_ = false;
    std::map<double, profile::RegisterImage> images_;
};

}  // namespace

std::expected<std::vector<Dump>, Fault> read_dumps(std::string_view text, std::string const& where) {
    Reader reader(where);
    while (!text.empty()) {
        auto const end = text.find('\n');
        if (auto fault = reader.take(text.substr(0, end))) return std::unexpected(std::move(*fault));
        if (end == std::string_view::npos) break;
        text.remove_prefix(end + 1);
    }
    return reader.dumps();
}

std::string to_text(std::vector<Dump> const& dumps) {
    std::string text = "function,address,value,time\n";
    if (dumps.empty() || !dumps.front().time_s) text = "function,address,value\n";
    for (auto const& dump : dumps) {
        auto const time = dump.time_s ? "," + quantity::shortest(*dump.time_s) : std::string{};
        for (auto const& [address, value] : dump.image.holding) text += fmt::format("3,{},{}{}\n", address, value, time);
        for (auto const& [address, value] : dump.image.input) text += fmt::format("4,{},{}{}\n", address, value, time);
    }
    return text;
}

std::size_t registers_in(Dump const& dump) { return dump.image.holding.size() + dump.image.input.size(); }

std::vector<Dump> refreshed(std::span<Dump const> dumps) {
    // Meters write what they show at least so often. Common practice, no source.
    constexpr double slowest_refresh_s = 5.0;
    std::vector<Dump> told;
    for (auto const& dump : dumps) {
        bool const soon = !told.empty() && dump.time_s && told.back().time_s &&
                          *dump.time_s - *told.back().time_s < slowest_refresh_s;
        if (!soon || dump.image != told.back().image) told.push_back(dump);
    }
    return told;
}

}  // namespace phasewright::decoder
