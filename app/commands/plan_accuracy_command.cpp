#include "app/commands/plan_accuracy_command.hpp"

#include <algorithm>
#include <ostream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/plan_file.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/chain/drawn_accuracy.hpp"
#include "core/chain/point_accuracy.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;
using Json = nlohmann::ordered_json;

constexpr int reckoned = 0;
constexpr int not_shown = 1;
constexpr int not_read = 2;
constexpr std::string_view without_profile =
    "sunspec";  // an open model: it says nothing of screws or classes

struct Answer {
    plan::MeteringPoint const* point = nullptr;
    chain::PointAccuracy accuracy;
    std::optional<quantity::Band> drawn;  // at the usual current
};

Json number_or_null(std::optional<double> const& value) { return value ? Json(*value) : Json(nullptr); }

Json json_of(std::optional<chain::AtCurrent> const& at) {
    if (!at) return nullptr;
    Json json{{"current_a", at->current_a}, {"power_factor", at->power_factor}};
    json["expanded_percent"] = at->budget ? Json(at->budget->expanded_percent) : Json(nullptr);
    json["worst_percent"] = at->budget ? Json(at->budget->worst_percent) : Json(nullptr);
    json["silent"] = at->silent ? Json(chain::words_of(at->silent->why)) : Json(nullptr);
    return json;
}

std::string json_line(Answer const& answer) {
    auto const& accuracy = answer.accuracy;
    Json json{{"point", answer.point->id}};
    json["least"] = json_of(accuracy.least);
    json["usual"] = json_of(accuracy.usual);
    json["most"] = json_of(accuracy.most);
    json["wanted_percent"] = number_or_null(accuracy.wanted_percent);
    json["shown_from_a"] = number_or_null(accuracy.shown_from_a);
    json["stated_from_a"] = number_or_null(accuracy.stated_from_a);
    json["drawn_95_percent"] = answer.drawn ? Json{answer.drawn->low, answer.drawn->high} : Json(nullptr);
    json["to_confirm"] = Json::array();
    for (auto const& source : accuracy.unconfirmed) json["to_confirm"].push_back(chain::words_of(source));
    json["assumed"] = accuracy.assumed;
    return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

void print(Answer const& answer, std::ostream& out) {
    out << printable(answer.point->id + "  " + answer.point->name) << '\n';
    for (auto const& line : chain::words_of(answer.accuracy)) out << "  " << printable(line) << '\n';
    if (answer.drawn)
        out << fmt::format("  Drawn {} times at the usual current: 95 % lie from {:+.2f} to {:+.2f} %\n",
                           answer.drawn->draws, answer.drawn->low, answer.drawn->high);
}

// "IEC 62053-22:2003": standard and edition.
std::expected<chain::ClassTables, Fault> tables_of(std::vector<std::string> const& confirmed) {
    auto tables = chain::built_in_tables();
    for (auto const& text : confirmed) {
        auto const colon = text.rfind(':');
        auto const standard = text.substr(0, colon);
        auto const marked = [&](auto const& classes) {
            return std::ranges::any_of(classes,
                                       [&](auto const& of) { return of.source.standard == standard; });
        };
        bool const is_known = marked(tables.ct) || marked(tables.vt) || marked(tables.meters);
        if (!is_known || colon == std::string::npos || colon + 1 == text.size())
            return std::unexpected(Fault{"this names no table of limits", "--confirmed", text,
                                         "a standard of docs/reference/accuracy-classes.md and its edition",
                                         "IEC 62053-22:2003"});
        tables = chain::confirmed(std::move(tables), standard, text.substr(colon + 1));
    }
    return tables;
}

bool is_listed(chain::ClassTables const& tables, std::string const& standard_and_class) {
    auto const word = standard_and_class.rfind(' ');
    return word != std::string::npos && chain::meter_class(tables, standard_and_class.substr(0, word),
                                                           standard_and_class.substr(word + 1)) != nullptr;
}

std::expected<Answer, Fault> answer_for(plan::Site const& site, plan::MeteringPoint const& point,
                                        PlanAccuracyOptions const& options, chain::ClassTables const& tables,
                                        ProfileShelf& shelf) {
    plan::MeterHardware const* hardware = nullptr;
    if (!point.to_choose.meter && point.meter_profile != without_profile) {
        auto const profile = shelf.take(point.meter_profile);
        if (!profile) return std::unexpected(profile.error());
        hardware = &(*profile)->hardware;
    }
    auto const panel = std::ranges::find(site.panels, point.panel, &plan::Panel::id);
    auto const nominal = panel == site.panels.end() ? plan::Nominal{} : panel->nominal;
    auto const word = options.meter_class.rfind(' ');
    chain::Assumptions assumptions{.correlation = options.correlation, .tables = &tables};
    if (word != std::string::npos) {
        assumptions.meter_standard = options.meter_class.substr(0, word);
        assumptions.meter_class = options.meter_class.substr(word + 1);
    }
    Answer answer{.point = &point, .accuracy = chain::point_accuracy(point, nominal, hardware, assumptions)};
    if (options.seed && point.usual_a) {
        auto const load = chain::load_at(point, *point.usual_a, assumptions);
        answer.drawn = chain::drawn_accuracy(chain::chain_of(point, nominal, hardware, assumptions),
                                             {&load, 1}, *options.seed)
                           .band;
    }
    return answer;
}
}  // namespace

int plan_accuracy_command(PlanAccuracyOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright plan accuracy: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_read;
    };
    if (!(options.correlation >= 0.0 && options.correlation <= 1.0))
        return refuse({"this is no correlation of errors", "--correlation",
                       fmt::format("{}", options.correlation), "0 (independent) to 1 (alike)", ""});
    auto const tables = tables_of(options.confirmed);
    if (!tables) return refuse(tables.error());
    if (!options.meter_class.empty() && !is_listed(*tables, options.meter_class))
        return refuse({"this names no class of the tables", "--meter-class", options.meter_class,
                       "a standard of docs/reference/accuracy-classes.md and a class", "IEC 62053-22 0.5S"});
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return refuse(text.error());
    auto const site = read_draft(*text, options.plan_file);
    if (!site) return refuse(site.error());
    for (auto const& id : options.points)
        if (std::ranges::find(site->points, id, &plan::MeteringPoint::id) == site->points.end())
            return refuse({"the plan has no such point", "--point", id, "the id of a point", ""});
    ProfileShelf shelf(profiles_folder(options.profiles_folder));
    int status = reckoned;
    for (auto const& point : site->points) {
        if (!options.points.empty() && std::ranges::find(options.points, point.id) == options.points.end())
            continue;
        if (point.to_choose.ct) {
            if (!options.json)
                out << printable(point.id) << "  its current transformers are still to be chosen\n";
            continue;
        }
        auto const answer = answer_for(*site, point, options, *tables, shelf);
        if (!answer) return refuse(answer.error());
        if (options.json)
            out << json_line(*answer) << '\n';
        else
            print(*answer, out);
        if (answer->accuracy.shown == chain::Shown::no) status = not_shown;
    }
    return status;
}

}  // namespace phasewright::commands
