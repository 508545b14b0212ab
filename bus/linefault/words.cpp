#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "bus/linefault/evidence_words.hpp"
#include "bus/linefault/verdict.hpp"

namespace phasewright::linefault {

namespace {

std::string ordinal(int number) {
    int const last = number % 10;
    bool const teen = number % 100 / 10 == 1;
    char const* const ending = teen ? "th" : last == 1 ? "st" : last == 2 ? "nd" : last == 3 ? "rd" : "th";
    return std::to_string(number) + ending;
}

std::string named(Device const& device) {
    return device.name.empty() ? fmt::format("unit {}", device.unit) : fmt::format("unit {}, {}", device.unit, device.name);
}

// Between which devices; `after` counts them from the head.
std::string joint(int after, std::vector<Device> const& devices, bool ordered) {
    int const count = static_cast<int>(devices.size());
    if (after <= 0) return "at the head, before the first device";
    if (!ordered) return "somewhere, with the silent devices behind it (their order is not known)";
    auto const at = [&](int place) -> Device const& { return devices[static_cast<std::size_t>(place)]; };
    if (after >= count) return "behind the last device";
    return fmt::format("between the {} device ({}) and the {} ({})", ordinal(after), named(at(after - 1)),
                       ordinal(after + 1), named(at(after)));
}

std::string units_of(std::vector<int> const& units) {
    std::string text = units.size() == 1 ? "unit " : "units ";
    for (std::size_t i = 0; i < units.size(); ++i) {
        std::size_t last = i;
        while (last + 1 < units.size() && units[last + 1] == units[last] + 1) ++last;
        text += i == 0 ? "" : ", ";
        text += std::to_string(units[i]);
        if (last > i + 1) {
            text += " to " + std::to_string(units[last]);
            i = last;
        }
    }
    return text;
}

std::string_view said(Came came) {
    switch (came) {
        case Came::good: return "a good answer";
        case Came::nothing: return "silence";
        case Came::bad_checksum: return "a wrong checksum";
        case Came::garbage: return "bytes that make no frame";
        case Came::late: return "a late answer";
        case Came::two_answers: return "two answers at once";
        case Came::foreign: return "a frame that nobody was asked for";
        case Came::inverted: return "zeros or inverted bits";
        case Came::other_speed: return "bits of another speed";
        case Came::after_stray: return "a good answer behind a stray byte";
    }
    return "";
}
}  // namespace

std::string joint_words(int after, std::vector<Device> const& devices) { return joint(after, devices, true); }

std::string words_of(NamedFault const& fault, std::vector<Device> const& devices, bool ordered) {
    auto const who = fault.device >= 0 && fault.device < static_cast<int>(devices.size())
                         ? named(devices[static_cast<std::size_t>(fault.device)])
                         : std::string("a device");
    switch (fault.kind) {
        case LineFault::crossed: return "the pair is crossed " + joint(fault.after, devices, ordered);
        case LineFault::broken: return "the trunk is broken " + joint(fault.after, devices, ordered);
        case LineFault::half_broken: return "one conductor of the trunk is open " + joint(fault.after, devices, ordered);
        case LineFault::crossed_twice:
            return "the pair is crossed " + joint(fault.after, devices, ordered) + ", and back again " +
                   joint(fault.until, devices, ordered);
        case LineFault::wrong_format: return "all devices are set to another speed or parity than the plan";
        case LineFault::supply_off: return "no device has its supply, or all are off";
        case LineFault::gaps_too_short: return "the devices need a longer silence before the next question";
        case LineFault::another_master: return "another master is at work on the line";
        case LineFault::adapter_echo: return "the adapter hears its own questions";
        case LineFault::something_else: return "something that this list does not hold";
        case LineFault::missing_terminator: return "a terminator is missing";
        case LineFault::surplus_terminators: return "there are more terminators than two";
        case LineFault::no_bias: return "nothing polarizes the idle pair";
        case LineFault::two_biases: return "two devices polarize the pair";
        case LineFault::missing_common: return "the common conductor is missing or open";
        case LineFault::disturbed: return "interference or a poor joint disturbs the line";
        case LineFault::device_dead: return who + ": the device is off, dead, or not connected";
        case LineFault::wrong_address: return who + ": the device is set to another address";
        case LineFault::device_wrong_format: return who + ": the device is set to another speed or parity";
        case LineFault::drop_crossed: return who + ": the pair is crossed at its own terminals";
        case LineFault::device_slow: return who + ": the device answers later than the planned wait";
        case LineFault::duplicate_address: return who + ": two devices answer at this address";
        case LineFault::device_something_else: return who + ": something that this list does not hold";
    }
    return "";
}

std::vector<std::string> words_of(Evidence const& evidence) {
    std::vector<std::string> all;
    // Devices that did the same are one sentence.
    std::map<std::size_t, std::map<Came, int>> by_device;
    std::map<std::size_t, std::pair<int, int>> elsewhere;  // good, all
    int echoes = 0;
    for (auto const& one : evidence.tries) {
        if (one.device >= evidence.devices.size()) continue;
        echoes += one.echoed ? 1 : 0;
        if (!one.other_format) {
            ++by_device[one.device][one.came];
            continue;
        }
        ++elsewhere[one.device].second;
        elsewhere[one.device].first += one.came == Came::good || one.came == Came::late ? 1 : 0;
    }
    std::vector<std::pair<std::map<Came, int>, std::vector<int>>> groups;
    for (auto const& [device, counts] : by_device) {
        auto at = std::find_if(groups.begin(), groups.end(), [&](auto const& group) { return group.first == counts; });
        if (at == groups.end()) at = groups.insert(groups.end(), {counts, {}});
        at->second.push_back(evidence.devices[device].unit);
    }
    for (auto const& [counts, units] : groups) {
        int tries = 0;
        for (auto const& [came, count] : counts) tries += count;
        std::string text;
        if (counts.size() == 1) {
            all.push_back(fmt::format("{}: {} in each of {} tries", units_of(units), said(counts.begin()->first), tries));
            continue;
        }
        for (auto const& [came, count] : counts)
            text += fmt::format("{}{} × {}", text.empty() ? "" : ", ", count, said(came));
        all.push_back(fmt::format("{}: {} in {} tries{}", units_of(units), text, tries, units.size() > 1 ? " each" : ""));
    }
    for (auto const& [device, counts] : elsewhere)
        all.push_back(fmt::format("unit {}: {} of {} tries in another format answered", evidence.devices[device].unit,
                                  counts.first, counts.second));
    if (echoes > 0) all.push_back(fmt::format("the question itself came back {} times", echoes));
    if (evidence.heard_before && *evidence.heard_before)
        all.emplace_back("bytes were heard on the line while nothing was asked");
    if (evidence.strangers)
        all.push_back(evidence.strangers->empty()
                          ? "all addresses were searched, and no device answers that is not planned"
                          : units_of({evidence.strangers->begin(), evidence.strangers->end()}) + " answered and is not planned");
    for (auto const& reading : evidence.by_hand.idle)
        all.push_back(fmt::format("D1 - D0 idle {}: {:.2f} V (a receiver is sure from 0.2 V on, TIA/EIA-485-A)",
                                  reading.position == 0 ? "at the head" : "at the " + ordinal(reading.position) + " device",
                                  reading.volts));
    if (evidence.by_hand.ohms)
        all.push_back(*evidence.by_hand.ohms > 1e6
                          ? std::string("across the unpowered pair: open; a terminator with a capacitor in series is open too")
                          : fmt::format("across the unpowered pair: {:.0f} ohm (two plain terminators of 120 ohm make 60, "
                                        "one 120, three 40; two of 150 ohm 75)", *evidence.by_hand.ohms));
    if (evidence.by_hand.common_v)
        all.push_back(fmt::format("between the commons of the two ends: {:.1f} V (receivers bear -7 to +12 V, TIA/EIA-485-A)",
                                  *evidence.by_hand.common_v));
    return all;
}

}  // namespace phasewright::linefault
