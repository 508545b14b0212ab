// Labels: for each current transformer, and for both ends of every pair of leads. The code carries the
// label's own text, so a reader shows the same words as the paper.
#include <algorithm>
#include <map>

#include "core/quantity/text.hpp"
#include "core/report/plan_papers.hpp"

namespace phasewright::report {

namespace {

Label label(plan::Site const& site, std::string head, std::vector<std::string> lines) {
    Label one{.head = std::move(head), .lines = std::move(lines), .code = {}};
    one.code = site.name + "\n" + one.head;
    for (auto const& line : one.lines) one.code += "\n" + line;
    return one;
}

// The wires of one pair between two devices, as numbers: "8+10".
struct Pair {
    std::string numbers, near, far;
};
std::vector<Pair> pairs_of(PointWiring const& wiring, std::string const& input) {
    std::map<std::pair<Device, Device>, Pair> pairs;
    for (auto const& wire : wiring.wires) {
        bool const leads = wire.use == plan::WireUse::current &&
                           (wire.from.device == Device::ct || wire.from.device == Device::block) &&
                           wire.from.device != wire.to.device;
        if (!leads || !wire.from.key.starts_with(input)) continue;
        auto& pair = pairs[{wire.from.device, wire.to.device}];
        auto const join = [](std::string& text, std::string const& more) {
            if (!more.empty()) text += (text.empty() ? "" : "+") + more;
        };
        join(pair.numbers, std::to_string(wire.number));
        if (pair.near.empty()) pair.near = wire.from.place;
        if (pair.far.empty()) pair.far = wire.to.place;
        pair.near += (pair.near == wire.from.place ? " " : "+") + wire.from.terminal;
        pair.far +=
            (pair.far == wire.to.place ? " " : "+") + (wire.to.terminal.empty() ? "____" : wire.to.terminal);
    }
    std::vector<Pair> all;
    for (auto& [ends, pair] : pairs) all.push_back(std::move(pair));
    return all;
}

}  // namespace

Paper label_paper(plan::Site const& site, plan::MeteringPoint const& point, PointWiring const& wiring) {
    LabelSheet sheet;
    for (auto const& ct : wiring.cts)
        sheet.labels.push_back(
            label(site, wiring.id + " " + ct.name,
                  {ct_words(point), site.region.primary_marks[0] + " to the source",
                   plan::is_current_loop(point.ct.output) ? "never open under load" : wiring.panel}));
    for (auto const& ct : wiring.cts)
        for (auto const& pair : pairs_of(wiring, ct.key)) {
            std::string const head = wiring.id + " " + pair.numbers;
            sheet.labels.push_back(
                label(site, head, {ct.name, "here: " + pair.near, "goes to: " + pair.far}));
            sheet.labels.push_back(
                label(site, head, {ct.name, "here: " + pair.far, "comes from: " + pair.near}));
        }
    return {.file = wiring.id + "-labels",
            .title = wiring.name + ": labels",
            .lead =
                "One for each current transformer, two for each pair of leads: one for either end. Each code "
                "says what stands beside it.",
            .panel = wiring.panel,
            .point = wiring.id,
            .content = std::move(sheet),
            .notes = {}};
}

}  // namespace phasewright::report
