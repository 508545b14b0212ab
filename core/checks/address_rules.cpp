// How each meter is reached: a unit of its own on its line, a host of its own on the network, one kind of bus
// where its maker allows only one at a time.
#include <algorithm>
#include <array>
#include <map>
#include <unordered_map>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {

bool is_addressed(AtPoint const& at) { return !at.point->to_choose.address; }
bool is_serial(AtPoint const& at) { return !at.point->address.serial_line.empty(); }

// The wire, or the host, that a unit must be the only one on; empty where it is not known before it starts.
std::string shared_place(AtPoint const& at) {
    auto const& address = at.point->address;
    if (is_serial(at)) return "line " + address.serial_line;
    if (!address.gateway.empty()) return "gateway " + address.gateway;
    if (address.port == 0 || address.host.empty()) return {};
    return "host " + address.host + ":" + std::to_string(address.port);
}

void look_at_units(Ground const& ground, Notes& notes) {
    std::unordered_map<std::string, AtPoint const*> taken;
    for (auto const& at : ground.points) {
        auto const place = is_addressed(at) ? shared_place(at) : std::string{};
        if (place.empty()) continue;
        auto const [first, is_new] =
            taken.emplace(place + " unit " + std::to_string(at.point->address.unit), &at);
        if (is_new) continue;
        notes.add({.places = {at_point(at), at_point(*first->second)},
                   .what = "unit " + std::to_string(at.point->address.unit) + " on " + place +
                           " is also that of " + first->second->point->id + ": they answer at once",
                   .value = at.point->address.unit,
                   .unit = "unit"});
    }
}

void look_at_unit_range(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        int const unit = at.point->address.unit;
        if (!is_addressed(at) || !is_serial(at) || (unit >= 1 && unit <= static_cast<int>(notes.limit())))
            continue;
        notes.add({.places = {at_point(at), {PlaceKind::line, at.point->address.serial_line}},
                   .what = "unit " + std::to_string(unit) +
                           " on a serial line; 0 is a broadcast and 248 to 255 are reserved",
                   .value = unit,
                   .limit = notes.limit(),
                   .unit = "unit"});
    }
}

void look_at_positions(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        AtPoint const* before = nullptr;
        for (auto const* at : on.meters) {
            if (at->point->address.position == 0) break;
            if (before != nullptr && before->point->address.position == at->point->address.position)
                notes.add({.places = {at_point(*at), at_point(*before), {PlaceKind::line, on.line->id}},
                           .what = "position " + std::to_string(at->point->address.position) +
                                   " along the line is also that of " + before->point->id,
                           .value = at->point->address.position,
                           .unit = "position"});
            before = at;
        }
    }
}

void look_at_delivered(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        std::map<int, std::vector<std::string>> alike;
        for (auto const* at : on.meters) {
            auto const* const hardware = at->hardware();
            if (hardware != nullptr && hardware->bus && hardware->bus->delivered_address)
                alike[*hardware->bus->delivered_address].push_back(at->point->id);
        }
        for (auto const& [unit, ids] : alike) {
            if (ids.size() < 2) continue;
            notes.add({.places = {{PlaceKind::line, on.line->id}},
                       .what = std::to_string(ids.size()) + " meters leave the works with unit " +
                               std::to_string(unit) + ": " + named(ids),
                       .value = unit,
                       .unit = "unit"});
        }
    }
}

void look_at_kind(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const hardware = at.hardware();
        if (!is_addressed(at) || hardware == nullptr || !hardware->bus) continue;
        auto const kind = hardware->bus->kind;
        // Behind a gateway a meter may be of either kind.
        bool const wrong = is_serial(at) ? kind == plan::BusKind::ethernet
                                         : kind == plan::BusKind::serial && at.point->address.gateway.empty();
        if (!wrong) continue;
        notes.add({.places = {at_point(at)},
                   .what = std::string(is_serial(at) ? "planned on a serial line, and "
                                                     : "planned with a host of its own, and ") +
                           at.point->meter_profile + " has " +
                           (kind == plan::BusKind::ethernet ? "only a socket for Ethernet"
                                                            : "only terminals for a serial line")});
    }
}

void look_at_exclusive(Ground const& ground, Notes& notes) {
    std::unordered_map<std::string, AtPoint const*> by_serial;
    for (auto const& at : ground.points) {
        auto const& serial = at.point->meter_serial;
        if (serial.empty() || at.point->to_choose.meter) continue;
        auto const [first, is_new] = by_serial.emplace(serial, &at);
        if (is_new) continue;
        auto const* const hardware = at.hardware();
        bool const either =
            hardware != nullptr && hardware->bus && hardware->bus->kind == plan::BusKind::either;
        bool const both = is_serial(at) != is_serial(*first->second);
        notes.add(
            {.places = {at_point(at), at_point(*first->second)},
             .what =
                 "the meter with serial number " + serial + " is also planned for " +
                 first->second->point->id +
                 (either && both
                      ? ", on a serial line and on Ethernet, and its profile allows one of the two at a time"
                      : "")});
    }
}

struct FourBytes {
    std::array<int, 4> part{};
    bool shaped = false;  // four numbers with full stops between them
    bool valid = false;
};
FourBytes four_bytes(std::string const& host) {
    FourBytes four;
    std::size_t k = 0;
    int digits = 0;
    for (char const c : host) {
        if (c == '.') {
            if (digits == 0 || ++k > 3) return four;
            digits = 0;
        } else if (c >= '0' && c <= '9' && digits < 4) {
            four.part[k] = four.part[k] * 10 + (c - '0');
            ++digits;
        } else {
            return four;
        }
    }
    four.shaped = k == 3 && digits > 0;
    four.valid = four.shaped && std::ranges::all_of(four.part, [](int part) { return part <= 255; });
    return four;
}

void look_at_host(std::string const& host, Place place, Notes& notes) {
    auto const four = four_bytes(host);
    if (!four.shaped) return;
    std::string wrong;
    if (!four.valid)
        wrong = "is no address: each part is 0 to 255";
    else if (four.part[0] == 0 || four.part[0] >= 224)
        wrong = "is no address of one device (its first part is 1 to 223)";
    if (!wrong.empty()) notes.add({.places = {std::move(place)}, .what = "host " + host + " " + wrong});
}
void look_at_hosts(Ground const& ground, Notes& notes) {
    for (auto const& gateway : ground.site.gateways)
        look_at_host(gateway.host, {PlaceKind::gateway, gateway.id}, notes);
    for (auto const& at : ground.points)
        if (is_addressed(at) && !is_serial(at) && at.point->address.gateway.empty())
            look_at_host(at.point->address.host, at_point(at), notes);
}

void look_at_shared_hosts(Ground const& ground, Notes& notes) {
    std::map<std::string, std::vector<AtPoint const*>> by_host;
    for (auto const& at : ground.points)
        if (is_addressed(at) && !is_serial(at) && at.point->address.gateway.empty() &&
            at.point->address.port != 0)
            by_host[at.point->address.host + ":" + std::to_string(at.point->address.port)].push_back(&at);
    std::map<std::string, std::string> gateways;
    for (auto const& gateway : ground.site.gateways) {
        if (gateway.port == 0) continue;
        auto const host = gateway.host + ":" + std::to_string(gateway.port);
        auto const [first, is_new] = gateways.emplace(host, gateway.id);
        if (!is_new)
            notes.add({.places = {{PlaceKind::gateway, gateway.id}, {PlaceKind::gateway, first->second}},
                       .what = host + " is also that of gateway " + first->second,
                       .severity = Severity::mend});
        if (auto const points = by_host.find(host); points != by_host.end())
            notes.add({.places = {at_point(*points->second.front()), {PlaceKind::gateway, gateway.id}},
                       .what = host + " is also that of gateway " + gateway.id,
                       .severity = Severity::mend});
    }
    for (auto const& [host, points] : by_host) {
        if (points.size() < 2) continue;
        std::vector<std::string> ids;
        for (auto const* at : points) ids.push_back(at->point->id);
        notes.add({.places = {at_point(*points.front())},
                   .what = std::to_string(points.size()) + " points share " + host + " (" + named(ids) +
                           ") without a gateway"});
    }
}

constexpr auto serial = "MODBUS over Serial Line";

constexpr std::array rules{
    Rule{.id = "address.unit",
         .title = "two meters have one unit on one line or host",
         .source = {serial, "V1.02", "2.2", plan::Footing::seen},
         .remedy = "a unit of its own for each",
         .look = look_at_units},
    Rule{.id = "address.range",
         .title = "a unit on a serial line is none that a device may have",
         .limit = RuleLimit{247.0, "unit", "from 1 to this"},
         .source = {serial, "V1.02", "2.2", plan::Footing::seen},
         .remedy = "a unit from 1 to 247",
         .look = look_at_unit_range},
    Rule{.id = "address.position",
         .title = "two meters stand at one place along a line",
         .source = {"derived", "", "a line has one meter after the other", plan::Footing::derived},
         .remedy = "number them from the head on",
         .look = look_at_positions},
    Rule{.id = "address.delivered",
         .title = "several meters of one line leave the works with the same unit",
         .severity = Severity::mind,
         .source = {"the meters' profiles", "", "bus.delivered", plan::Footing::seen},
         .remedy = "set them one at a time before they are joined",
         .look = look_at_delivered},
    Rule{.id = "address.kind",
         .title = "the meter has no such bus",
         .source = {"the meter's profile", "", "bus.kind", plan::Footing::seen},
         .remedy = "plan it where it can be joined, or choose another meter",
         .look = look_at_kind},
    Rule{.id = "address.meter-twice",
         .title = "one meter is planned at two points, or on two buses of which it takes one",
         .source = {"derived", "", "a serial number is one meter", plan::Footing::derived},
         .remedy = "correct the serial number, or the bus",
         .look = look_at_exclusive},
    Rule{.id = "address.host",
         .title = "a host is no address of a device",
         .source = {"RFC 791 and RFC 1112", "", "", plan::Footing::memory},
         .remedy = "correct the address",
         .look = look_at_hosts},
    Rule{.id = "address.shared-host",
         .title = "several points or gateways share a host",
         .severity = Severity::mind,
         .source = {"MODBUS Messaging on TCP/IP", "V1.0b", "the unit selects a device behind a gateway",
                    plan::Footing::seen},
         .remedy = "name the gateway in the plan, or give each meter a host of its own",
         .look = look_at_shared_hosts},
};
}  // namespace

std::span<Rule const> address_rules() { return rules; }

}  // namespace phasewright::checks
