#include "core/report/plan_wiring.hpp"

#include <algorithm>

#include "core/quantity/text.hpp"
#include "core/report/plan_wiring_ends.hpp"

namespace phasewright::report {

namespace {

using plan::Conductor;
using plan::WireUse;

std::size_t index_of(Conductor conductor) { return static_cast<std::size_t>(conductor); }

std::string earthed_word(plan::Region const& region) {
    return earth_word(region) == "ground" ? "grounded" : "earthed";
}

struct Builder {
    plan::Site const& site;
    plan::MeteringPoint const& point;
    MeterFacts const& meter;
    plan::ServiceModel model;
    plan::ColourSet const* colours = nullptr;
    bool neutral_runs = true;  // beside the others; whether the meter has a terminal for it is the model's
    PointWiring wiring;

    // Elements that are planned otherwise than the service wants land where the plan says.
    void planned_otherwise() {
        neutral_runs = model.has_neutral;
        if (point.elements.empty()) return;
        model.terminals.clear();
        model.current_inputs.clear();
        model.has_neutral = false;
        auto const want = [&](Conductor conductor) {
            if (conductor == Conductor::n)
                model.has_neutral = true;
            else if (std::ranges::find(model.terminals, conductor) == model.terminals.end())
                model.terminals.push_back(conductor);
        };
        for (auto const& element : point.elements) {
            want(element.plus);
            want(element.minus);
            model.current_inputs.push_back(element.ct);
        }
        neutral_runs = neutral_runs || model.has_neutral;
    }

    [[nodiscard]] std::string letter(Conductor conductor) const {
        return site.region.conductors[index_of(conductor)];
    }

    // As seen on the cable, where somebody has said so; else the colour set of the region.
    [[nodiscard]] std::string colour(Conductor conductor, std::size_t place) const {
        if (point.cable && place < point.cable->colours.size()) return point.cable->colours[place];
        if (colours == nullptr) return {};
        if (conductor == Conductor::n) return colours->neutral;
        bool const high = point.service == plan::Service::high_leg_delta && conductor == model.high_leg;
        if (high && !colours->high_leg.empty()) return colours->high_leg;
        return colours->phases[index_of(conductor)];
    }

    [[nodiscard]] bool earthed(Conductor conductor) const {
        return point.service == plan::Service::corner_earthed_delta && conductor == Conductor::b;
    }

    PlannedWire& add(PlannedWire wire) {
        wire.number = static_cast<int>(wiring.wires.size()) + 1;
        return wiring.wires.emplace_back(std::move(wire));
    }

    void conductors() {
        auto const& branches = point.model_options.branches;
        for (std::size_t k = 0; k < model.live.size(); ++k) {
            auto const conductor = model.live[k];
            WiredConductor one{.letter = letter(conductor),
                               .colour = colour(conductor, k),
                               .phase = static_cast<int>(conductor)};
            if (point.service == plan::Service::high_leg_delta && conductor == model.high_leg)
                one.note = "high leg";
            if (earthed(conductor)) one.note = earthed_word(site.region);
            if (k < branches.size()) one.branch = branches[k].id;
            one.fed_through_breaker = !earthed(conductor);
            wiring.conductors.push_back(std::move(one));
        }
        wiring.branches = branches.size() > 1;
        if (neutral_runs)
            wiring.conductors.push_back({.letter = letter(Conductor::n),
                                         .colour = colour(Conductor::n, model.live.size()),
                                         .phase = 3,
                                         .fed_through_breaker = false});
    }

    [[nodiscard]] std::size_t conductor_at(Conductor conductor) const {
        for (std::size_t k = 0; k < wiring.conductors.size(); ++k)
            if (wiring.conductors[k].phase == static_cast<int>(conductor)) return k;
        return 0;
    }

    // The unprotected stretch, the fuse, the transformers: one voltage terminal's way.
    void tap(Conductor conductor, std::string const& key, std::string const& terminal) {
        auto const& tapped = wiring.conductors[conductor_at(conductor)];
        bool const may_be_fused = conductor != Conductor::n && !earthed(conductor);
        auto const protection = point.tap ? point.tap->protection : std::nullopt;
        bool const fused =
            may_be_fused && protection.value_or(plan::TapProtection::fuse) == plan::TapProtection::fuse;
        wiring.taps.push_back(
            {.conductor = conductor_at(conductor), .key = key, .fused = fused, .phase = tapped.phase});
        wiring.rows.push_back(
            {.key = key, .terminal = terminal, .says = tapped.letter, .use = WireUse::voltage});

        std::string const net = "voltage " + tapped.letter;
        PlannedWire like{
            .says = net, .use = WireUse::voltage, .colour = tapped.colour, .phase = tapped.phase};
        if (point.tap) {
            like.size = size_words(point.tap->size);
            if (point.tap->length_m) like.length = length_words(site.region, *point.tap->length_m);
        }
        std::string const whole = like.length;
        if (!whole.empty() && (fused || point.vt)) like.length = "part of " + whole;
        Joint at{Device::conductor, key, "tap on", tapped.letter};
        int stretch = 0;
        auto const go = [&](Joint const& to, Joint const& on) {
            auto wire = like;
            wire.net = net + "." + std::to_string(stretch++);
            wire.from = at;
            wire.to = to;
            add(std::move(wire));
            at = on;
        };
        std::string const fuse = "fuse " + tapped.letter;
        if (fused) {
            go({Device::fuse, key, fuse, "in"}, {Device::fuse, key, fuse, "out"});
            if (point.tap && point.tap->unprotected_m && !whole.empty()) {
                auto& first = wiring.wires.back();
                first.length = "\u2264 " + length_words(site.region, *point.tap->unprotected_m);
            }
        }
        if (point.vt) {
            auto const into = vt_terminal(conductor, true), out = vt_terminal(conductor, false);
            go({Device::vt, key, "VT", into}, {Device::vt, key, "VT", out});
            bool const returns =
                conductor == Conductor::n || (!model.has_neutral && conductor == Conductor::b);
            std::string const second = "VT fuse " + tapped.letter;
            if (!returns) go({Device::vt_fuse, key, second, "in"}, {Device::vt_fuse, key, second, "out"});
        }
        go({Device::meter, key, "meter", terminal}, {});
    }

    // IEC 61869-3 and IEEE C57.13 mark the ends of windings, not phases; the phase stands in front.
    [[nodiscard]] std::string vt_terminal(Conductor conductor, bool primary) const {
        auto const name = letter(conductor);
        return name + (primary ? " primary" : " secondary");
    }

    void taps() {
        auto const protection = point.tap ? point.tap->protection : std::nullopt;
        wiring.taps_before_breaker = wiring.branches || protection == plan::TapProtection::panel ||
                                     protection == plan::TapProtection::nothing;
        if (point.tap && point.tap->fuse_a) wiring.fuse_words = quantity::shortest(*point.tap->fuse_a) + " A";
        if (point.vt) {
            wiring.vt_words =
                quantity::shortest(point.vt->primary) + "/" + quantity::shortest(point.vt->secondary) + " V";
            wiring.vt_connection =
                model.has_neutral ? "each to " + letter(Conductor::n) : letter(Conductor::b) + " common";
        }
        for (std::size_t k = 0; k < model.terminals.size(); ++k) {
            auto const& names = meter.terminals.voltage;
            tap(model.terminals[k], "v" + std::to_string(k), k < names.size() ? names[k] : "");
        }
        if (model.has_neutral) tap(Conductor::n, "vn", meter.terminals.neutral);
        if (point.vt) earth_the_vt();
    }

    // At the return of the secondaries, once.
    void earth_the_vt() {
        auto const returns = model.has_neutral ? Conductor::n : Conductor::b;
        for (auto const& wire : wiring.wires) {
            if (wire.from.device != Device::vt ||
                wiring.conductors[conductor_at(returns)].phase != wire.phase)
                continue;
            auto link = wire;
            link.says = wiring.earth_word + ", once";
            link.use = WireUse::earth;
            link.to = {Device::earth, "vt", wiring.earth_letters, ""};
            link.phase = -1;
            link.size = "";
            link.length = "";
            link.colour = colours == nullptr ? "" : colours->earth;
            add(std::move(link));
            return;
        }
    }
};

void earth_the_block(Builder& from, std::vector<Joint> const& s2) {
    auto& wiring = from.wiring;
    auto const* const input = plan::input_for(from.meter.hardware, from.point.ct.output);
    bool const earthed_inside = input != nullptr && input->low_side_earthed;
    if (earthed_inside) {
        wiring.notes.push_back("The " + wiring.secondary_marks[1] + " side is " +
                               earthed_word(from.site.region) + " inside this meter: no second point.");
        return;
    }
    if (!wiring.block || s2.empty()) return;
    wiring.earthed_at_block = true;
    for (std::size_t k = 1; k < s2.size(); ++k)
        from.add(
            {.net = "S2", .says = "link in block", .use = WireUse::current, .from = s2[k - 1], .to = s2[k]});
    from.add({.net = "S2",
              .says = wiring.earth_word + ", once",
              .use = WireUse::earth,
              .from = s2.back(),
              .to = {Device::earth, "block", wiring.earth_letters, ""},
              .colour = from.colours == nullptr ? "" : from.colours->earth});
}

// From each CT over the block to its pair of terminals. With a common return the S2 ends are joined at the
// CTs, one wire goes to the meter, and its S2 terminals are joined there.
struct Leads {
    Builder& from;
    PlannedWire like;
    std::size_t last = 0;  // current input
    int block_terminal = 0;
    std::vector<Joint> block_s2;
    Joint last_ct, last_meter;  // S2 of the input before

    void from_the_plan() {
        auto const& lead = from.point.lead;
        auto& wiring = from.wiring;
        wiring.common_return =
            lead && lead->way_back == plan::Return::common && from.model.current_inputs.size() > 1;
        like.use = WireUse::current;
        if (!lead) return;
        like.size = size_words(lead->size);
        if (lead->length_m > 0.0)
            like.length = (wiring.block ? "part of " : "") + length_words(from.site.region, lead->length_m);
    }

    void link(Joint const& one, Joint const& other, std::string const& mark) {
        auto wire = like;
        wire.net = "S2";
        wire.says = "link " + mark;
        wire.length.clear();
        wire.from = one;
        wire.to = other;
        from.add(std::move(wire));
    }

    void over_the_block(PlannedWire wire, Joint const& ct, Joint const& at_meter, bool returns) {
        wire.from = ct;
        wire.to = at_meter;
        if (from.wiring.block) {
            Joint const block{Device::block, ct.key, "block", std::to_string(++block_terminal)};
            if (returns) block_s2.push_back(block);
            wire.to = block;
            from.add(wire);
            wire.from = block;
            wire.to = at_meter;
        }
        from.add(std::move(wire));
    }

    void side(std::size_t input, WiredConductor const& conductor, std::string const& letter, bool returns) {
        auto& wiring = from.wiring;
        auto const& mark = wiring.secondary_marks[returns ? 1 : 0];
        std::string const end = std::to_string(input) + (returns ? "s2" : "s1");
        auto const& pairs = from.meter.terminals.current;
        std::string terminal;
        if (input < pairs.size()) terminal = returns ? pairs[input].s2 : pairs[input].s1;
        Joint const ct{Device::ct, end, "CT " + letter, mark};
        Joint const at_meter{Device::meter, end, "meter", terminal};
        wiring.rows.push_back({end, terminal, letter + " " + mark, WireUse::current});
        auto wire = like;
        wire.says = letter + " " + mark;
        wire.phase = conductor.phase;
        wire.net = returns && (wiring.common_return || wiring.block) ? "S2" : wire.says;
        if (returns && wiring.common_return) {
            if (input > 0) {
                link(last_ct, ct, mark);
                link(last_meter, at_meter, mark);
            }
            last_ct = ct;
            last_meter = at_meter;
            if (input < last) return;
            wire.phase = -1;
            wire.says = "all " + mark;
        }
        over_the_block(std::move(wire), ct, at_meter, returns);
    }
};

void current_leads(Builder& from) {
    auto& wiring = from.wiring;
    Leads leads{.from = from, .like = {}, .block_s2 = {}, .last_ct = {}, .last_meter = {}};
    leads.from_the_plan();
    auto const inputs = from.model.current_inputs.size();
    leads.last = inputs - 1;
    for (std::size_t k = 0; k < inputs; ++k) {
        // Branches of one phase each have their own conductor, in the order of the inputs.
        std::size_t const at = wiring.branches ? k : from.conductor_at(from.model.current_inputs[k]);
        auto const conductor = wiring.conductors[at];
        std::string const letter = conductor.letter + (wiring.branches ? " " + conductor.branch : "");
        wiring.cts.push_back({.conductor = at, .name = "CT " + letter, .key = std::to_string(k)});
        leads.side(k, conductor, letter, false);
        leads.side(k, conductor, letter, true);
    }
    earth_the_block(from, leads.block_s2);
}

void words_of_the_point(Builder& from) {
    auto& wiring = from.wiring;
    auto const& point = from.point;
    auto const* const panel = panel_of(from.site, point.panel);
    wiring.id = point.id;
    wiring.name = point.name.empty() ? point.id : point.name;
    wiring.panel = panel == nullptr || panel->name.empty() ? point.panel : panel->name;
    wiring.from = "From " + wiring.panel + (point.way.empty() ? "" : ", way " + point.way);
    wiring.supply_words = panel == nullptr ? "" : nominal_words(panel->nominal) + ", ";
    wiring.supply_words += plan::words_of(point.service);
    wiring.load_words = point.purpose;
    if (point.load_kind)
        wiring.load_words +=
            (wiring.load_words.empty() ? "" : "; ") + std::string(plan::name_of(*point.load_kind));
    if (point.usual_a)
        wiring.load_words += (wiring.load_words.empty() ? "" : "; ") +
                             ("usually " + quantity::shortest(*point.usual_a) + " A");
    wiring.breaker_a = point.breaker_a;
    wiring.ct_words = ct_words(point);
    wiring.primary_marks = from.site.region.primary_marks;
    wiring.secondary_marks = from.site.region.secondary_marks;
    wiring.current_loop = plan::is_current_loop(point.ct.output);
    wiring.block = wants_block(point.ct);
    wiring.block_title = point.ct.shorting == plan::Shorting::switch_ ? "test switch" : "shorting block";
    wiring.earth_letters = from.site.region.earth;
    wiring.earth_word = earth_word(from.site.region);
    wiring.meter_name = from.meter.name;
    wiring.meter_serial = point.meter_serial;
    wiring.meter_set = "set to CT " + quantity::shortest(point.ct.ratio.primary) + "/" +
                       quantity::shortest(point.ct.ratio.secondary);
    wiring.terminals_known = from.meter.terminals_known;
}

void notes_of_the_point(Builder& from) {
    auto& notes = from.wiring.notes;
    if (!from.point.installed) notes.emplace_back("Planned for later: not to be installed now.");
    if (!from.point.elements.empty())
        notes.emplace_back(
            "The elements are planned otherwise than this service wants; it is drawn as planned.");
    for (auto const& branch : from.point.model_options.branches)
        if (branch.to_choose)
            notes.push_back("The phase of branch " + branch.id +
                            " is not chosen yet; the one drawn means nothing.");
    auto const& ct = from.point.ct;
    auto const say = [&](std::string text) {
        if (!text.empty()) notes.push_back(std::move(text));
    };
    say(rule_words(from.site.region, "ct-marks"));
    if (from.wiring.block)
        say("Dotted links in the block are closed before a loop is opened, and stay open in service.");
    if (from.wiring.current_loop && ct.shorting == plan::Shorting::none)
        say("The plan has nothing that shorts these current loops: no lead may be taken off while current "
            "flows.");
    if (ct.output == plan::CtOutput::unknown)
        say("What these CTs give is not said: they are taken as current loops that are never opened.");
    if (ct.output == plan::CtOutput::coil)
        say("Coils: their leads are not lengthened without a new calibration.");
    if (from.wiring.taps_before_breaker && !from.wiring.branches)
        say("The taps leave in front of the breaker: they stay live when it is open.");
    if (from.point.vt) say("Secondaries of voltage transformers are fused and are never shorted.");
    if (from.point.service == plan::Service::corner_earthed_delta)
        say("The " + earthed_word(from.site.region) + " phase is drawn as " + from.letter(Conductor::b) +
            "; measure which one it is before taps are landed. No fuse goes into it.");
    if (from.point.service == plan::Service::high_leg_delta)
        say(rule_words(from.site.region, "high-leg-marking"));
    if (!from.meter.terminals_known)
        say("The names of this meter's terminals are not known: those printed are ours. Write its own on the "
            "lines.");
}

}  // namespace

PointWiring wiring_of(plan::Site const& site, plan::MeteringPoint const& point, MeterFacts const& meter) {
    Builder from{.site = site,
                 .point = point,
                 .meter = meter,
                 .model = plan::model_of(point.service, point.model_options)};
    auto const* const panel = panel_of(site, point.panel);
    from.colours = plan::colours_for(site.region, panel == nullptr ? "" : panel->colours,
                                     panel == nullptr ? 0.0 : panel->nominal.v_ll);
    from.planned_otherwise();
    words_of_the_point(from);
    from.conductors();
    from.taps();
    current_leads(from);
    notes_of_the_point(from);
    add_supply_and_bus(site, point, meter, from.wiring);
    int number = 0;
    for (auto& wire : from.wiring.wires) wire.number = ++number;
    return from.wiring;
}

}  // namespace phasewright::report
