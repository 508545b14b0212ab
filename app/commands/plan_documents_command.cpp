#include "app/commands/plan_documents_command.hpp"

#include <algorithm>
#include <ostream>
#include <system_error>

#include <fmt/format.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/whole_file.hpp"
#include "core/quantity/text.hpp"
#include "print/drawing/papers.hpp"

namespace phasewright::commands {

namespace {

using quantity::Fault;
namespace fs = std::filesystem;

constexpr int not_done = 2;

bool is_date(std::string_view text) {
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
    for (std::size_t k = 0; k < text.size(); ++k)
        if (k != 4 && k != 7 && (text[k] < '0' || text[k] > '9')) return false;
    int const month = (text[5] - '0') * 10 + text[6] - '0', day = (text[8] - '0') * 10 + text[9] - '0';
    return month >= 1 && month <= 12 && day >= 1 && day <= 31;
}

// The pair of terminals of each current input of the service: the meter's inputs are those of the elements
// that use it.
std::vector<plan::TerminalNames::CurrentPair> pairs_for(profile::Profile const& profile,
                                                        plan::MeteringPoint const& point) {
    auto const model = plan::model_of(point.service, point.model_options);
    auto const& shape = profile::shape_for(profile, point.service);
    bool const fits = shape.service == point.service && point.elements.empty();
    std::vector<plan::TerminalNames::CurrentPair> pairs;
    auto const inputs = point.elements.empty() ? model.current_inputs.size() : point.elements.size();
    for (std::size_t input = 0; input < inputs; ++input) {
        auto at = input;
        for (std::size_t element = 0;
             fits && element < std::min(model.elements.size(), shape.elements.size()); ++element)
            if (model.elements[element].current_input == static_cast<int>(input))
                at = static_cast<std::size_t>(std::max(0, shape.elements[element]));
        auto const& known = profile.terminals.current;
        pairs.push_back(at < known.size() ? known[at] : plan::TerminalNames::CurrentPair{});
    }
    return pairs;
}

// Ours, with the region's marks in them.
plan::TerminalNames names_of_ours(plan::Site const& site, plan::MeteringPoint const& point) {
    auto names = plan::default_terminals(plan::model_of(point.service, point.model_options));
    for (std::size_t k = 0; k < names.current.size(); ++k) {
        auto const input = "I" + std::to_string(k + 1) + " ";
        names.current[k] = {input + site.region.secondary_marks[0], input + site.region.secondary_marks[1]};
    }
    return names;
}

std::expected<report::MeterFacts, Fault> facts_of(plan::Site const& site, plan::MeteringPoint const& point,
                                                  ProfileShelf& shelf) {
    report::MeterFacts facts;
    if (point.to_choose.meter || point.meter_profile == "sunspec") {
        facts.terminals = names_of_ours(site, point);
        return facts;
    }
    auto const taken = shelf.take(point.meter_profile);
    if (!taken) return std::unexpected(taken.error());
    auto const& profile = **taken;
    facts.name = profile.name;
    facts.hardware = profile.hardware;
    facts.terminals_known = !profile.terminals.current.empty();
    facts.terminals = facts.terminals_known ? profile.terminals : names_of_ours(site, point);
    if (facts.terminals_known) facts.terminals.current = pairs_for(profile, point);
    return facts;
}

std::expected<std::vector<report::PlannedPoint>, Fault> chosen(plan::Site const& site,
                                                               PlanDocumentsOptions const& options) {
    ProfileShelf shelf(profiles_folder(options.profiles_folder));
    std::vector<std::string> known;
    for (auto const& point : site.points) known.push_back(point.id);
    for (auto const& id : options.points)
        if (std::ranges::find(known, id) == known.end())
            return std::unexpected(Fault{"the plan has no such point", "--point", id,
                                         "an id of a point of the plan",
                                         "did you mean \"" + quantity::nearest_word(id, known) + "\"?"});
    std::vector<report::PlannedPoint> points;
    for (auto const& point : site.points) {
        bool const named = std::ranges::find(options.points, point.id) != options.points.end();
        if (options.points.empty() ? !point.installed : !named) continue;
        auto facts = facts_of(site, point, shelf);
        if (!facts) return std::unexpected(facts.error());
        points.push_back({&point, std::move(*facts)});
    }
    if (points.empty())
        return std::unexpected(Fault{"the plan has no point to draw",
                                     options.plan_file.string(),
                                     {},
                                     "a point that is to be installed",
                                     {}});
    return points;
}

// Only a folder that holds nothing but sheets is replaced.
std::expected<void, Fault> may_replace(fs::path const& folder) {
    std::error_code error;
    auto const status = fs::status(folder, error);
    if (!fs::exists(status)) return {};
    if (!fs::is_directory(status))
        return std::unexpected(Fault{"the sheets need a folder", folder.string(), "a file",
                                     "a folder, or a name that is free", "name another"});
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
        auto const name = entry->path().filename().string();
        std::error_code none;
        if (entry->is_regular_file(none) && (name == "index.html" || name.ends_with(".svg"))) continue;
        return std::unexpected(Fault{"the folder holds something else than sheets", folder.string(), name,
                                     "a folder that is empty, new, or from an earlier run",
                                     "name another folder"});
    }
    if (error)
        return std::unexpected(
            Fault{"the folder cannot be read", folder.string(), error.message(), {}, "look at your rights"});
    return {};
}

// All sheets are written beside the folder first; then the two change names.
std::expected<void, Fault> write_folder(fs::path const& folder, std::vector<drawing::SheetFile> const& sheets,
                                        std::string const& index) {
    std::string plain = folder.string();
    while (plain.size() > 1 && plain.ends_with('/')) plain.pop_back();
    fs::path const part = plain + ".part", old = plain + ".old";
    std::error_code error, none;
    fs::remove_all(part, none);
    fs::create_directories(part, error);
    auto const failed = [&](std::string found) {
        fs::remove_all(part, none);
        return std::unexpected(Fault{"the sheets cannot be written",
                                     plain,
                                     std::move(found),
                                     {},
                                     "look at the folder, its rights and the room on the disk"});
    };
    if (error) return failed(error.message());
    for (auto const& sheet : sheets)
        if (auto const written = write_whole(part / sheet.name, sheet.svg, "sheet", ""); !written)
            return failed(written.error().found);
    if (auto const written = write_whole(part / "index.html", index, "index", ""); !written)
        return failed(written.error().found);
    bool const replaces = fs::exists(plain, none);
    if (replaces) {
        fs::remove_all(old, none);
        fs::rename(plain, old, error);
        if (error) return failed(error.message());
    }
    fs::rename(part, plain, error);
    if (error) {
        if (replaces) fs::rename(old, plain, none);
        return failed(error.message());
    }
    fs::remove_all(old, none);
    return {};
}

std::expected<std::size_t, Fault> make(PlanDocumentsOptions const& options) {
    if (options.paper != "a4" && options.paper != "letter")
        return std::unexpected(Fault{"the paper is not known", "--paper", options.paper, "a4, letter", {}});
    if (!options.date.empty() && !is_date(options.date))
        return std::unexpected(Fault{
            "the date is not understood", "--date", options.date, "year, month and day: 2026-11-25", {}});
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return std::unexpected(text.error());
    auto const site = read_draft(*text, options.plan_file.string());
    if (!site) return std::unexpected(site.error());
    auto const points = chosen(*site, options);
    if (!points) return std::unexpected(points.error());
    if (auto const may = may_replace(options.folder); !may) return std::unexpected(may.error());
    auto const size = options.paper == "letter" ? drawing::PaperSize::letter : drawing::PaperSize::a4;
    drawing::Issue const issue{
        .site = report::site_and_place(*site), .revision = options.revision, .date = options.date};
    auto const sheets = drawing::sheets_of(report::plan_papers(*site, *points), size, issue);
    if (auto const written = write_folder(options.folder, sheets, drawing::index_of(sheets, size, issue));
        !written)
        return std::unexpected(written.error());
    return sheets.size();
}

}  // namespace

int plan_documents_command(PlanDocumentsOptions const& options, std::ostream& out, std::ostream& err) {
    auto const made = make(options);
    if (!made) {
        err << quantity::to_sentence(made.error()) << '\n';
        return not_done;
    }
    out << fmt::format("{} sheets in {}; index.html there shows and prints all of them.\n", *made,
                       options.folder.string());
    return 0;
}

}  // namespace phasewright::commands
