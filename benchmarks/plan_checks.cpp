// How fast is a plan checked, on one core? A plan of 2 000 points, described in full, written as TOML, read
// and checked: what a check costs beside reading the same plan, and how both grow when the plan doubles. Then
// a hostile plan: every supply and every line of it hangs in one graph of ties, so that a search that begins
// anew for each loop would show.
#include <algorithm>
#include <chrono>
#include <string>

#include <fmt/core.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"
#include "core/checks/check_plan.hpp"
#include "core/checks/rule.hpp"

namespace {
using namespace phasewright;
using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
}

plan::MeterHardware hardware() {
    plan::MeterHardware meter;
    meter.bus_terminals = {
        {"1", plan::BusRole::d1, "B"}, {"2", plan::BusRole::d0, "A"}, {"3", plan::BusRole::common, "C"}};
    meter.current_inputs = {
        {.output = plan::CtOutput::five_amperes, .rated = 5.0, .most = 10.0, .burden_va = 0.5}};
    meter.voltage_inputs = plan::VoltageInputs{
        .most_ln = 300.0, .most_ll = 520.0, .least_ll = 90.0, .category = "CAT III 300 V"};
    using plan::WireUse;
    for (auto const use : {WireUse::voltage, WireUse::current, WireUse::supply, WireUse::bus})
        meter.wires.push_back({.use = use, .mm2 = plan::Between{0.5, 4.0}, .strip_mm = 8.0});
    meter.supply = plan::MeterSupply{.kind = plan::SupplyKind::ac_or_dc,
                                     .ac_v = plan::Between{20.0, 260.0},
                                     .dc_v = plan::Between{20.0, 60.0},
                                     .power_w = 2.0,
                                     .power_va = 3.0,
                                     .inrush_a = 1.0};
    meter.limits = plan::MeterLimits{.temperature_c = plan::Between{-10.0, 55.0}, .humidity_percent = 90.0};
    meter.bus = plan::MeterBus{
        .kind = plan::BusKind::serial, .bit_rates = {9600, 19200}, .unit_load = 0.25, .most_devices = 64};
    return meter;
}

plan::MeteringPoint a_point(int number, int panel, int place, std::string const& line,
                            std::string const& supply) {
    using namespace plan;
    MeteringPoint point;
    point.id = fmt::format("point-{}", number);
    point.name = point.id;
    point.panel = fmt::format("panel-{}", panel);
    point.way = fmt::format("F{}", place);
    point.breaker_a = 63.0;
    point.usual_a = 30.0;
    point.least_a = number % 10 == 0 ? 1.0 : 8.0;  // each tenth below what its class speaks of
    point.most_a = 60.0;
    point.rotation = Sequence::abc;
    point.ct.ratio = {100.0, 5.0};
    point.ct.output = CtOutput::five_amperes;
    point.ct.accuracy_class = "0.5";
    point.ct.burden_va = 5.0;
    point.ct.window = Window{30.0, 30.0, true};
    point.ct.shorting = Shorting::block;
    point.meter_profile = "usual";
    point.meter_serial = fmt::format("S{}", number);
    point.address.port = 0;
    point.address.unit = place;
    point.address.serial_line = line;
    point.address.position = place;
    point.address.distance_m = 5.0;
    point.cable = Cable{.size = ConductorSize{SizeUnit::mm2, 16.0},
                        .diameter_mm = 9.0,
                        .colours = {"brown", "black", "grey", "blue"}};
    point.lead = Lead{.length_m = number % 10 == 1 ? 30.0 : 5.0,
                      .size = ConductorSize{SizeUnit::mm2, 2.5},
                      .way_back = Return::own};
    point.tap = VoltageTap{.size = ConductorSize{SizeUnit::mm2, 1.5},
                           .length_m = 2.0,
                           .unprotected_m = 0.5,
                           .protection = TapProtection::fuse,
                           .fuse_a = 2.0,
                           .breaking_ka = 50.0,
                           .let_through_a2s = 100.0};
    point.supply = SupplyFeed{.supply = supply,
                              .length_m = 10.0,
                              .size = ConductorSize{SizeUnit::mm2, 1.5},
                              .polarity = Polarity::as_marked};
    if (place > 1) point.parent = fmt::format("point-{}", number - place + 1);
    return point;
}

constexpr int points_a_panel = 20;  // and on its line, and on its supply

plan::Site usual_site(int points) {
    using namespace plan;
    Site site;
    site.name = "a site";
    site.region = *region_of("iec");
    for (int number = 0; number < points; ++number) {
        int const panel = number / points_a_panel;
        int const place = number % points_a_panel + 1;
        auto const line = fmt::format("line-{}", panel);
        auto const supply = fmt::format("aux-{}", panel);
        if (place == 1) {
            Panel box{.id = fmt::format("panel-{}", panel), .name = line, .nominal = {230.0, 400.0, 50.0}};
            box.service = Service::four_wire_wye;
            box.fault_ka = 10.0;
            box.enclosure = Enclosure{.stands = Whereabouts::indoor,
                                      .entries = {CableEntry::bottom},
                                      .temperature_c = DegreesCelsius{5.0, 40.0}};
            for (int way = 1; way <= points_a_panel; ++way)
                box.ways.push_back({fmt::format("F{}", way),
                                    {Conductor::a, Conductor::b, Conductor::c, Conductor::n},
                                    63.0,
                                    {}});
            site.panels.push_back(std::move(box));
            SerialLine pair{.id = line};
            pair.length_m = 100.0;
            pair.terminators = std::vector<int>{0, points_a_panel};
            pair.bias_at = 0;
            pair.cable = "screened pair and common";
            site.serial_lines.push_back(std::move(pair));
            ControlSupply feed;
            feed.id = supply;
            feed.kind = CurrentKind::dc;
            feed.volts = 24.0;
            feed.available_va = 60.0;
            site.supplies.push_back(std::move(feed));
            Sum sum;
            sum.id = fmt::format("sum-{}", panel);
            for (int child = 1; child < points_a_panel; ++child)
                sum.plus.push_back(fmt::format("point-{}", number + child));
            sum.compared_with = fmt::format("point-{}", number);
            site.sums.push_back(std::move(sum));
        }
        site.points.push_back(a_point(number, panel, place, line, supply));
    }
    return site;
}

// Every meter is tied and each second one crossed; each supply feeds meters of its own line and of the next.
plan::Site tangled_site(int supplies) {
    auto site = usual_site(supplies * points_a_panel);
    for (std::size_t k = 0; k < site.points.size(); ++k) {
        auto& feed = *site.points[k].supply;
        feed.tied_to_bus_common = true;
        feed.polarity = k % 2 == 0 ? plan::Polarity::as_marked : plan::Polarity::crossed;
        if (k % points_a_panel >= points_a_panel / 2)
            feed.supply =
                fmt::format("aux-{}", (k / points_a_panel + 1) % static_cast<std::size_t>(supplies));
    }
    return site;
}

struct Checked {
    double seconds = 0.0;  // the shortest of several runs
    checks::Counts counts;
};
Checked checked(plan::Site const& site, int runs) {
    auto const meter = hardware();
    plan::TerminalNames terminals;
    terminals.voltage = {"4", "5", "6"};
    terminals.current = {{"7", "8"}, {"9", "10"}, {"11", "12"}};
    auto const library = [&](std::string const&) {
        return std::optional(checks::MeterFacts{&meter, &terminals, {}});
    };
    Checked best{.seconds = 1e9, .counts = {}};
    for (int run = 0; run < runs; ++run) {
        auto const start = Clock::now();
        auto const findings = checks::check_plan(site, library);
        best.seconds = std::min(best.seconds, seconds_since(start));
        best.counts = checks::counted(findings);
    }
    return best;
}

double reading_s(std::string const& text, int runs) {
    double best = 1e9;
    for (int run = 0; run < runs; ++run) {
        auto const start = Clock::now();
        auto const site = commands::read_draft(text, "bench.plan.toml");
        if (!site) {
            fmt::print("the plan was refused: {}\n", quantity::to_sentence(site.error()));
            return 0.0;
        }
        best = std::min(best, seconds_since(start));
    }
    return best;
}
}  // namespace

int main() {
    std::size_t rules = 0;
    for (auto const& subject : checks::subjects()) rules += subject.rules.size();
    fmt::print("plan checks, one core; {}; {} rules\n\n", PHASEWRIGHT_BUILT, rules);
    fmt::print("{:>8} {:>10} {:>10} {:>14} {:>22} {:>22}\n", "points", "read, s", "check, s", "us a point",
               "point-checks a point-read", "stop/mend/mind");
    for (int const points : {1000, 2000, 4000, 8000}) {
        auto const site = usual_site(points);
        double const read = reading_s(commands::write_plan(site), 2);
        auto const check = checked(site, 5);
        fmt::print("{:>8} {:>10.3f} {:>10.4f} {:>14.2f} {:>22.1f} {:>16}/{}/{}\n", points, read,
                   check.seconds, 1e6 * check.seconds / points, read / check.seconds, check.counts.stop,
                   check.counts.mend, check.counts.mind);
    }
    fmt::print("\nall supplies and lines in one graph, every meter tied, each second one crossed\n");
    fmt::print("{:>8} {:>8} {:>10} {:>14} {:>12}\n", "supplies", "points", "check, s", "us a point",
               "loops found");
    for (int const supplies : {250, 500, 1000, 2000}) {
        auto const check = checked(tangled_site(supplies), 3);
        fmt::print("{:>8} {:>8} {:>10.3f} {:>14.2f} {:>12}\n", supplies, supplies * points_a_panel,
                   check.seconds, 1e6 * check.seconds / (supplies * points_a_panel), check.counts.stop);
    }
}
