#include "app/commands/exchange_lines.hpp"

#include <cmath>

#include <nlohmann/json.hpp>

#include "app/commands/json_fields.hpp"

namespace phasewright::commands {

namespace {
using nlohmann::json;
using nlohmann::ordered_json;
using quantity::Fault;

constexpr std::size_t most_bytes = 65536;  // in one try; a stream that never ends is cut here
constexpr std::size_t most_lines = 100000;

std::optional<codec::Bytes> bytes_of(FieldReader const& reader, std::string_view name) {
    auto const text = reader.text(name);
    if (!text) return std::nullopt;
    auto bytes = codec::from_hex(*text);
    if (!bytes || bytes->size() > most_bytes) {
        reader.refuse(name, "these are no bytes", as_found(json(*text)), "pairs of hexadecimal digits: \"01 03 00 6B\"",
                      "write each byte with two digits");
        return std::nullopt;
    }
    return bytes;
}

std::vector<port::Exchange::Arrival> arrivals_of(FieldReader const& reader, std::size_t heard) {
    std::vector<port::Exchange::Arrival> arrivals;
    auto const* const list = reader.array("arrivals");
    if (list == nullptr) return heard > 0 ? std::vector<port::Exchange::Arrival>{{0.0, heard}} : arrivals;
    std::size_t sum = 0;
    for (auto const& one : *list) {
        bool const good = one.is_array() && one.size() == 2 && one[0].is_number() && one[1].is_number_unsigned() &&
                          std::isfinite(one[0].get<double>()) && one[1].get<std::size_t>() <= most_bytes;
        if (good) {
            arrivals.push_back({one[0].get<double>(), one[1].get<std::size_t>()});
            sum += arrivals.back().bytes;
        }
        if (good && sum <= heard) continue;
        reader.refuse("arrivals", "this is no arrival, or it has more bytes than were heard", as_found(one),
                      "[seconds since the question, bytes]", "let them sum to the bytes that were heard");
        break;
    }
    return arrivals;
}

std::optional<std::uint8_t> unit_of(FieldReader const& reader) {
    auto const unit = reader.number("unit", {.least = 1.0, .most = 247.0, .unit = {}});
    if (!unit) return std::nullopt;
    if (*unit == std::floor(*unit)) return static_cast<std::uint8_t>(*unit);
    reader.refuse("unit", "a unit is a whole number", std::to_string(*unit), "1 to 247", "");
    return std::nullopt;
}

void read_line(json const& object, FirstFault& fault, RecordedLine& line) {
    FieldReader const reader(object, "", {"unit", "sent", "heard", "arrivals", "echoed", "other_format", "heard_before",
                                          "strangers"}, fault);
    if (fault.any()) return;
    if (reader.child("unit") == nullptr) {
        if (auto const heard = reader.yes_no("heard_before")) line.heard_before = heard;
        if (auto const* const list = reader.array("strangers")) {
            std::vector<std::uint8_t> units;
            for (auto const& one : *list) {
                bool const good = one.is_number_unsigned() && one.get<std::uint64_t>() >= 1 && one.get<std::uint64_t>() <= 247;
                if (good) units.push_back(static_cast<std::uint8_t>(one.get<unsigned>()));
                else reader.refuse("strangers", "this is no unit", as_found(one), "1 to 247", "");
            }
            line.strangers = units;
        }
        return;
    }
    RecordedExchange recorded;
    recorded.exchange.unit = unit_of(reader).value_or(1);
    reader.require("sent", "the question as it went out, in hexadecimal");
    recorded.exchange.sent = bytes_of(reader, "sent").value_or(codec::Bytes{});
    recorded.exchange.heard = bytes_of(reader, "heard").value_or(codec::Bytes{});
    recorded.exchange.arrivals = arrivals_of(reader, recorded.exchange.heard.size());
    recorded.exchange.echoed = reader.index("echoed").value_or(0);
    recorded.other_format = reader.yes_no("other_format").value_or(false);
    line.exchanges.push_back(std::move(recorded));
}
}  // namespace

std::expected<RecordedLine, Fault> read_exchanges(std::string_view text, std::string const& file) {
    RecordedLine line;
    std::size_t number = 0;
    for (std::size_t at = 0; at < text.size();) {
        auto const end = std::min(text.find('\n', at), text.size());
        auto const one = text.substr(at, end - at);
        at = end + 1;
        ++number;
        if (one.find_first_not_of(" \t\r") == std::string_view::npos) continue;
        auto const where = file + ":" + std::to_string(number);
        if (number > most_lines)
            return std::unexpected(Fault{"the file has too many lines", where, {}, std::to_string(most_lines), "judge a part of it"});
        auto const object = json::parse(one, nullptr, false);
        if (object.is_discarded())
            return std::unexpected(Fault{"this line is no JSON", where, std::string(one.substr(0, 60)), "one JSON object a line", ""});
        FirstFault fault;
        read_line(object, fault, line);
        if (fault.any()) {
            auto told = fault.get();
            told.where = told.where.empty() ? where : where + " " + told.where;
            return std::unexpected(told);
        }
    }
    return line;
}

std::string exchanges_text(RecordedLine const& line) {
    std::string text;
    if (line.heard_before || line.strangers) {
        ordered_json head;
        if (line.heard_before) head["heard_before"] = *line.heard_before;
        if (line.strangers) head["strangers"] = *line.strangers;
        text += head.dump() + "\n";
    }
    for (auto const& [exchange, other_format] : line.exchanges) {
        ordered_json one{{"unit", exchange.unit}, {"sent", codec::to_hex(exchange.sent)}, {"heard", codec::to_hex(exchange.heard)}};
        auto arrivals = ordered_json::array();
        for (auto const& arrival : exchange.arrivals) arrivals.push_back({arrival.after_s, arrival.bytes});
        one["arrivals"] = arrivals;
        if (exchange.echoed > 0) one["echoed"] = exchange.echoed;
        if (other_format) one["other_format"] = true;
        text += one.dump() + "\n";
    }
    return text;
}

}  // namespace phasewright::commands
