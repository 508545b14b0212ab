#include "app/commands/bus_find_words.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/terminal_lines.hpp"

namespace phasewright::commands {

namespace {
using finder::Found;
using finder::FoundDevice;
using nlohmann::ordered_json;

std::string name_of(plan::MeteringPoint const& point) { return point.name.empty() ? point.id : point.name; }

std::string paragraph(std::string const& text, std::string const& mark, std::size_t width) {
    std::string all;
    bool first = true;
    for (auto const& line : wrapped(printable(text), width - mark.size())) {
        all += (first ? mark : std::string(mark.size(), ' ')) + line + '\n';
        first = false;
    }
    return all;
}

std::string format_of(FoundDevice const& device) { return device.format ? plan::words_of(*device.format) : std::string("-"); }

std::string kind_of(finder::Identity const& identity) {
    if (identity.sunspec_meter_model > 0) return fmt::format("SunSpec {}", identity.sunspec_meter_model);
    if (identity.sunspec) return "SunSpec";
    return identity.by_function_43 ? "43/14" : "";
}

std::string table_of(Found const& found, AgainstPlan const& plan, bool with_points, std::size_t width) {
    std::string text = fmt::format("{:>6}  {:<11} {:>8}  {:<12} {}\n", "unit", "format", "after", "says it is", "device");
    for (std::size_t i = 0; i < found.devices.size(); ++i) {
        auto const& device = found.devices[i];
        auto who = device.asked_who ? finder::to_text(device.identity) : std::string("not asked who it is");
        if (plan.by_device[i] != nullptr) who = name_of(*plan.by_device[i]) + ": " + who;
        else if (with_points) who = "not planned: " + who;
        text += paragraph(who, fmt::format("{:>6}  {:<11} {:>5.0f} ms  {:<12} ", device.unit, format_of(device),
                                           1e3 * device.answered_s, kind_of(device.identity)), width);
    }
    return text;
}

std::string units_text(std::vector<finder::DoubtfulUnit> const& doubtful) {
    std::string text;
    for (auto const& one : doubtful)
        text += fmt::format("{}unit {}{}", text.empty() ? "" : ", ", one.unit,
                            one.format ? " at " + plan::words_of(*one.format) : std::string());
    return text;
}

ordered_json json_of(codec::Fault const& fault) {
    return {{"kind", codec::name_of(fault.kind)}, {"says", printable(codec::to_finding(fault))}};
}

ordered_json json_of(finder::Heard const& heard) {
    auto units = ordered_json::array();
    for (auto const& unit : heard.units)
        units.push_back({{"unit", unit.unit}, {"questions", unit.questions}, {"answers", unit.answers}, {"refusals", unit.refusals}});
    return {{"seconds", heard.seconds}, {"bytes", heard.bytes}, {"unintelligible", heard.unintelligible},
            {"frames", heard.frames.size()}, {"units", units}};
}
}  // namespace

AgainstPlan against_plan(Found const& found, FindTarget const& target) {
    AgainstPlan against;
    std::vector<bool> answered(target.planned.size(), false);
    for (auto const& device : found.devices) {
        plan::MeteringPoint const* point = nullptr;
        for (std::size_t i = 0; i < target.planned.size(); ++i) {
            auto const& planned = target.planned[i];
            bool const here = found.any_unit || planned.address.unit == device.unit;
            if (!here) continue;
            answered[i] = true;
            if (point == nullptr) point = &planned;
        }
        against.by_device.push_back(point);
        if (point == nullptr) continue;
        if (target.format && device.format && *device.format != *target.format)
            against.differences.push_back(fmt::format("{} answers at {}, the plan says {}", name_of(*point),
                                                      plan::words_of(*device.format), plan::words_of(*target.format)));
        auto const& serial = device.identity.serial;
        if (!serial.empty() && !point->meter_serial.empty() && serial != point->meter_serial)
            against.differences.push_back(fmt::format("the meter at {} has the serial number {}, the plan says {}",
                                                      name_of(*point), serial, point->meter_serial));
    }
    for (std::size_t i = 0; i < target.planned.size(); ++i)
        if (!answered[i]) against.missing.push_back(&target.planned[i]);
    return against;
}

std::string found_lines(Found const& found, FindTarget const& target, std::size_t width) {
    auto const against = against_plan(found, target);
    bool const planned = !target.planned.empty();
    auto text = fmt::format("{}{}: {} device{} found, {} question{} in {:.0f} s\n", target.line.empty() ? "" : target.line + ", ",
                            printable(found.place), found.devices.size(), found.devices.size() == 1 ? "" : "s", found.asked,
                            found.asked == 1 ? "" : "s", found.took_s);
    if (found.fault) text += paragraph(codec::to_finding(*found.fault), "  mend  ", width);
    if (!found.devices.empty()) text += table_of(found, against, planned, width);
    if (found.echoes) text += paragraph("the adapter hears its own questions; they were taken off", "  mind  ", width);
    if (!found.doubtful.empty())
        text += paragraph("bytes came that make no frame, or more than one answer: " + units_text(found.doubtful) +
                          ". Two devices at one address, or one at another speed; phasewright bus check weighs it", "  mend  ", width);
    bool const whole = !found.fault;
    for (auto const* point : against.missing) {
        bool const doubtful = std::any_of(found.doubtful.begin(), found.doubtful.end(), [&](finder::DoubtfulUnit const& one) {
            return one.unit == point->address.unit;
        });
        char const* const how = doubtful ? "gave no whole answer" : whole ? "did not answer" : "was not found before the search ended";
        text += paragraph(fmt::format("{} (unit {}) is planned here and {}", name_of(*point), point->address.unit, how), "  mend  ", width);
    }
    for (auto const& difference : against.differences) text += paragraph(difference, "  mend  ", width);
    for (auto const& note : found.notes) text += paragraph(note, "  mind  ", width);
    return text;
}

std::string found_json(Found const& found, FindTarget const& target) {
    auto const against = against_plan(found, target);
    auto devices = ordered_json::array();
    for (std::size_t i = 0; i < found.devices.size(); ++i) {
        auto const& device = found.devices[i];
        auto const& identity = device.identity;
        ordered_json one{{"unit", device.unit},
                         {"format", device.format ? ordered_json(plan::words_of(*device.format)) : ordered_json()},
                         {"answered_s", device.answered_s},
                         {"maker", printable(identity.maker)},
                         {"model", printable(identity.model)},
                         {"version", printable(identity.version)},
                         {"serial", printable(identity.serial)},
                         {"sunspec", identity.sunspec},
                         {"sunspec_meter_model", identity.sunspec_meter_model},
                         {"by_function_43", identity.by_function_43}};
        one["point"] = against.by_device[i] == nullptr ? ordered_json() : ordered_json(against.by_device[i]->id);
        devices.push_back(one);
    }
    auto doubtful = ordered_json::array();
    for (auto const& one : found.doubtful)
        doubtful.push_back({{"unit", one.unit}, {"format", one.format ? ordered_json(plan::words_of(*one.format)) : ordered_json()}});
    auto missing = ordered_json::array();
    for (auto const* point : against.missing) missing.push_back({{"point", point->id}, {"unit", point->address.unit}});
    ordered_json line{{"place", printable(found.place)}, {"line", target.line.empty() ? ordered_json() : ordered_json(target.line)}};
    line["fault"] = found.fault ? json_of(*found.fault) : ordered_json();
    line["heard_before"] = found.heard ? json_of(*found.heard) : ordered_json();
    line["devices"] = devices;
    line["doubtful"] = doubtful;
    line["missing"] = missing;
    line["differences"] = against.differences;
    line["echoes"] = found.echoes;
    line["any_unit"] = found.any_unit;
    line["notes"] = found.notes;
    line["asked"] = found.asked;
    line["took_s"] = found.took_s;
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

}  // namespace phasewright::commands
