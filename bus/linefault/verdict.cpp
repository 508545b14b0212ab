#include "bus/linefault/verdict.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "bus/linefault/evidence_words.hpp"
#include "bus/linefault/next_check.hpp"
#include "bus/linefault/posterior.hpp"

namespace phasewright::linefault {

namespace {
constexpr double found_from = 0.9;
constexpr double likely_from = 0.5;
constexpr double listed_from = 0.01;

// Devices in another order, and the tries with them.
void renumber(Evidence& evidence, std::vector<std::size_t> const& order) {
    std::vector<std::size_t> place(order.size());
    std::vector<Device> devices;
    for (std::size_t i = 0; i < order.size(); ++i) {
        place[order[i]] = i;
        devices.push_back(evidence.devices[order[i]]);
    }
    evidence.devices = std::move(devices);
    std::erase_if(evidence.tries, [&](Try const& one) { return one.device >= place.size(); });
    for (auto& one : evidence.tries) one.device = place[one.device];
}

// By position where every device has one; else those that answered least last, so that "behind a joint" can be said of
// them at all.
bool put_in_order(Evidence& evidence) {
    bool const ordered = std::all_of(evidence.devices.begin(), evidence.devices.end(),
                                     [](Device const& device) { return device.position > 0; });
    std::vector<double> key(evidence.devices.size(), 0.0);
    std::vector<int> good(key.size(), 0), all(key.size(), 0);
    for (auto const& one : evidence.tries) {
        if (one.device >= key.size() || one.other_format) continue;
        ++all[one.device];
        good[one.device] += one.came == Came::good ? 1 : 0;
    }
    std::vector<std::size_t> order(key.size());
    for (std::size_t i = 0; i < key.size(); ++i) {
        order[i] = i;
        key[i] = ordered ? evidence.devices[i].position : all[i] == 0 ? 0.0 : -static_cast<double>(good[i]) / all[i];
    }
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return key[a] < key[b]; });
    renumber(evidence, order);
    return ordered;
}

// A hand's reading at the position of the plan, as a place in the order of the devices.
void place_readings(Evidence& evidence, bool ordered) {
    for (auto& reading : evidence.by_hand.idle) {
        if (reading.position == 0) continue;
        auto const at = std::find_if(evidence.devices.begin(), evidence.devices.end(), [&](Device const& device) {
            return ordered && device.position >= reading.position;
        });
        reading.position = at == evidence.devices.end() ? static_cast<int>(evidence.devices.size())
                                                        : static_cast<int>(at - evidence.devices.begin()) + 1;
    }
}

bool is_open_question(NamedFault const& fault) {
    return fault.kind == LineFault::something_else || fault.kind == LineFault::device_something_else;
}

std::string capital(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}

// Crossed or broken at one joint: bytes do not tell which, but where they do.
bool say_joint(Verdict& verdict, bool ordered) {
    auto const& first = verdict.suspicions.front().fault;
    if (!ordered || !is_of_trunk(first.kind) || first.kind == LineFault::crossed_twice) return false;
    double sum = 0.0;
    for (auto const& one : verdict.suspicions)
        if (is_of_trunk(one.fault.kind) && one.fault.after == first.after) sum += one.probability;
    if (sum < found_from) return false;
    verdict.state = State::likely;
    verdict.sentence = fmt::format("The trunk fails {}, {:.1f} % sure; crossed or broken, bytes cannot tell.",
                                   joint_words(first.after, verdict.devices), 100.0 * sum);
    return true;
}

void say(Verdict& verdict, bool ordered) {
    auto const first = verdict.suspicions.empty() ? nullptr : &verdict.suspicions.front();
    if (first == nullptr || (verdict.healthy > likely_from && first->probability < likely_from)) {
        verdict.state = State::nothing_seen;
        verdict.sentence = fmt::format("Nothing wrong was seen in what came back ({:.0f} %). Terminators, polarization and common "
                                       "show in bytes only when it is late: volts and ohms prove them.", 100.0 * verdict.healthy);
        return;
    }
    if (first->probability < found_from && say_joint(verdict, ordered)) return;
    if (is_open_question(first->fault) || first->probability < likely_from) {
        verdict.state = State::cannot_tell;
        verdict.sentence =
            verdict.electrical > likely_from
                ? fmt::format("Something electrical disturbs the line ({:.0f} %); bytes cannot tell what.", 100.0 * verdict.electrical)
                : fmt::format("Cannot tell yet. First suspicion, {:.0f} %: {}.", 100.0 * first->probability, first->words);
        return;
    }
    verdict.state = first->probability >= found_from ? State::found : State::likely;
    verdict.sentence = fmt::format("{}. {:.1f} % sure.", capital(first->words), 100.0 * first->probability);
    for (auto const& other : verdict.suspicions)
        if (&other != first && other.probability >= likely_from)
            verdict.sentence += fmt::format(" {}. {:.1f} %.", capital(other.words), 100.0 * other.probability);
}

// Who answers at the shared address: said with it.
std::string who_moved(Posterior const& posterior, NamedFault const& fault, std::vector<Device> const& devices) {
    if (fault.kind != LineFault::duplicate_address) return {};
    auto const& moved = posterior.moved();
    auto const best = std::max_element(moved.begin(), moved.end());
    if (best == moved.end() || *best < 0.2) return {};
    auto const& device = devices[static_cast<std::size_t>(best - moved.begin())];
    return fmt::format("; the second is likely the one planned at unit {}, which is silent there", device.unit);
}
}  // namespace

std::string_view name_of(State state) {
    switch (state) {
        case State::nothing_seen: return "nothing_seen";
        case State::found: return "found";
        case State::likely: return "likely";
        case State::cannot_tell: return "cannot_tell";
    }
    return "unknown";
}

Verdict judge(Evidence evidence, Priors const& priors) {
    Verdict verdict;
    bool const ordered = put_in_order(evidence);
    place_readings(evidence, ordered);
    verdict.devices = evidence.devices;
    verdict.evidence = words_of(evidence);
    if (evidence.devices.empty()) {
        verdict.sentence = "No device is planned on this line: nothing was asked, and nothing can be said.";
        return verdict;
    }
    Posterior const posterior(evidence, ordered, priors);
    verdict.healthy = posterior.healthy();
    verdict.electrical = posterior.electrical();
    for (auto const& [fault, probability] : posterior.marginals())
        if (probability >= listed_from)
            verdict.suspicions.push_back({fault, probability,
                                          words_of(fault, evidence.devices, ordered) + who_moved(posterior, fault, evidence.devices)});
    std::stable_sort(verdict.suspicions.begin(), verdict.suspicions.end(),
                     [](Suspicion const& a, Suspicion const& b) { return a.probability > b.probability; });
    say(verdict, ordered);
    verdict.next = next_checks(evidence, ordered, posterior);
    return verdict;
}

}  // namespace phasewright::linefault
