#include "core/design/lines.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "core/design/chain_order.hpp"
#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
constexpr double loads_of_head = 1.0;
constexpr double loads_of_bias = 4.0;

template <class List, class Value>
bool lacks(List const& can, Value const& wanted) {
    return !can.empty() && std::ranges::find(can, wanted) == can.end();
}
bool speaks(plan::MeterHardware const* meter, plan::SerialFormat const& format) {
    if (meter == nullptr || !meter->bus) return true;
    auto const& bus = *meter->bus;
    return !lacks(bus.bit_rates, format.bit_rate) && !lacks(bus.parities, format.parity) &&
           !lacks(bus.stop_bits, format.stop_bits);
}
int most_devices(plan::MeterHardware const* meter) {
    return meter != nullptr && meter->bus ? meter->bus->most_devices.value_or(247) : 247;
}

struct Carried {
    double loads = 0.0;
    int devices = 0;
    int most = 247;
    double length_m = 0.0;            // an estimate: what is said, and what was added
    std::vector<std::string> panels;  // through which it passes
};

class Placing {
public:
    Placing(plan::Site& site, Meters const& meters, Distances& distances, Settings const& settings)
        : site_(site), meters_(meters), distances_(distances), settings_(settings) {
        for (auto const& line : site_.serial_lines) {
            auto& carried = carried_[line.id];
            carried.length_m = line.length_m;
            if (!line.panel.empty()) carried.panels.push_back(line.panel);
        }
        for (std::size_t k = 0; k < site_.points.size(); ++k)
            if (!site_.points[k].to_choose.address && !site_.points[k].address.serial_line.empty())
                put(k, site_.points[k].address.serial_line);
    }

    std::vector<Proposal> place_all() {
        std::vector<std::size_t> left;
        for (std::size_t k = 0; k < site_.points.size(); ++k) {
            if (!site_.points[k].to_choose.address) continue;
            if (is_overruled(site_.points[k], "address"))
                kept(k);
            else if (needs_ethernet(k))
                ask_for_host(k);
            else if (site_.serial_lines.empty() && !site_.gateways.empty())
                behind_gateway(k);
            else if (!on_old_line(k))
                left.push_back(k);
        }
        if (!left.empty()) on_new_lines(left);
        return std::move(proposals_);
    }

private:
    void put(std::size_t k, std::string const& line) {
        auto& carried = carried_[line];
        carried.loads += unit_loads(meters_[k]);
        ++carried.devices;
        carried.most = std::min(carried.most, most_devices(meters_[k]));
        auto const& panel = site_.points[k].panel;
        if (std::ranges::find(carried.panels, panel) == carried.panels.end()) carried.panels.push_back(panel);
    }
    void kept(std::size_t k) {
        proposals_.push_back({.part = Part::address,
                              .where = site_.points[k].id,
                              .standing = Standing::kept,
                              .ask = "an address: the proposal was overruled, and none stands in the plan"});
    }
    [[nodiscard]] bool needs_ethernet(std::size_t k) const {
        return meters_[k] != nullptr && meters_[k]->bus && meters_[k]->bus->kind == plan::BusKind::ethernet;
    }
    void ask_for_host(std::size_t k) {
        proposals_.push_back({.part = Part::address,
                              .where = site_.points[k].id,
                              .standing = Standing::open,
                              .ask = "a host address on the building's network: the meter has Ethernet only, "
                                     "and the plan has no network"});
    }
    void behind_gateway(std::size_t k) {
        auto const& gateway = site_.gateways.front();
        auto& address = site_.points[k].address;
        address = {.host = gateway.host, .port = gateway.port, .unit = 0, .gateway = gateway.id};
        proposals_.push_back({.part = Part::line,
                              .where = site_.points[k].id,
                              .choice = "behind the gateway " + gateway.id,
                              .reasons = {"the plan has gateways and no serial line of its own"}});
    }

    // By how much the nearest panel of the line is away; empty: not known.
    std::optional<double> away(Carried const& line, std::string const& panel) {
        std::optional<double> least;
        for (auto const& other : line.panels)
            if (auto const metres = distances_.metres(other, panel); metres && (!least || *metres < *least))
                least = metres;
        return least;
    }
    std::string against(plan::SerialLine const& line, Carried const& carried, std::size_t k,
                        std::optional<double> extra) const {
        if (!speaks(meters_[k], line.format))
            return "the meter cannot be set to its " + plan::words_of(line.format);
        if (carried.loads + unit_loads(meters_[k]) > room_for_meters(settings_) + 1e-9)
            return "it carries " + quantity::shortest(carried.loads) +
                   " unit loads of meters, and head and bias leave " +
                   quantity::shortest(room_for_meters(settings_)) + " of 32";
        if (carried.devices + 1 > std::min(carried.most, most_devices(meters_[k])))
            return "one of its meters is documented for " + std::to_string(carried.devices) +
                   " devices on a line";
        if (carried.length_m + extra.value_or(0.0) > settings_.line_m)
            return "it would be longer than " + metres(settings_.line_m);
        return {};
    }
    bool on_old_line(std::size_t k) {
        auto& point = site_.points[k];
        Proposal proposal{.part = Part::line, .where = point.id};
        plan::SerialLine const* best = nullptr;
        double least = 1e12;
        for (auto const& line : site_.serial_lines) {
            auto const& carried = carried_[line.id];
            auto const extra = away(carried, point.panel);
            auto why = against(line, carried, k, extra);
            if (!why.empty()) {
                if (proposal.others.size() < settings_.others)
                    proposal.others.push_back({line.id, std::move(why)});
                continue;
            }
            double const far = extra.value_or(carried.panels.empty() ? 0.0 : 1e9);
            if (best == nullptr || far < least) {
                best = &line;
                least = far;
            }
        }
        if (best == nullptr) return false;
        auto& carried = carried_[best->id];
        proposal.choice = "on " + best->id;
        if (least < 1e8) {
            proposal.reasons.push_back("it passes " + metres(least) +
                                       " away, nearer than any other line with room");
            carried.length_m += least;
        } else {
            proposal.reasons.emplace_back("it is the first line with room; how far any line is from " +
                                          point.panel + " is not known");
        }
        point.address = {.port = 0, .unit = 0, .serial_line = best->id};
        put(k, best->id);
        proposal.reasons.push_back("with it the line carries " + quantity::shortest(carried.loads) +
                                   " unit loads of meters, of the " +
                                   quantity::shortest(room_for_meters(settings_)) +
                                   " that head and bias leave");
        proposals_.push_back(std::move(proposal));
        return true;
    }

    // Points of one panel that go together on a line.
    struct Stop {
        std::string panel;
        std::vector<std::size_t> points;
        StopLoad load{.loads = 0.0, .devices = 0};
    };
    std::vector<Stop> stops_of(std::vector<std::size_t> const& left) const {
        std::vector<Stop> stops;
        std::map<std::string, std::size_t, std::less<>> last;
        for (auto const k : left) {
            auto const& panel = site_.points[k].panel;
            auto const load = unit_loads(meters_[k]);
            auto const found = last.find(panel);
            int const most = most_devices(meters_[k]);
            auto const has_room = [&](StopLoad const& here) {
                return here.loads + load <= room_for_meters(settings_) + 1e-9 &&
                       here.devices + 1 <= std::min(here.most_devices, most);
            };
            bool const fits = found != last.end() && has_room(stops[found->second].load);
            if (!fits) {
                last[panel] = stops.size();
                stops.push_back({.panel = panel});
            }
            auto& stop = stops[last[panel]];
            stop.points.push_back(k);
            stop.load = {stop.load.loads + load, stop.load.devices + 1,
                         std::min(stop.load.most_devices, most)};
        }
        return stops;
    }
    std::optional<Matrix> matrix_of(std::string const& head, std::vector<Stop> const& stops) {
        Matrix matrix(stops.size() + 1, std::vector<double>(stops.size() + 1, 0.0));
        auto const panel = [&](std::size_t k) { return k == 0 ? head : stops[k - 1].panel; };
        for (std::size_t i = 0; i <= stops.size(); ++i)
            for (std::size_t j = i + 1; j <= stops.size(); ++j) {
                auto const metres = distances_.metres(panel(i), panel(j));
                if (!metres) return std::nullopt;
                matrix[i][j] = matrix[j][i] = *metres;
            }
        return matrix;
    }
    std::string free_line_id() const {
        for (int k = 1;; ++k) {
            auto id = "line-" + std::to_string(k);
            if (std::ranges::none_of(site_.serial_lines, [&](auto const& line) { return line.id == id; }))
                return id;
        }
    }
    void on_new_lines(std::vector<std::size_t> const& left) {
        auto const head = site_.serial_lines.empty() || site_.serial_lines.front().panel.empty()
                              ? site_.panels.front().id
                              : site_.serial_lines.front().panel;
        auto const stops = stops_of(left);
        std::vector<StopLoad> loads(stops.size() + 1);
        for (std::size_t k = 0; k < stops.size(); ++k) loads[k + 1] = stops[k].load;
        LineLimits limits{.most_load = room_for_meters(settings_), .most_m = settings_.line_m};
        auto matrix = matrix_of(head, stops);
        bool const known = matrix.has_value();
        if (!known) {
            // Without distances every panel counts as equally far: fewest lines, in the order of the plan.
            matrix = Matrix(stops.size() + 1, std::vector<double>(stops.size() + 1, 1.0));
            for (std::size_t i = 1; i <= stops.size(); ++i)
                (*matrix)[0][i] = static_cast<double>(stops.size()) * 10.0;
            limits.most_m = 1e12;
        }
        std::vector<std::size_t> order(stops.size());
        std::iota(order.begin(), order.end(), std::size_t{1});
        if (known) order = shortest_chain(*matrix).stops;
        auto const cuts = cut_into_lines(*matrix, order, loads, limits);
        for (auto const& cut : cuts.lines) {
            std::vector<std::size_t> members;
            for (auto const stop : cut)
                members.insert(members.end(), stops[stop - 1].points.begin(), stops[stop - 1].points.end());
            add_line(members, head, known ? std::optional(length_of(*matrix, cut)) : std::nullopt,
                     cuts.lines.size());
        }
    }
    void add_line(std::vector<std::size_t> const& members, std::string const& head,
                  std::optional<double> length, std::size_t of) {
        Proposal proposal{.part = Part::line};
        Meters own;
        double loads = 0.0;
        for (auto const k : members) {
            own.push_back(meters_[k]);
            loads += unit_loads(meters_[k]);
        }
        auto const format = common_format(own);
        plan::SerialLine line{.id = free_line_id()};
        line.name = line.id;
        line.panel = head;
        line.cable = "shielded pair and common, 120 ohm";
        if (format)
            line.format = *format;
        else
            proposal.assumed.emplace_back(
                "that the meters can be set alike: no format is common to all of their profiles");
        proposal.where = line.id;
        proposal.choice =
            "a new line for " + std::to_string(members.size()) + " meters, " + plan::words_of(line.format);
        proposal.reasons.push_back("its meters are " + quantity::shortest(loads) +
                                   " unit loads; head and bias leave " +
                                   quantity::shortest(room_for_meters(settings_)) + " of 32");
        if (of > 1)
            proposal.reasons.push_back("all of them together need " + std::to_string(of) +
                                       " lines; they are cut where the cable is least");
        if (length && *length > settings_.line_m)
            proposal.ask = "a repeater, or a head nearer by: even alone it is " + metres(*length) + " long";
        proposal.assumed.push_back("that its head stands at panel " + head);
        site_.serial_lines.push_back(line);
        for (auto const k : members) {
            site_.points[k].address = {.port = 0, .unit = 0, .serial_line = line.id};
            put(k, line.id);
        }
        proposals_.push_back(std::move(proposal));
    }

    plan::Site& site_;
    Meters const& meters_;
    Distances& distances_;
    Settings const& settings_;
    std::map<std::string, Carried, std::less<>> carried_;
    std::vector<Proposal> proposals_;
};
}  // namespace

bool is_overruled(plan::MeteringPoint const& point, std::string_view what) {
    return std::ranges::any_of(point.overruled, [&](auto const& one) { return one.what == what; });
}

double unit_loads(plan::MeterHardware const* meter) {
    return meter != nullptr && meter->bus ? meter->bus->unit_load.value_or(1.0) : 1.0;
}
double room_for_meters(Settings const& settings) {
    return settings.line_unit_loads - loads_of_head - loads_of_bias;
}

std::optional<plan::SerialFormat> common_format(Meters const& meters) {
    // Even parity is what the specification delivers; with none there are two stop bits, so that a character
    // has 11 bits.
    for (int const bit_rate : {19200, 9600, 4800, 2400, 1200})
        for (auto const parity : {plan::Parity::even, plan::Parity::odd, plan::Parity::none}) {
            plan::SerialFormat const format{bit_rate, parity, parity == plan::Parity::none ? 2 : 1};
            if (std::ranges::all_of(meters, [&](auto const* meter) { return speaks(meter, format); }))
                return format;
        }
    return std::nullopt;
}

std::vector<Proposal> choose_lines(plan::Site& site, Meters const& meters, Distances& distances,
                                   Settings const& settings) {
    if (site.panels.empty()) return {};
    return Placing(site, meters, distances, settings).place_all();
}

}  // namespace phasewright::design
