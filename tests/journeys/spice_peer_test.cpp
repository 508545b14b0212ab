// The secondary network against ngspice, a circuit simulator that shares nothing with this project: the same
// panels, described a second time by hand as netlists (cases/spice), must give the same phasors.
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

#include "core/wiring/network_plan.hpp"

using namespace phasewright;
using namespace phasewright::wiring;
using enum plan::Conductor;
using enum plan::CtOutput;

namespace {

using Complex = std::complex<double>;
std::string const folder = PHASEWRIGHT_SOURCE_DIR "/cases/spice";

Complex phasor(double size, double degrees) { return std::polar(size, degrees * std::numbers::pi / 180.0); }

// cases/spice/site.sub
plan::SourcePhasors const supply{phasor(230, 0), phasor(226, -121), phasor(234, 119), phasor(1.5, 30)};
Currents const load{phasor(80, -20), phasor(55, -155), phasor(31, 115)};

std::string said_by_ngspice(std::string const& netlist) {
    std::string const command = "cd '" + folder + "' && ngspice -b " + netlist + ".cir 2>&1";
    // NOLINTNEXTLINE(cert-env33-c)
    FILE* const pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::string text;
    std::array<char, 4096> chunk{};
    for (std::size_t got = 0; (got = fread(chunk.data(), 1, chunk.size(), pipe)) > 0;)
        text.append(chunk.data(), got);
    int const status = pclose(pipe);
    CAPTURE(text);
    REQUIRE_MESSAGE(status == 0, "ngspice did not run: is the Debian package ngspice installed?");
    return text;
}

using Values = std::map<std::string, Complex>;

// Lines as "i1 = 1.878e+00,-6.742e-01".
Values phasors_in(std::string const& text) {
    Values values;
    std::istringstream lines{text};
    for (std::string line; std::getline(lines, line);) {
        std::istringstream words{line};
        std::string name;
        char equals = 0;
        char comma = 0;
        double re = 0.0;
        double im = 0.0;
        if (words >> name >> equals >> re >> comma >> im && equals == '=' && comma == ',')
            values[name] = {re, im};
    }
    return values;
}

// netlist -> its values
std::map<std::string, Values> table() {
    std::map<std::string, Values> all;
    std::ifstream file{folder + "/expected.txt"};
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with('#')) continue;
        std::istringstream words{line};
        std::string netlist;
        std::string what;
        double re = 0.0;
        double im = 0.0;
        if (words >> netlist >> what >> re >> im) all[netlist][what] = {re, im};
    }
    return all;
}

// Within a millionth; where one of the two is nothing, within what sixteen digits of amperes or of volts
// leave.
bool same(std::string const& what, Complex found, Complex expected) {
    double const nothing = what.starts_with('i') ? 1e-15 : 1e-9;
    return std::abs(found - expected) <= 1e-6 * std::abs(expected) + nothing;
}

plan::ServiceModel const wye = plan::model_of(plan::Service::four_wire_wye);
plan::ServiceModel const two_element = plan::model_of(plan::Service::three_wire_two_element);

constexpr LeadEnd s1_of_a{0, CtEnd::s1};
constexpr LeadEnd s2_of_a{0, CtEnd::s2};
constexpr LeadEnd s1_of_b{1, CtEnd::s1};
constexpr LeadEnd s2_of_b{1, CtEnd::s2};

struct Panel {
    std::string netlist;
    Network network;
    plan::ServiceModel const* model = &wye;
};

template <class Edit>
Panel wye_panel(std::string netlist, Edit edit, NetworkParts const& parts = {}) {
    Panel panel{std::move(netlist), as_planned(wye, parts)};
    edit(panel.network);
    return panel;
}

void common_return(Network& network) {
    network.leads = {{0, CtEnd::s1, 0.05, input_s1(0)},
                     {1, CtEnd::s1, 0.05, input_s1(1)},
                     {2, CtEnd::s1, 0.05, input_s1(2)},
                     {1, CtEnd::s2, 0.05, input_s2(1)}};
    network.links.push_back({ct_s2(0), ct_s2(1), 0.001});
    network.links.push_back({ct_s2(1), ct_s2(2), 0.001});
}

void lengthen_leads_of_b(Network& network) {
    for (auto& lead : network.leads)
        if (lead.ct == 1) lead.ohm = 0.726;
}

void back_feed(Network& network) {
    blow_fuse(network, voltage_terminal(0));
    for (int k = 0; k < 3; ++k)
        network.shunts.push_back({voltage_terminal(k), voltage_terminal((k + 1) % 3), 20e3});
}

void open_near_conductor_a(Network& network) {
    open(network, s1_of_b);
    earth(network, input_s2(0));
    network.strays.push_back({ct_s1(1), input_s1(1), 100e-12});
    network.strays.push_back({conductor_point(a), input_s1(1), 10e-12});
}

std::vector<Panel> current_panels() {
    NetworkParts const commoned{.commoned_low_sides = true};
    return {
        wye_panel("reversed", [](Network& n) { turn_round(n, 1); }),
        wye_panel("open-lead", [](Network& n) { open(n, s1_of_b); }),
        wye_panel("short-at-ct", [](Network& n) { short_at_ct(n, 1); }),
        wye_panel("link-at-meter", [](Network& n) { short_at_meter(n, 1, 0.02 / 3.0); }),
        wye_panel("crossed-s1-isolated", [](Network& n) { exchange(n, s1_of_a, s1_of_b); }),
        wye_panel("crossed-s2-isolated", [](Network& n) { exchange(n, s2_of_a, s2_of_b); }),
        wye_panel("crossed-s1-s2-isolated", [](Network& n) { exchange(n, s1_of_a, s2_of_b); }),
        wye_panel("crossed-ring-isolated",
                  [](Network& n) {
                      exchange(n, s1_of_a, s1_of_b);
                      exchange(n, s1_of_b, {2, CtEnd::s1});
                  }),
        wye_panel(
            "crossed-s1-commoned", [](Network& n) { exchange(n, s1_of_a, s1_of_b); }, commoned),
        wye_panel(
            "crossed-s2-commoned", [](Network& n) { exchange(n, s2_of_a, s2_of_b); }, commoned),
        wye_panel(
            "crossed-s1-s2-commoned", [](Network& n) { exchange(n, s1_of_a, s2_of_b); }, commoned),
        wye_panel(
            "crossed-s2-s1-commoned", [](Network& n) { exchange(n, s2_of_a, s1_of_b); }, commoned),
        wye_panel("crossed-s1-two-earths",
                  [](Network& n) {
                      exchange(n, s1_of_a, s1_of_b);
                      for (int k = 0; k < 3; ++k) earth(n, ct_s2(k));
                  }),
        wye_panel("two-cts-one-input",
                  [](Network& n) {
                      land(n, s1_of_b, input_s1(0));
                      land(n, s2_of_b, input_s2(0));
                  }),
        wye_panel("common-return", common_return, commoned),
        wye_panel(
            "broken-return",
            [](Network& n) {
                common_return(n);
                open(n, s2_of_b);
            },
            commoned),
        wye_panel("long-leads", lengthen_leads_of_b),
        wye_panel("long-leads-ma", lengthen_leads_of_b, {.output = milliamperes, .ratio = {200.0, 0.1}}),
        wye_panel("open-lead-mv", open_near_conductor_a,
                  {.output = millivolts, .ratio = {200.0, 0.333}, .commoned_low_sides = true}),
        wye_panel("coil-into-mv-input", [](Network&) {},
                  {.output = coil, .ratio = {200.0, 0.333}, .input_made_for = millivolts}),
    };
}

std::vector<Panel> voltage_panels() {
    std::vector<Panel> panels{
        wye_panel("lost-neutral", [](Network& n) { lose_tap(n, neutral_terminal); }),
        wye_panel("lost-tap", [](Network& n) { blow_fuse(n, voltage_terminal(1)); }),
        wye_panel("lost-tap-and-neutral",
                  [](Network& n) {
                      lose_tap(n, neutral_terminal);
                      blow_fuse(n, voltage_terminal(1));
                  }),
        wye_panel("neutral-on-phase", [](Network& n) { feed(n, neutral_terminal, c); }),
        wye_panel("one-phase-two-terminals", [](Network& n) { feed(n, voltage_terminal(1), a); }),
        wye_panel("two-taps-one-terminal", [](Network& n) { n.taps[1].to = voltage_terminal(0); }),
        wye_panel("back-fed-fuse", back_feed),
    };
    panels.push_back({"lost-common-two-element", as_planned(two_element, {}), &two_element});
    lose_tap(panels.back().network, voltage_terminal(1));
    return panels;
}

// What this project's solver says of the quantity that a netlist prints: i1, v2, vt2.
Complex ours(NetworkSeen const& solved, std::string const& what) {
    auto const at_input = static_cast<std::size_t>(what.back() - '1');
    Response const& response = what.starts_with("vt")  ? solved.ct.at(at_input).terminal_v
                               : what.starts_with('v') ? solved.element_v.at(at_input)
                                                       : solved.input_a.at(at_input);
    return at(response, supply, load);
}

}  // namespace

TEST_CASE(
    "the solver and ngspice see the same phasors in every panel, and the table beside the netlists holds "
    "them") {
    auto const kept = table();
    auto panels = current_panels();
    std::ranges::move(voltage_panels(), std::back_inserter(panels));
    double worst = 0.0;
    for (auto const& [netlist, network, model] : panels) {
        CAPTURE(netlist);
        auto const solved = solve(network, *model);
        REQUIRE(solved.has_value());
        auto const simulated = phasors_in(said_by_ngspice(netlist));
        REQUIRE(kept.contains(netlist));
        REQUIRE(simulated.size() == kept.at(netlist).size());
        for (auto const& [what, expected] : simulated) {
            CAPTURE(what);
            Complex const found = ours(*solved, what);
            CAPTURE(found.real());
            CAPTURE(found.imag());
            CAPTURE(expected.real());
            CAPTURE(expected.imag());
            CHECK(same(what, found, expected));
            REQUIRE(kept.at(netlist).contains(what));
            CHECK(same(what, kept.at(netlist).at(what), expected));
            CHECK(same(what, found, kept.at(netlist).at(what)));
            if (std::abs(expected) > 0.0)
                worst = std::max(worst, std::abs(found - expected) / std::abs(expected));
        }
    }
    CHECK(panels.size() == kept.size());
    MESSAGE(panels.size(), " panels, largest relative difference ", worst);
}

TEST_CASE("every netlist in the folder is run by this program") {
    std::size_t files = 0;
    for (auto const& entry : std::filesystem::directory_iterator{folder})
        if (entry.path().extension() == ".cir") ++files;
    CHECK(files == current_panels().size() + voltage_panels().size() + 1);  // and the saturating pair
}

namespace {

struct Run {
    double load_share = 0.0;
    std::string pair;
    Complex i;           // A secondary, fundamental
    double apart = 0.0;  // largest i1 - i2 in the last ten cycles
};

// The answer of crossed-saturating.cir: "re = ...", "im = ...", "apart = ...", then "done 0.02 same".
std::vector<Run> saturating_runs() {
    std::vector<Run> runs;
    std::istringstream lines{said_by_ngspice("crossed-saturating")};
    std::map<std::string, double> measured;
    for (std::string line; std::getline(lines, line);) {
        std::istringstream words{line};
        std::string name;
        std::string equals;
        double value = 0.0;
        std::string pair;
        if (line.starts_with("done ") && words >> name >> value >> pair) {
            REQUIRE(measured.size() == 3);
            runs.push_back({value, pair, {measured.at("re"), measured.at("im")}, measured.at("apart")});
            measured.clear();
        } else if (words >> name >> equals >> value && equals == "=") {
            measured[name] = value;
        }
    }
    return runs;
}

// How far the simulated current lies from the linear answer, in shares of it.
double departure(Run const& run, NetworkSeen const& solved) {
    double const j = 200.0 * run.load_share;
    Complex const linear = at(solved.input_a[0], {}, {phasor(j, 0), phasor(j, -120), 0.0});
    return std::abs(run.i - linear) / std::abs(linear);
}

// Of a balanced load that lags: both crossed elements read i, the third reads its own current. The cores see
// currents only, so a load that lags turns all currents alike.
double registered_share(Run const& run, double lag_deg) {
    Complex const i = run.i / (5.0 * run.load_share) * phasor(1.0, -lag_deg);
    double const third = std::cos(lag_deg * std::numbers::pi / 180.0);
    double const crossed = ((phasor(1.0, 0) + phasor(1.0, -120)) * std::conj(i)).real();
    return (crossed + third) / (3.0 * third);
}

}  // namespace

TEST_CASE(
    "two crossed loops read one and the same current, and past the knee neither its size nor its angle is "
    "the linear one") {
    auto network = as_planned(wye, {});
    exchange(network, s1_of_a, s1_of_b);
    auto const solved = solve(network, wye);
    REQUIRE(solved.has_value());
    auto const runs = saturating_runs();
    REQUIRE(runs.size() == 24);
    Run like;
    Run unlike;
    for (auto const& run : runs) {
        CAPTURE(run.load_share);
        CAPTURE(run.pair);
        CHECK(run.apart < 1e-9);  // i1 = i2 at every instant, whatever the cores do
        double const off = departure(run, *solved);
        double const j = 200.0 * run.load_share;
        bool const past = past_knee(network, *solved, {}, {phasor(j, 0), phasor(j, -120), 0.0});
        CHECK(past == (run.load_share > 0.058));  // 0.25 A over 0.866 x 5 A
        CAPTURE(off);
        if (run.pair == "line") CHECK(off < 0.002);  // integration in steps of a tenth of a millisecond
        if (run.pair == "same") CHECK(off < (past ? 0.5 : 0.005));
        if (run.pair == "other" && !past) CHECK(off < 0.03);
        if (run.load_share == 1.0 && run.pair == "same") like = run;
        if (run.load_share == 1.0 && run.pair == "other") unlike = run;
    }
    CHECK(departure(like, *solved) > 0.3);
    CHECK(departure(unlike, *solved) > 1.0);

    // At power factor 0.8 the linear answer registers half. The cores make a third, or more than half, of the
    // same wires.
    double const lag = 36.87;
    CHECK(registered_share(like, 0.0) == doctest::Approx(0.49).epsilon(0.01));
    CHECK(registered_share(unlike, 0.0) == doctest::Approx(0.49).epsilon(0.01));
    CHECK(registered_share(like, -lag) == doctest::Approx(0.44).epsilon(0.01));
    CHECK(registered_share(like, lag) == doctest::Approx(0.53).epsilon(0.01));
    CHECK(registered_share(unlike, lag) == doctest::Approx(0.30).epsilon(0.01));
    CHECK(registered_share(unlike, -lag) == doctest::Approx(0.68).epsilon(0.01));
}
