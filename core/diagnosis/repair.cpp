#include "core/diagnosis/repair.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
std::string const permit = "permit, protective equipment and a second person as the site requires";
std::string const newer = "in a reading newer than this move";

std::string kilowatts(double watts) {
    return std::abs(watts) < 1000.0 ? quantity::with_sign(watts, 0) + " W" : quantity::with_sign(watts / 1000.0, 2) + " kW";
}

// The meter's elements that input `k` feeds, in words: "element 2 must read +8.15 kW, ...".
std::string must_read(RepairContext const& context, std::size_t input) {
    for (std::size_t e = 0; e < context.model.elements.size(); ++e) {
        if (context.model.elements[e].current_input != static_cast<int>(input)) continue;
        auto const element = "element " + std::to_string(e + 1);
        if (e < context.after.size() && context.after[e].p)
            return element + " must read " + kilowatts(*context.after[e].p) + " at the same load, " + newer;
        return element + " must read this phase's own power, " + newer;
    }
    return {};
}

std::string pair_of(RepairContext const& context, std::size_t input) {
    auto const& pair = context.names.terminals.current[input];
    return pair.s1 + " and " + pair.s2;
}
std::string phase_of(RepairContext const& context, std::size_t input) {
    return context.names.conductor(context.model.current_inputs[input]);
}

// Before leads of current loops may be touched: short them where the CTs are, and prove the short.
void open_loops(RepairContext const& context, std::vector<std::size_t> const& inputs, std::vector<Move>& moves) {
    std::vector<std::string> phases;
    std::vector<std::string> elements;
    for (auto const input : inputs) {
        phases.push_back(phase_of(context, input));
        elements.push_back(std::to_string(input + 1));
    }
    auto const who = quantity::joined(phases, ", ");
    moves.push_back({.move = "close the short on the " + who + " CT, on the CT side of the block",
                     .cautions = {permit, "take the load off if you can",
                                  "never open a current loop while current flows in its conductor"},
                     .before = "the shorting link of that CT is found and reachable; if there is none, de-energise the conductor first",
                     .then = "the link is tight"});
    moves.push_back({.move = "clamp the short",
                     .cautions = {"clamp round the insulated lead only"},
                     .before = "the short is closed",
                     .then = "current flows in the short and element " + quantity::joined(elements, ", ") +
                             " reads 0 A; if not, stop"});
}

void close_loops(RepairContext const& context, std::vector<std::size_t> const& inputs, std::vector<Move>& moves) {
    std::vector<std::string> readings;
    for (auto const input : inputs) readings.push_back(must_read(context, input));
    moves.push_back({.move = "tug-test each lead, then open the short",
                     .cautions = {},
                     .before = "both leads of each pair are tight",
                     .then = quantity::joined(readings, "; ")});
}

void move_currents(std::string const& deed, std::vector<std::size_t> const& inputs, RepairContext const& context,
                   std::vector<Move>& moves) {
    bool const loop = plan::is_current_loop(context.ct_output);
    if (loop) open_loops(context, inputs, moves);
    std::vector<std::string> readings;
    for (auto const input : inputs) readings.push_back(must_read(context, input));
    moves.push_back({.move = deed,
                     .cautions = loop ? std::vector<std::string>{"only while the short carries the current"}
                                      : std::vector<std::string>{permit, "live parts may be near the terminals: two-pole tester, rated leads"},
                     .before = loop ? "the clamp has shown current in the short and the meter reads 0 A" : "",
                     .then = loop ? "the leads are tight" : quantity::joined(readings, "; ")});
    if (loop) close_loops(context, inputs, moves);
}

void move_taps(std::string const& deed, std::string const& then, std::vector<Move>& moves) {
    moves.push_back({.move = deed,
                     .cautions = {permit, "open the tap fuses first, only in holders made for it, after checking what else they feed (the meter's own supply)",
                                  "prove the leads dead with a two-pole tester of the right measurement category; a reading is no proof of absence of voltage"},
                     .before = "the tap fuses are open and the leads are proved dead",
                     .then = then + ", " + newer});
}

std::vector<std::size_t> every_input(RepairContext const& context) {
    std::vector<std::size_t> inputs(context.model.current_inputs.size());
    for (std::size_t k = 0; k < inputs.size(); ++k) inputs[k] = k;
    return inputs;
}

void revive(std::vector<std::size_t> const& inputs, RepairContext const& context, std::vector<Move>& moves) {
    std::vector<std::string> phases;
    for (auto const input : inputs) phases.push_back(phase_of(context, input));
    auto const who = quantity::joined(phases, ", ");
    if (!plan::is_current_loop(context.ct_output)) {
        moves.push_back({.move = "find why the " + who + " input gets nothing: CT closed round its conductor, both leads landed, plug seated",
                         .cautions = {permit},
                         .before = "a clamp round the conductor shows current",
                         .then = must_read(context, inputs.front())});
        return;
    }
    moves.push_back({.move = "treat the " + who + " CT loop as open: touch nothing; take the load off or de-energise the conductor",
                     .cautions = {permit, "an open current loop can carry thousands of volts",
                                  "the only live test is a clamp round an insulated lead of the loop"},
                     .before = "",
                     .then = "no current flows in the conductor, or the clamp has shown current in the loop"});
    moves.push_back({.move = "follow the loop from " + pair_of(context, inputs.front()) +
                             " to the CT: shorting link left closed, lead broken or loose, CT not round its conductor",
                     .cautions = {"close the short at the CT before anything is opened"},
                     .before = "the loop is dead or proved shorted",
                     .then = must_read(context, inputs.front())});
}

// Two loops in one drive their cores into saturation: the pair is as dangerous as an open loop.
void part_loops(Difference const& d, RepairContext const& context, std::vector<Move>& moves) {
    auto const who = phase_of(context, d.at) + " and " + phase_of(context, d.other);
    moves.push_back({.move = "treat the CT loops of " + who + " as open: touch nothing; take the load off or de-energise the conductors",
                     .cautions = {permit, "each CT drives against the other: dangerous voltage can stand at their terminals",
                                  "the only live test is a clamp round an insulated lead of the loop"},
                     .before = "",
                     .then = "no current flows in the conductors"});
    moves.push_back({.move = "ring out both pairs, then land each pair whole: " + phase_of(context, d.at) + " CT to " + pair_of(context, d.at) + ", " +
                             phase_of(context, d.other) + " CT to " + pair_of(context, d.other),
                     .cautions = {"close the shorts at the CTs before anything is opened"},
                     .before = "the conductors are dead, or both CTs are proved shorted at their own terminals",
                     .then = must_read(context, d.at) + "; " + must_read(context, d.other)});
}

void repair_setting(Difference const& d, RepairContext const& context, std::vector<Move>& moves) {
    switch (d.piece) {
        case Piece::raw_coil:
            moves.push_back({.move = "fit the integrator that the coil needs, or CTs of the output that the inputs are made for",
                             .cautions = {permit, "de-energise the conductors before a CT is moved round them"},
                             .before = "the label of the coil was read",
                             .then = "watts and amperes agree with a clamp, " + newer});
            break;
        case Piece::vars_turned:
            moves.push_back({.move = "set down which sign of reactive power this meter uses, and read it so",
                             .cautions = {},
                             .before = "a load that surely lags is running",
                             .then = "its reactive power is positive, " + newer});
            break;
        case Piece::vt_reversed:
            move_taps("exchange the secondary leads of the voltage transformer at " + context.names.terminals.voltage[d.at],
                      "its voltage stands where the others put it", moves);
            moves.back().cautions.emplace_back("a voltage transformer's secondary must never be short-circuited, and its primary is high voltage");
            break;
        case Piece::vt_ratio:
            moves.push_back({.move = "compare the ratio on the nameplate of the voltage transformers with the programmed one, and program what is there",
                             .cautions = {permit},
                             .before = "the displayed voltages are " + quantity::fixed(d.value, 2) + " times the nominal ones",
                             .then = "the meter shows the nominal voltage, " + newer});
            break;
        default:
            moves.push_back({.move = "program the service of the plan: " + std::string(plan::words_of(context.model.service)),
                             .cautions = {"check first that no input stands above its rating"},
                             .before = "",
                             .then = "every element shows its own voltage, " + newer});
    }
}

void repair_tap(Difference const& d, RepairContext const& context, std::vector<Move>& moves) {
    auto const terminal = [&](std::size_t t) { return context.names.terminals.voltage[t]; };
    auto const belongs = [&](std::size_t t) { return context.names.conductor(context.model.terminals[t]); };
    auto const& neutral = context.names.terminals.neutral;
    switch (d.piece) {
        case Piece::taps_exchanged:
            move_taps("exchange the leads at " + terminal(d.at) + " and " + terminal(d.other),
                      terminal(d.at) + " is on " + belongs(d.at) + " and " + terminal(d.other) + " on " + belongs(d.other), moves);
            break;
        case Piece::taps_rotated: {
            std::vector<std::string> places;
            for (std::size_t t = 0; t < context.model.terminals.size(); ++t) places.push_back(belongs(t) + " to " + terminal(t));
            move_taps("move the voltage leads: " + quantity::joined(places, ", "), "the meter shows the rotation of the source", moves);
            break;
        }
        case Piece::tap_elsewhere:
            move_taps("move the lead at " + terminal(d.at) + " from " + context.names.conductor(d.conductor) + " to " + belongs(d.at),
                      terminal(d.at) + " shows its own voltage", moves);
            break;
        case Piece::tap_on_neutral:
            move_taps("exchange the leads at " + terminal(d.at) + " and " + neutral, "every element shows its nominal voltage", moves);
            break;
        case Piece::neutral_elsewhere:
            move_taps("move the lead at " + neutral + " from " + context.names.conductor(d.conductor) + " to " +
                          context.names.conductor(plan::Conductor::n),
                      "every element shows its nominal voltage", moves);
            break;
        case Piece::tap_lost:
            moves.push_back({.move = "restore the voltage at " + terminal(d.at) + ": tap fuse of " + belongs(d.at) + ", its holder, the lead, the terminal screw",
                             .cautions = {permit, "the shown volts may be stray: measure with a low-impedance two-pole tester"},
                             .before = "the tester shows " + belongs(d.at) + " live before the fuse",
                             .then = terminal(d.at) + " shows its nominal voltage, " + newer});
            break;
        case Piece::supply_neutral_broken:
            moves.push_back({.move = "stop: the neutral of the supply looks broken, which is no fault of the meter's wiring; keep away, take the "
                                     "loads off if that can be done from afar, and call who answers for the supply",
                             .cautions = {permit, "dangerous volts may stand on the neutral and on everything that it feeds",
                                          "measure at the source with a two-pole tester before anything else"},
                             .before = "",
                             .then = "phase to neutral volts at the source are equal, " + newer});
            break;
        case Piece::neutral_lost:
            moves.push_back({.move = "stop: find out whether the meter's neutral lead or the supply's neutral is broken; assume the supply",
                             .cautions = {permit, "measure at the source with a two-pole tester before anything else"},
                             .before = "",
                             .then = "phase to neutral volts at the source are equal"});
            break;
        default: break;
    }
}

void repair_ratio(Difference const& d, RepairContext const& context, std::vector<Move>& moves) {
    auto const who = d.piece == Piece::ratio_of_all ? std::string{"every CT"} : "the " + phase_of(context, d.at) + " CT";
    std::string planned;
    if (!context.ct_planned.empty()) {
        auto const& ratio = context.ct_planned[std::min(d.at, context.ct_planned.size() - 1)];
        planned = " (planned " + quantity::shortest(ratio.primary) + "/" + quantity::shortest(ratio.secondary) + ")";
    }
    moves.push_back({.move = "compare the ratio on the nameplate of " + who + planned +
                             " with the programmed one, count the turns and the parallel cables in the window, and program what is there",
                     .cautions = {permit},
                     .before = "a clamp round the conductor shows " + quantity::fixed(1.0 / d.value, 3) + " of the displayed current",
                     .then = "the meter shows what the clamp shows, " + newer});
}
}  // namespace

std::vector<Move> repair_of(std::vector<Difference> const& differences, RepairContext const& context) {
    std::vector<Move> moves;
    for (auto const& d : differences) {
        switch (d.piece) {
            case Piece::inputs_exchanged:
                move_currents("exchange the pair at " + pair_of(context, d.at) + " with the pair at " + pair_of(context, d.other),
                              {d.at, d.other}, context, moves);
                break;
            case Piece::inputs_rotated: {
                std::vector<std::string> places;
                for (auto const input : every_input(context)) places.push_back(phase_of(context, input) + " CT to " + pair_of(context, input));
                move_currents("move the CT pairs: " + quantity::joined(places, ", "), every_input(context), context, moves);
                break;
            }
            case Piece::ct_elsewhere:
                moves.push_back({.move = "move the CT of the " + phase_of(context, d.at) + " input from " +
                                         context.names.conductor(d.conductor) + " to " + phase_of(context, d.at),
                                 .cautions = {permit, "de-energise the conductors before a CT is moved round them",
                                              "keep the secondary shorted or loaded while primary current can flow"},
                                 .before = "the conductors are dead and proved dead",
                                 .then = must_read(context, d.at)});
                break;
            case Piece::input_reversed:
                move_currents("exchange " + context.names.region.secondary_marks[0] + " and " +
                                  context.names.region.secondary_marks[1] + " at terminals " + pair_of(context, d.at),
                              {d.at}, context, moves);
                break;
            case Piece::all_reversed: {
                std::vector<std::string> pairs;
                for (auto const input : every_input(context)) pairs.push_back(pair_of(context, input));
                move_currents("exchange " + context.names.region.secondary_marks[0] + " and " +
                                  context.names.region.secondary_marks[1] + " at terminals " + quantity::joined(pairs, ", at "),
                              every_input(context), context, moves);
                break;
            }
            case Piece::input_dead: revive({d.at}, context, moves); break;
            case Piece::all_dead: revive(every_input(context), context, moves); break;
            case Piece::ratio_of_one:
            case Piece::ratio_of_all: repair_ratio(d, context, moves); break;
            case Piece::loops_joined: part_loops(d, context, moves); break;
            case Piece::raw_coil:
            case Piece::vars_turned:
            case Piece::vt_reversed:
            case Piece::vt_ratio:
            case Piece::two_element_setting: repair_setting(d, context, moves); break;
            default: repair_tap(d, context, moves);
        }
    }
    return moves;
}

std::string hazard_of(std::vector<Difference> const& differences, plan::CtOutput ct_output) {
    for (auto const& d : differences) {
        bool const dead = d.piece == Piece::input_dead || d.piece == Piece::all_dead;
        if (dead && plan::is_current_loop(ct_output)) return "the current loop may be open: dangerous voltage at its terminals";
        if (d.piece == Piece::loops_joined) return "two CTs drive against each other: dangerous voltage at their terminals";
        if (d.piece == Piece::supply_neutral_broken) return "the supply's neutral is broken: loads may see up to line voltage";
        if (d.piece == Piece::neutral_lost) return "the supply's neutral may be broken: loads may see up to line voltage";
        if (d.piece == Piece::neutral_elsewhere || d.piece == Piece::tap_on_neutral)
            return "line voltage stands on inputs made for phase voltage";
    }
    return {};
}

}  // namespace phasewright::diagnosis
