#include "app/commands/ask_kept.hpp"

#include <nlohmann/json.hpp>

#include "app/commands/reading_line_writer.hpp"
#include "app/commands/reading_lines.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

using nlohmann::ordered_json;

std::string with_tests(std::string const& line, readings::ReadingSet const& set) {
    auto kept = ordered_json::parse(line);  // it was read once already
    auto const written = ordered_json::parse(line_of(set));
    if (written.contains("tests")) kept["tests"] = written.at("tests");
    return kept.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

std::expected<std::string, quantity::Fault> with_snapshot(std::string const& line, std::string_view typed) {
    auto const snapshot = ordered_json::parse(typed, nullptr, false);
    if (!snapshot.is_object())
        return std::unexpected(
            quantity::Fault{"this is not a snapshot", "snapshots", std::string(typed.substr(0, 60)),
                            R"({"v":[231,229,232],"i":[41.2,38.7,44.0],"p":[8760,8150,9390]})",
                            "type one JSON object on one line"});
    auto kept = ordered_json::parse(line);
    kept["snapshots"].push_back(snapshot);
    auto text = kept.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
    auto const read = read_line(text);
    if (!read) return std::unexpected(read.error().fault);
    if (auto fault = readings::check(read->set)) return std::unexpected(std::move(*fault));
    return text;
}

}  // namespace phasewright::commands
