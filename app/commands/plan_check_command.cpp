#include "app/commands/plan_check_command.hpp"

#include <memory>
#include <ostream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/plan_check_limits.hpp"
#include "app/commands/plan_check_page.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/checks/check_plan.hpp"
#include "core/checks/notes.hpp"

namespace phasewright::commands {

namespace {
using checks::Finding;
using quantity::Fault;

constexpr int nothing_found = 0;
constexpr int something_found = 1;
constexpr int not_checked = 2;
constexpr std::string_view without_profile = "sunspec";  // an open model: it says nothing of screws

std::string places_words(std::vector<checks::Place> const& places) {
    constexpr std::size_t most = 3;
    std::string words;
    for (std::size_t k = 0; k < std::min(places.size(), most); ++k)
        words += (words.empty() ? "" : ", ") + checks::words_of(places[k]);
    if (places.size() > most) words += fmt::format(" and {} more", places.size() - most);
    return words;
}

// "63 A against 17.5 A"; empty where there is no number to compare.
std::string numbers_words(Finding const& finding) {
    if (!finding.value || !finding.limit) return {};
    auto const unit = finding.unit.empty() ? std::string{} : " " + finding.unit;
    return checks::figure(*finding.value) + unit + " against " + checks::figure(*finding.limit) + unit;
}

// Every profile of the plan is read before anything is judged: a profile that cannot be read is our fault, no
// finding.
std::expected<void, Fault> take_profiles(plan::Site const& site, ProfileShelf& shelf) {
    for (auto const& point : site.points) {
        if (point.to_choose.meter || point.meter_profile == without_profile) continue;
        if (auto const profile = shelf.take(point.meter_profile); !profile)
            return std::unexpected(profile.error());
    }
    return {};
}

checks::MeterLibrary library_of(ProfileShelf& shelf) {
    return [&shelf](std::string const& name) -> std::optional<checks::MeterFacts> {
        if (name == without_profile) return std::nullopt;
        auto const profile = shelf.take(name);  // the shelf keeps it
        if (!profile) return std::nullopt;
        std::vector<plan::Service> services;
        for (auto const& shape : (*profile)->services) services.push_back(shape.service);
        return checks::MeterFacts{&(*profile)->hardware, &(*profile)->terminals, std::move(services)};
    };
}

nlohmann::ordered_json number_or_null(std::optional<double> const& value) {
    return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json(nullptr);
}
}  // namespace

std::string finding_line(Finding const& finding) {
    auto line = fmt::format("{}  {}  {}: {} (", plan::name_of(finding.severity), finding.rule,
                            places_words(finding.places), finding.what);
    auto const numbers = numbers_words(finding);
    line += numbers + (numbers.empty() ? "" : "; ") + checks::words_of_source(finding.source) + ")";
    line += ". Do: " + finding.remedy + ".";
    if (!finding.caution.empty()) line += " Caution: " + finding.caution;
    return printable(line);
}

std::string finding_json_line(Finding const& finding) {
    nlohmann::ordered_json json;
    json["rule"] = finding.rule;
    json["severity"] = plan::name_of(finding.severity);
    json["places"] = nlohmann::ordered_json::array();
    for (auto const& place : finding.places)
        json["places"].push_back({{"kind", plan::name_of(place.kind)}, {"id", place.id}});
    json["what"] = finding.what;
    json["value"] = number_or_null(finding.value);
    json["limit"] = number_or_null(finding.limit);
    json["unit"] = finding.unit;
    json["source"] = {{"standard", finding.source.standard},
                      {"edition", finding.source.edition},
                      {"clause", finding.source.clause},
                      {"footing", plan::name_of(finding.source.footing)},
                      {"confirmed", finding.source.confirmed}};
    json["remedy"] = finding.remedy;
    json["caution"] = finding.caution;
    return json.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

std::string counts_line(checks::Counts const& counts, std::size_t points) {
    if (counts.stop + counts.mend + counts.mind == 0)
        return fmt::format("nothing found in {} {}; that is no proof that the plan is right", points,
                           points == 1 ? "point" : "points");
    return fmt::format("{} to stop, {} to mend, {} to mind in {} {}; what is not named is not proven right",
                       counts.stop, counts.mend, counts.mind, points, points == 1 ? "point" : "points");
}

int plan_check_command(PlanCheckOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright plan check: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_checked;
    };
    if (options.rules) {
        out << plan_checks_page();
        return nothing_found;
    }
    if (options.plan_file.empty())
        return refuse(
            {"no plan was named", "plan check", "", "the file of a plan (docs/reference/plan.md)", ""});
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return refuse(text.error());
    auto const site = read_draft(*text, options.plan_file);
    if (!site) return refuse(site.error());
    checks::Limits limits;
    if (options.limits_file) {
        auto const own = text_of(*options.limits_file, "the limits");
        if (!own) return refuse(own.error());
        auto read = read_check_limits(*own, options.limits_file->string());
        if (!read) return refuse(read.error());
        limits = std::move(*read);
    }
    ProfileShelf shelf(profiles_folder(options.profiles_folder));
    if (auto const taken = take_profiles(*site, shelf); !taken) return refuse(taken.error());
    auto const findings = checks::check_plan(*site, library_of(shelf), limits);
    for (auto const& finding : findings)
        out << (options.json ? finding_json_line(finding) : finding_line(finding)) << '\n';
    auto const counts = checks::counted(findings);
    if (options.json)
        out << nlohmann::ordered_json{{"stop", counts.stop},
                                      {"mend", counts.mend},
                                      {"mind", counts.mind},
                                      {"points", site->points.size()}}
                   .dump()
            << '\n';
    else
        out << counts_line(counts, site->points.size()) << '\n';
    return findings.empty() ? nothing_found : something_found;
}

}  // namespace phasewright::commands
