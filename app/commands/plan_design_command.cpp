#include "app/commands/plan_design_command.hpp"

#include <algorithm>
#include <ostream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/catalogue_file.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/profile/profile.hpp"

namespace phasewright::commands {

namespace {
using design::Proposal;
using quantity::Fault;

constexpr int designed = 0;
constexpr int not_designed = 2;

// Several catalogues are laid together; a model that stands in two of them is refused, since the plan names
// it alone.
std::expected<design::Catalogue, Fault> catalogue_of(std::vector<std::filesystem::path> const& files) {
    if (files.empty()) return read_catalogue_file(shipped_catalogue());
    design::Catalogue all;
    for (auto const& file : files) {
        auto one = read_catalogue_file(file);
        if (!one) return std::unexpected(one.error());
        for (auto& offer : one->cts) {
            auto const has_model = [&](auto const& other) { return other.ct.model == offer.ct.model; };
            if (std::ranges::any_of(all.cts, has_model))
                return std::unexpected(Fault{"the model stands in another catalogue too",
                                             file.string(),
                                             "\"" + offer.ct.model + "\"",
                                             "another model for each",
                                             {}});
            all.cts.push_back(std::move(offer));
        }
        std::ranges::move(one->vts, std::back_inserter(all.vts));
        std::ranges::move(one->fuses, std::back_inserter(all.fuses));
        std::ranges::move(one->supplies, std::back_inserter(all.supplies));
        std::ranges::move(one->wires, std::back_inserter(all.wires));
    }
    return all;
}

// The plan is never written over unless that was asked for.
std::expected<std::optional<std::filesystem::path>, Fault> target_of(PlanDesignOptions const& options) {
    if (options.in_place && options.out_file)
        return std::unexpected(Fault{"two places to write to were named",
                                     "--in-place",
                                     options.out_file->string(),
                                     "--in-place, or -o",
                                     {}});
    if (options.in_place) return std::filesystem::path{options.plan_file};
    if (!options.out_file) return std::nullopt;
    std::error_code none;
    if (std::filesystem::equivalent(*options.out_file, options.plan_file, none))
        return std::unexpected(Fault{
            "the completed plan would be written over the plan itself", "-o", options.out_file->string(),
            "another file", "--in-place, where that is what you want; comments of the file are lost"});
    return options.out_file;
}

void add_block(std::string& text, std::string_view label, std::string_view words, std::size_t width) {
    constexpr std::size_t indent = 12;
    std::string_view head = label;
    for (auto const& line : wrapped(printable(words), width > indent + 20 ? width - indent : 20)) {
        text += fmt::format("  {:<8}  {}\n", head, line);
        head = "";
    }
}

std::string cost_words(design::Cost const& cost) {
    std::string words;
    if (cost.cable_m > 0.0) words = fmt::format("{:.1f} m of cable", cost.cable_m);
    if (cost.va > 0.0) words += fmt::format("{}{:.1f} VA", words.empty() ? "" : ", ", cost.va);
    return words;
}

std::string sum_line(std::vector<Proposal> const& proposals) {
    auto const counts = design::counted(proposals);
    double cable = 0.0;
    for (auto const& proposal : proposals)
        // The cable of a line is that of its meters' places; it is not counted twice.
        if (proposal.standing == design::Standing::taken && proposal.part != design::Part::line)
            cable += proposal.cost.cable_m;
    return fmt::format(
        "{} taken, {} offered, {} open, {} overruled; {:.0f} m of cable. Nothing here says that it is safe "
        "or allowed: "
        "that is for whoever is licensed there, with the code in force.",
        counts.taken, counts.offered, counts.open, counts.kept, cable);
}

void print_json(std::ostream& out, std::vector<Proposal> const& proposals,
                std::optional<std::filesystem::path> const& written) {
    for (auto const& proposal : proposals) out << proposal_json_line(proposal) << '\n';
    auto const counts = design::counted(proposals);
    nlohmann::ordered_json sum{
        {"taken", counts.taken}, {"offered", counts.offered}, {"open", counts.open}, {"kept", counts.kept}};
    sum["written"] = written ? nlohmann::ordered_json(written->string()) : nlohmann::ordered_json(nullptr);
    out << sum.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
}
}  // namespace

std::expected<std::vector<design::MeterOffer>, Fault> meters_in(std::filesystem::path const& folder) {
    std::vector<std::filesystem::path> files;
    std::error_code error;
    for (auto const& entry : std::filesystem::directory_iterator(folder, error))
        if (entry.path().extension() == ".toml") files.push_back(entry.path());
    if (error)
        return std::unexpected(Fault{"the folder of profiles cannot be read", folder.string(),
                                     error.message(), "a folder", "name one with --profiles"});
    std::ranges::sort(files);
    std::vector<design::MeterOffer> offers;
    for (auto const& file : files) {
        auto const profile = profile::read_profile_file(file.string());
        if (!profile) return std::unexpected(profile.error());
        design::MeterOffer offer{.profile = file.stem().string(),
                                 .name = profile->name,
                                 .hardware = profile->hardware,
                                 .current_inputs = static_cast<int>(profile->terminals.current.size())};
        for (auto const& shape : profile->services) offer.services.push_back(shape.service);
        offers.push_back(std::move(offer));
    }
    return offers;
}

std::string proposal_lines(Proposal const& proposal, std::size_t width) {
    auto const standing = plan::name_of(proposal.standing);
    auto text =
        printable(fmt::format("{} {} of {}", standing, plan::name_of(proposal.part), proposal.where)) + "\n";
    if (!proposal.choice.empty()) add_block(text, "choice", proposal.choice, width);
    if (!proposal.instead_of.empty()) add_block(text, "instead", "of " + proposal.instead_of, width);
    for (std::size_t k = 0; k < proposal.reasons.size(); ++k)
        add_block(text, k == 0 ? "because" : "", proposal.reasons[k], width);
    for (std::size_t k = 0; k < proposal.others.size(); ++k)
        add_block(text, k == 0 ? "not" : "", proposal.others[k].choice + ": " + proposal.others[k].because,
                  width);
    for (std::size_t k = 0; k < proposal.assumed.size(); ++k)
        add_block(text, k == 0 ? "assumed" : "", proposal.assumed[k], width);
    if (!proposal.ask.empty()) add_block(text, "to find", proposal.ask, width);
    if (auto const cost = cost_words(proposal.cost); !cost.empty()) add_block(text, "cost", cost, width);
    return text;
}

std::string proposal_json_line(Proposal const& proposal) {
    nlohmann::ordered_json json;
    json["part"] = plan::name_of(proposal.part);
    json["where"] = proposal.where;
    json["standing"] = plan::name_of(proposal.standing);
    json["choice"] = proposal.choice;
    json["instead_of"] = proposal.instead_of;
    json["reasons"] = proposal.reasons;
    json["others"] = nlohmann::ordered_json::array();
    for (auto const& other : proposal.others)
        json["others"].push_back({{"choice", other.choice}, {"because", other.because}});
    json["assumed"] = proposal.assumed;
    json["ask"] = proposal.ask;
    json["cable_m"] = proposal.cost.cable_m;
    json["va"] = proposal.cost.va;
    return json.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

int plan_design_command(PlanDesignOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright plan design: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_designed;
    };
    auto const target = target_of(options);
    if (!target) return refuse(target.error());
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return refuse(text.error());
    auto const site = read_draft(*text, options.plan_file);
    if (!site) return refuse(site.error());
    auto const catalogue = catalogue_of(options.catalogue_files);
    if (!catalogue) return refuse(catalogue.error());
    auto const meters = meters_in(profiles_folder(options.profiles_folder));
    if (!meters) return refuse(meters.error());
    auto const result = design::design(*site, *catalogue, *meters, {.share_meters = options.share_meters});
    if (*target) {
        auto const written =
            write_whole(**target, write_plan(result.site), "the completed plan", "name another file with -o");
        if (!written) return refuse(written.error());
    }
    if (options.json) {
        print_json(out, result.proposals, *target);
        return designed;
    }
    for (auto const& proposal : result.proposals) out << proposal_lines(proposal, options.width) << '\n';
    out << sum_line(result.proposals) << '\n';
    if (*target) out << "written: " << printable((*target)->string()) << '\n';
    return designed;
}

}  // namespace phasewright::commands
