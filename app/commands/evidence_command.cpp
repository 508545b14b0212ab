#include "app/commands/evidence_command.hpp"

#include <algorithm>
#include <ostream>

#include "app/commands/acceptance_file.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;
constexpr int not_answered = 2;
constexpr std::string_view without_profile = "sunspec";  // an open model: it says nothing of its inputs

std::expected<TestedPoint, Fault> point_of(EvidenceOptions const& options) {
    auto const text = text_of(*options.plan_file, "the plan");
    if (!text) return std::unexpected(text.error());
    auto const site = read_draft(*text, options.plan_file->string());
    if (!site) return std::unexpected(site.error());
    auto const wanted = options.point.value_or("");
    auto const found = std::ranges::find(site->points, wanted, &plan::MeteringPoint::id);
    if (found == site->points.end()) {
        std::vector<std::string> ids;
        for (auto const& point : site->points) ids.push_back(point.id);
        return std::unexpected(Fault{"the plan has no such point", options.plan_file->string(), wanted,
                                     "--point with an id of the plan",
                                     "did you mean \"" + quantity::nearest_word(wanted, ids) + "\"?"});
    }
    TestedPoint tested{.point = *found};
    if (found->to_choose.meter || found->meter_profile == without_profile) return tested;
    ProfileShelf shelf(profiles_folder(options.profiles_folder));
    auto const profile = shelf.take(found->meter_profile);
    if (!profile) return std::unexpected(profile.error());
    if (auto const* const input = plan::input_for((*profile)->hardware, found->ct.output)) {
        tested.input = *input;
        tested.meter_earths = input->low_side_earthed;
    }
    return tested;
}

std::expected<EvidenceFile, Fault> file_of(EvidenceOptions const& options) {
    auto text = text_of(options.file, "the test");
    if (!text) return std::unexpected(text.error());
    EvidenceFile file{.text = std::move(*text), .file = options.file};
    if (options.limits_file) {
        auto const own = text_of(*options.limits_file, "the limits");
        if (!own) return std::unexpected(own.error());
        auto limits = read_acceptance_limits(*own, options.limits_file->string());
        if (!limits) return std::unexpected(limits.error());
        file.limits = std::move(*limits);
    }
    if (!options.plan_file) return file;
    auto point = point_of(options);
    if (!point) return std::unexpected(point.error());
    file.point = std::move(*point);
    return file;
}
}  // namespace

int evidence_command(EvidenceReader read, EvidenceOptions const& options, std::ostream& out,
                     std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright evidence: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_answered;
    };
    auto const file = file_of(options);
    if (!file) return refuse(file.error());
    auto const answer = read(*file);
    if (!answer) return refuse(answer.error());
    return say(*answer, options.json, out);
}

}  // namespace phasewright::commands
