// An invented job for tests: one sheet of every kind. Its numbers are made up by hand; no diagnosis was
// asked.
#pragma once
#include <cmath>
#include <numbers>

#include "core/report/job_report.hpp"

namespace phasewright::sheet {

inline diagnosis::ElementValues shown(double v, double i, double lag_deg) {
    double const lag = lag_deg * std::numbers::pi / 180.0;
    return {.v = v, .i = i, .p = v * i * std::cos(lag), .q = v * i * std::sin(lag), .lag_deg = lag_deg};
}

inline report::PointSheet sample_sheet(std::string id, std::string name, std::string way,
                                       std::vector<diagnosis::ElementValues> values) {
    report::PointSheet sheet;
    sheet.point = {.id = std::move(id), .name = std::move(name), .panel = "db-2", .way = std::move(way)};
    sheet.point.ct = {{200.0, 5.0}, plan::CtOutput::five_amperes, "0.5"};
    sheet.point.address = {.host = "127.0.0.1", .port = 5020, .unit = 3};
    readings::ReadingSet set;
    set.nominal = {230.0, 398.4, 50.0};
    set.load_kind.whole = plan::LoadKind::mixed;
    set.flow = plan::Flow::import_only;
    set.snapshots.resize(1);
    sheet.readings = set;
    diagnosis::Verdict verdict;
    verdict.as_read = std::move(values);
    verdict.after_repair = {shown(231, 41.2, 23), shown(229, 38.7, 23), shown(232, 44.0, 23)};
    verdict.expected_lag_deg = {18, 18, 18};
    verdict.expected_lag_half_width_deg = {27, 27, 27};
    verdict.element_right = {0.992, 0.003, 0.992};
    sheet.verdict = verdict;
    sheet.reading_age_s = 3.0;
    return sheet;
}

inline report::PointSheet reversed_sheet() {
    auto sheet = sample_sheet("tenant-3", "Tenant 3", "7",
                              {shown(231, 41.2, 23), shown(229, 38.7, -157), shown(232, 44.0, 23)});
    auto& verdict = *sheet.verdict;
    verdict.state = diagnosis::State::mistake;
    diagnosis::WiringMember member{.in_words = "S1 and S2 of the L2 CT are exchanged at the meter"};
    member.repair = {
        {.move = "close the short on the L2 CT, on the CT side",
         .cautions = {"never open a CT loop under load"}},
        {.move = "clamp the short", .then = "current flows in it and element 2 reads 0 A; if not, stop"},
        {.move = "exchange S1 and S2 at terminals 4 and 6", .before = "the short carries the current"},
        {.move = "tug-test both leads, then open the short"},
        {.move = "read the meter again",
         .then = "element 2 must read +8.15 kW, in a reading newer than the move"}};
    diagnosis::WiringMember other{.in_words = "the L2 CT sits back to front on its conductor"};
    verdict.classes = {
        {.probability = 0.992, .in_words = "L2 current is reversed", .wirings = {member, other}},
        {.probability = 0.005, .in_words = "one-phase generation on L2"}};
    verdict.classes[0].true_power = {.p_w = 26300.0, .q_var = 11200.0};
    verdict.classes[0].registered_share = 9.99 / 26.30;
    verdict.findings = {{diagnosis::Severity::mind, "the load is unequal: L3 carries 14 % more than L2"}};
    return sheet;
}

inline report::PointSheet undecided_sheet() {
    auto sheet = sample_sheet("solar", "Solar", "2",
                              {shown(233, 45.1, 179), shown(231, 44.8, -179), shown(232, 44.9, 180)});
    auto& verdict = *sheet.verdict;
    verdict.state = diagnosis::State::undecided;
    verdict.element_right = {0.47, 0.47, 0.47};
    verdict.expected_lag_deg = {190, 190, 190};
    sheet.readings->load_kind.whole = plan::LoadKind::generation;
    sheet.readings->flow = plan::Flow::both;
    verdict.classes = {{.probability = 0.52, .in_words = "all currents are reversed"},
                       {.probability = 0.47, .in_words = "wired as planned", .as_planned = true},
                       {.probability = 0.006, .in_words = "currents rotated by one place and all reversed"}};
    verdict.next_test = diagnosis::NextTest{.kind = "generation_stopped",
                                            .who = "the person at the inverter",
                                            .minutes = 2,
                                            .what = "is generation running now?",
                                            .cautions = {"stopping an inverter is the operator's decision"},
                                            .outcomes = {{"yes, it runs", 0.5, "all currents are reversed"},
                                                         {"no, it stands", 0.5, "wired as planned"}}};
    return sheet;
}

inline report::PointSheet stop_sheet() {
    auto sheet = sample_sheet("tenant-1", "Tenant 1", "5",
                              {shown(231, 0.02, 0), shown(229, 38.7, 21), shown(232, 44.0, 24)});
    auto& verdict = *sheet.verdict;
    verdict.as_read[0].lag_deg.reset();
    verdict.as_read[0].p.reset();
    verdict.as_read[0].q.reset();
    verdict.state = diagnosis::State::undecided;
    verdict.classes = {
        {.probability = 0.71, .in_words = "L1 current is dead"},
        {.probability = 0.28, .in_words = "wired as planned, and L1 carries no load", .as_planned = true}};
    verdict.findings = {
        {diagnosis::Severity::stop,
         "element 1 shows no current: the secondary loop of the L1 CT may be open. Treat the loop as "
         "open, touch nothing, take the load off or de-energise the primary"}};
    verdict.next_test =
        diagnosis::NextTest{.kind = "clamp_secondary",
                            .at = "CT1",
                            .who = "a qualified person",
                            .minutes = 5,
                            .what = "clamp round an insulated lead of CT 1: does current flow in it?",
                            .cautions = {"only a clamp, only round an insulated lead"}};
    return sheet;
}

inline report::JobReport sample_job() {
    report::JobReport job;
    job.site.name = "Tallowmere Yard";
    job.site.place = "invented";
    job.site.panels = {{"db-2", "DB-2", {230.0, 398.4, 50.0}}, {"roof", "Roof", {230.0, 398.4, 50.0}}};
    job.made_at = "2026-11-25T09:27:06+00:00";
    job.program = "phasewright 0.1.0";
    job.sheets = {reversed_sheet(), undecided_sheet(), stop_sheet()};
    job.sheets[1].point.panel = "roof";

    auto lift = sample_sheet("lift-1", "Lift 1", "9",
                             {shown(231, 1.6, 62), shown(230, 1.5, 70), shown(229, 1.6, 66)});
    lift.verdict->state = diagnosis::State::unproven;
    lift.verdict->next_test =
        diagnosis::NextTest{.kind = "load_switched", .minutes = 3, .what = "let the lift run and read again"};
    job.sheets.push_back(lift);

    auto done = sample_sheet("tenant-8", "Tenant 8", "12",
                             {shown(231, 41.2, 23), shown(229, 38.7, 21), shown(232, 44.0, 24)});
    done.verdict->state = diagnosis::State::as_planned;
    done.verdict->classes = {{.probability = 0.9991, .in_words = "wired as planned", .as_planned = true}};
    done.verdict->classes[0].true_power.p_w = 26400.0;
    done.verdict->classes[0].registered_share = 1.0;
    done.verdict->element_right = {0.999, 0.999, 0.999};
    job.sheets.push_back(done);

    report::PointSheet silent;
    silent.point = lift.point;
    silent.point.id = "chiller";
    silent.point.name = "Chiller";
    silent.point.way = "1";
    silent.point.panel = "roof";
    silent.bus_findings = {
        {diagnosis::Severity::mend, "nothing answered within 1 s at 127.0.0.1:5031, unit 7"}};
    job.sheets.push_back(silent);
    return job;
}

}  // namespace phasewright::sheet
