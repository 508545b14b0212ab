#include "core/checks/notes.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/quantity/text.hpp"

namespace phasewright::checks {

void Notes::begin(Rule const& rule) {
    rule_ = &rule;
    auto const set = limits_.of_rule.find(rule.id);
    set_ = set == limits_.of_rule.end() ? nullptr : &set->second;
}

double Notes::limit() const {
    if (set_ != nullptr && set_->value) return *set_->value;
    return rule_->limit ? rule_->limit->value : 0.0;
}

chain::Citation Notes::source_of(Note const& note) const {
    auto const& own = note.source ? *note.source : rule_->source;
    chain::Citation source{.standard = std::string(own.standard),
                           .edition = std::string(own.edition),
                           .clause = std::string(own.clause),
                           .footing = own.footing};
    if (set_ == nullptr) return source;
    if (!set_->standard.empty()) source.standard = set_->standard;
    if (!set_->edition.empty()) source.edition = set_->edition;
    if (!set_->clause.empty()) source.clause = set_->clause;
    source.confirmed = set_->confirmed;
    return source;
}

void Notes::add(Note note) {
    Finding finding{.rule = std::string(rule_->id),
                    .severity = note.severity.value_or(rule_->severity),
                    .places = std::move(note.places),
                    .what = std::move(note.what),
                    .value = note.value,
                    .limit = note.limit,
                    .unit = std::move(note.unit),
                    .source = source_of(note),
                    .remedy = note.remedy.empty() ? std::string(rule_->remedy) : std::move(note.remedy)};
    if (finding.unit.empty() && finding.value && rule_->limit) finding.unit = rule_->limit->unit;
    if (!chain::may_judge(finding.source) && !note.by_physics) {
        finding.severity = Severity::mind;
        finding.what += "; check the edition in force";
    }
    if (finding.severity == Severity::stop) finding.caution = rule_->caution;
    findings_.push_back(std::move(finding));
}

std::vector<Finding> Notes::take() {
    std::ranges::stable_sort(findings_, {}, &Finding::severity);
    return std::exchange(findings_, {});
}

std::string figure(double value) {
    double const size = std::abs(value);
    auto text = quantity::fixed(value, size >= 1000.0 ? 0 : size >= 100.0 ? 1 : size >= 1.0 ? 2 : 3);
    if (text.find('.') == std::string::npos) return text;
    while (text.back() == '0') text.pop_back();
    if (text.back() == '.') text.pop_back();
    return text;
}

std::string named(std::vector<std::string> const& ids) {
    constexpr std::size_t most = 6;
    if (ids.size() <= most) return quantity::joined(ids, ", ");
    std::vector<std::string> const first(ids.begin(), ids.begin() + most);
    return quantity::joined(first, ", ") + " and " + std::to_string(ids.size() - most) + " more";
}

Place at_point(AtPoint const& at) { return {PlaceKind::point, at.point->id}; }
Place at_panel(plan::Panel const& panel) { return {PlaceKind::panel, panel.id}; }

std::vector<Place> places_of(AtPoint const& at) {
    std::vector<Place> places{at_point(at)};
    if (at.panel != nullptr) places.push_back(at_panel(*at.panel));
    return places;
}

void add_by_panel(Ground const& ground, Notes& notes, bool (*is_so)(AtPoint const& at),
                  std::string_view words) {
    for (auto const& panel : ground.panels) {
        std::vector<std::string> ids;
        std::vector<Place> places{at_panel(*panel.panel)};
        for (auto const* at : panel.points)
            if (is_so(*at)) {
                ids.push_back(at->point->id);
                places.push_back(at_point(*at));
            }
        if (ids.empty()) continue;
        notes.add({.places = std::move(places),
                   .what = (ids.size() == 1 ? "1 point " : std::to_string(ids.size()) + " points ") +
                           std::string(words) + ": " + named(ids)});
    }
}

std::string words_of(Place const& place) {
    auto words = std::string(plan::name_of(place.kind));
    return place.id.empty() ? words : words + " " + place.id;
}

std::string words_of_source(chain::Citation const& source) {
    // IEC 61869-2:2012, but NEC 2023 and V1.02.
    bool const colon = source.standard.starts_with("IEC") || source.standard.starts_with("EN");
    auto words = source.standard;
    if (!source.edition.empty()) words += (colon ? ":" : " ") + source.edition;
    if (!source.clause.empty()) words += ", " + source.clause;
    if (!chain::may_judge(source))
        words += source.edition.empty() ? " (not confirmed for the edition in force)" : " (not confirmed)";
    return words;
}

Counts counted(std::vector<Finding> const& findings) {
    Counts counts;
    for (auto const& finding : findings)
        ++(finding.severity == Severity::stop   ? counts.stop
           : finding.severity == Severity::mend ? counts.mend
                                                : counts.mind);
    return counts;
}

}  // namespace phasewright::checks
