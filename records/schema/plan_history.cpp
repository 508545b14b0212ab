#include "records/schema/plan_history.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "records/schema/text_form.hpp"

namespace phasewright::schema {

using quantity::Fault;

namespace {

struct ActionName {
    PlanAction action;
    std::string_view name;
};
constexpr std::array actions{ActionName{PlanAction::change, "change"}, ActionName{PlanAction::undo, "undo"},
                             ActionName{PlanAction::redo, "redo"}, ActionName{PlanAction::merge, "merge"}};

constexpr auto plan_type = "application/toml";
constexpr auto plan_name = "plan.toml";

std::optional<std::vector<Hash>> hashes_in(std::string_view text) {
    std::vector<Hash> hashes;
    while (!text.empty()) {
        Hash hash{};
        auto const end = std::min(text.find(' '), text.size());
        if (!bytes_of(text.substr(0, end), hash)) return std::nullopt;
        hashes.push_back(hash);
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return hashes;
}

std::optional<PlanVersion> version_in(Kept const& kept, Entry const& entry) {
    auto const& said = entry.said;
    auto const word = field_of(said, "action").value_or("");
    auto const* const action = std::ranges::find(actions, word, &ActionName::name);
    auto const after = hashes_in(field_of(said, "after").value_or(""));
    if (action == actions.end() || !after || said.blobs.size() != 1) return std::nullopt;
    if (after->size() > 2 || (action->action == PlanAction::merge) != (after->size() == 2))
        return std::nullopt;
    return PlanVersion{.entry = kept.hash,
                       .device = kept.device,
                       .number = kept.number,
                       .time = said.time,
                       .by = said.by,
                       .why = std::string(field_of(said, "why").value_or("")),
                       .action = action->action,
                       .after = *after,
                       .text = said.blobs.front().hash,
                       .size = said.blobs.front().size};
}

Break break_of(PlanVersion const& version, std::string what) {
    return {version.device, version.number, "plan", version.time, std::move(what)};
}

// Puts one version on the piles; what is wrong with it, if anything is.
std::optional<std::string> stack(PlanHistory& history, PlanVersion const& version) {
    auto& done = history.done;
    auto& laid_aside = history.undone;
    switch (version.action) {
        case PlanAction::change:
        case PlanAction::merge:
            done.push_back(version.text);
            laid_aside.clear();
            return std::nullopt;
        case PlanAction::undo:
            if (done.size() < 2) return "it undoes what is not there";
            laid_aside.push_back(done.back());
            done.pop_back();
            break;
        case PlanAction::redo:
            if (laid_aside.empty()) return "it redoes what was not undone";
            done.push_back(laid_aside.back());
            laid_aside.pop_back();
            break;
    }
    if (done.back() != version.text) return "its text is not the one that was undone or redone to";
    return std::nullopt;
}

void follow(PlanHistory& history) {
    std::set<Hash> seen;
    for (auto const* at = version_of(history, history.latest.front());
         at != nullptr && seen.insert(at->entry).second;
         at = at->after.empty() ? nullptr : version_of(history, at->after.front()))
        history.line.push_back(*at);
    std::ranges::reverse(history.line);
    for (auto const& version : history.line)
        if (auto const wrong = stack(history, version)) history.wrong.push_back(break_of(version, *wrong));
}

std::expected<void, Fault> not_in_conflict(PlanHistory const& history) {
    if (history.latest.size() < 2) return {};
    return std::unexpected(Fault{"the plan was changed apart in two copies of the job", "plan",
                                 std::to_string(history.latest.size()) + " latest versions", "one",
                                 "settle it first: phasewright job settle"});
}

std::expected<NextVersion, Fault> step(PlanHistory const& history, PlanAction action, Hash const* text) {
    if (auto const one = not_in_conflict(history); !one) return std::unexpected(one.error());
    if (text == nullptr)
        return std::unexpected(
            Fault{"there is nothing to " + std::string(name_of(action)), "plan", {}, {}, {}});
    return NextVersion{action, history.latest, *text};
}

}  // namespace

std::string_view name_of(PlanAction action) {
    return std::ranges::find(actions, action, &ActionName::action)->name;
}

PlanVersion const* version_of(PlanHistory const& history, Hash const& entry) {
    auto const found = std::ranges::find(history.all, entry, &PlanVersion::entry);
    return found == history.all.end() ? nullptr : &*found;
}

PlanHistory plan_history(std::span<Kept const> entries) {
    PlanHistory history;
    std::vector<Kept> ordered;
    std::ranges::copy_if(entries, std::back_inserter(ordered),
                         [](Kept const& one) { return one.kind == "plan"; });
    sort_for_showing(ordered);
    std::set<Hash> followed;
    for (auto const& kept : ordered) {
        auto const entry = entry_of(kept.text);
        if (!entry) continue;  // said already by whoever looks at the entry itself
        auto const version = version_in(kept, *entry);
        if (!version) {
            history.wrong.push_back(
                {kept.device, kept.number, kept.kind, entry->said.time, "it is no version of a plan"});
            continue;
        }
        followed.insert(version->after.begin(), version->after.end());
        history.all.push_back(*version);
    }
    for (auto const& version : history.all) {
        if (!followed.contains(version.entry)) history.latest.push_back(version.entry);
        for (auto const& before : version.after)
            if (version_of(history, before) == nullptr)
                history.wrong.push_back(break_of(version, "the version that it follows is missing"));
    }
    std::ranges::sort(history.latest);
    if (history.latest.size() == 1) follow(history);
    return history;
}

std::expected<NextVersion, Fault> changed_to(PlanHistory const& history, Hash const& text) {
    return step(history, PlanAction::change, &text);
}

std::expected<NextVersion, Fault> undone(PlanHistory const& history) {
    auto const& done = history.done;
    return step(history, PlanAction::undo, done.size() < 2 ? nullptr : &done[done.size() - 2]);
}

std::expected<NextVersion, Fault> redone(PlanHistory const& history) {
    return step(history, PlanAction::redo, history.undone.empty() ? nullptr : &history.undone.back());
}

std::expected<NextVersion, Fault> settled(PlanHistory const& history, Hash const& text) {
    if (history.latest.size() < 2)
        return std::unexpected(
            Fault{"the plan has one latest version; there is nothing to settle", "plan", {}, {}, {}});
    return NextVersion{PlanAction::merge, {history.latest[0], history.latest[1]}, text};
}

Draft draft_of(NextVersion const& next, std::uint64_t size, std::string time, std::string by,
               std::string why) {
    Draft draft{.time = std::move(time),
                .kind = Kind::plan,
                .by = std::move(by),
                .blobs = {{next.text, plan_type, size, plan_name}},
                .fields = {{"action", std::string(name_of(next.action))}}};
    std::string after;
    for (auto const& hash : next.after) after += (after.empty() ? "" : " ") + hex_of(hash);
    if (!after.empty()) draft.fields.push_back({"after", after});
    if (!why.empty()) draft.fields.push_back({"why", std::move(why)});
    return draft;
}

}  // namespace phasewright::schema
