// The checklist for the crew. Cautions stand first. It defers to the site's rules and to the qualified person
// in charge, and it never says that work may be done live. Sources: live-dead-live at each point of work,
// NFPA 70E 120.5 (as quoted by code-education pages; the step's number differs between editions); one earth
// point of secondaries, NEC 250.170; the order of shorting and opening: common practice, no source;
// docs/reference/plan-documents.md lists where each was read.
#include "core/quantity/text.hpp"
#include "core/report/plan_papers.hpp"

namespace phasewright::report {

namespace {

std::vector<std::string> cautions(PointWiring const& wiring) {
    std::vector<std::string> all{
        "Voltages in this panel kill. Work on it belongs to qualified people, under the local code, the "
        "site's permits and its protective equipment. This sheet replaces none of them.",
        "A meter, a contactless tester or a reading over the bus never proves absence of voltage.",
        "The panel may have more than one source: the voltage taps and the meter's own supply may stay live "
        "when the breaker of this circuit is open."};
    if (wiring.current_loop)
        all.emplace_back(
            "The secondary of these current transformers is never opened while current flows in the primary: "
            "the voltage across the gap can kill and the transformer can be destroyed. Short first, then "
            "open.");
    return all;
}

Checklist::Section absence_of_voltage(plan::Region const& region) {
    std::string const earth = earth_word(region);
    Checklist::Section section{"Before hands go in", {}};
    auto& steps = section.steps;
    steps.emplace_back("Isolate every source, lock and tag each, and try to switch on.");
    steps.emplace_back("Prove the tester on a known live source.");
    steps.push_back(
        "Test at the place of work, with contact: every conductor to every other, and every conductor to " +
        earth + ".");
    steps.emplace_back(
        "Prove the tester again on the known live source. Only then has the test said something. (Live, "
        "dead, "
        "live: NFPA 70E, edition in force, 120.5; elsewhere the local rule.)");
    steps.emplace_back(
        "The qualified person in charge decides whether work begins. Name, time: ______________________");
    return section;
}

Checklist::Section transformers(PointWiring const& wiring) {
    auto const& p1 = wiring.primary_marks[0];
    Checklist::Section section{"Current transformers", {}};
    section.steps.push_back("Rating plate against the plan: " + wiring.ct_words + ".");
    for (auto const& ct : wiring.cts) {
        auto const& conductor = wiring.conductors[ct.conductor];
        section.steps.push_back(ct.name + " round " + conductor.letter +
                                (conductor.branch.empty() ? "" : " of " + conductor.branch) +
                                ", all its cables, nothing else; " + p1 +
                                " to the source; shut and locked. Serial no. __________");
    }
    if (wiring.current_loop && wiring.block)
        section.steps.push_back("Short all pairs at the " + wiring.block_title +
                                ", on the CT side, before any lead is landed or taken off.");
    if (wiring.current_loop && !wiring.block)
        section.steps.emplace_back(
            "There is nothing planned that shorts these loops: fit it, or work only while the primary is "
            "dead.");
    if (!wiring.current_loop)
        section.steps.emplace_back(
            "Output against input: these transformers never go to a 5 A input, and a 5 A transformer never "
            "to this one.");
    section.steps.emplace_back("Labels on each transformer and at both ends of each pair.");
    return section;
}

Checklist::Section landing(plan::Region const& region, PointWiring const& wiring,
                           plan::MeterHardware const& hardware) {
    Checklist::Section section{"Leads and terminals", {}};
    section.steps.emplace_back(
        "Every wire by its number in the wiring schedule, both ends. Ferrules on fine strands.");
    struct Use {
        plan::WireUse use;
        char const* words;
    };
    for (auto const& [use, words] :
         {Use{plan::WireUse::voltage, "Voltage terminals"}, Use{plan::WireUse::current, "Current terminals"},
          Use{plan::WireUse::supply, "Supply terminals"}, Use{plan::WireUse::bus, "Bus terminals"}}) {
        auto const strip = strip_words(region, hardware, use), torque = torque_words(region, hardware, use);
        section.steps.push_back(std::string(words) + ": strip " + (strip.empty() ? "____" : strip) + " " +
                                strip_unit(region) + ", torque " + (torque.empty() ? "____" : torque) + " " +
                                torque_unit(region) + ", with a calibrated tool.");
    }
    section.steps.emplace_back("Tug test: every wire is pulled once after its screw is tight.");
    if (wiring.earthed_at_block)
        section.steps.push_back(
            "The " + wiring.secondary_marks[1] + " side is connected to " + wiring.earth_word +
            " at the block, and nowhere else: measure it before the last link is closed.");
    section.steps.push_back(wiring.fuse_words.empty()
                                ? "Fuses of the taps: rating ____ A, breaking capacity ____ kA."
                                : "Fuses of the taps: " + wiring.fuse_words +
                                      ", breaking capacity as planned: ____ kA.");
    section.steps.emplace_back("Cables of the bus away from those of the mains, or behind a barrier.");
    return section;
}

Checklist::Section energising(PointWiring const& wiring) {
    Checklist::Section section{"With the circuit energised", {}};
    section.steps.emplace_back("Energising is the decision of the qualified person in charge.");
    section.steps.emplace_back(
        "Voltage of each terminal against the plan, phase by phase, with a rated voltmeter.");
    if (wiring.current_loop && wiring.block)
        section.steps.emplace_back(
            "Pair by pair: a clamp shows current in the short, the meter shows none; open the short; the "
            "meter now shows the current. If either fails: close the short again and stop.");
    section.steps.emplace_back(
        "Program ratio and service; read the meter; prove the point with phasewright prove.");
    section.steps.emplace_back("Closing is the decision of the qualified person in charge.");
    section.steps.emplace_back("Done by, date: ______________________");
    return section;
}

}  // namespace

Paper checklist_paper(plan::Site const& site, plan::MeteringPoint const& point, PointWiring const& wiring,
                      MeterFacts const& meter) {
    Checklist list{.cautions = cautions(wiring), .sections = {}};
    list.sections = {absence_of_voltage(site.region), transformers(wiring),
                     landing(site.region, wiring, meter.hardware), energising(wiring)};
    Paper paper{.file = wiring.id + "-checklist",
                .title = wiring.name + ": checklist",
                .lead = "In this order. A step that cannot be ticked stops the work.",
                .panel = wiring.panel,
                .point = wiring.id,
                .content = std::move(list),
                .notes = {}};
    if (point.ct.output != plan::CtOutput::unknown && wiring.current_loop) {
        auto rule = rule_words(site.region, "ct-secondary-earth");
        if (!rule.empty()) paper.notes.push_back(std::move(rule));
    }
    return paper;
}

}  // namespace phasewright::report
