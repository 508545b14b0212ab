#include "core/report/job_report.hpp"

#include <doctest/doctest.h>

#include "core/report/digest.hpp"
#include "core/report/wording.hpp"

using namespace phasewright;
using report::PointSheet;
using report::PointState;

namespace {

PointSheet tenant_three() {
    PointSheet sheet;
    sheet.point = {.id = "tenant-3", .name = "Tenant 3", .panel = "db-2", .way = "7"};
    sheet.point.ct.ratio = {200.0, 5.0};
    readings::ReadingSet set;
    set.load_kind.whole = plan::LoadKind::mixed;
    set.flow = plan::Flow::import_only;
    set.snapshots.resize(1);
    sheet.readings = set;
    diagnosis::Verdict verdict;
    verdict.state = diagnosis::State::mistake;
    diagnosis::WiringMember member;
    member.repair = {{.move = "exchange S1 and S2 of CT 2 at terminals 4 and 6"}};
    verdict.classes = {{.probability = 0.992, .in_words = "L2 current is reversed", .wirings = {member}},
                       {.probability = 0.005, .in_words = "one-phase generation on L2"},
                       {.probability = 0.0005, .in_words = "something rare"}};
    verdict.classes[0].true_power.p_w = 26300.0;
    verdict.classes[0].registered_share = 9990.0 / 26300.0;
    sheet.verdict = verdict;
    return sheet;
}

PointSheet in_state(diagnosis::State state) {
    auto sheet = tenant_three();
    sheet.verdict->state = state;
    return sheet;
}

}  // namespace

TEST_CASE("a certain mistake is said as a sentence with its probability, what it rests on and its rivals") {
    auto const sheet = tenant_three();
    CHECK(report::headline(sheet) == "L2 current is reversed.");
    CHECK(report::certainty(sheet) == "99.2 % sure");
    CHECK(report::given_words(sheet) == "given: mixed load, no generation, new wiring");
    CHECK(report::rivals(sheet) == "Rivals: one-phase generation on L2 0.5 %, other 0.3 %.");
    // 8.76 - 8.15 + 9.39 = 9.99 kW of 26.30 kW, the worked case of a reversed CT on L2: 38 %.
    CHECK(report::registered(sheet) == "Registers 38 % of the true 26.3 kW.");
    CHECK(report::state_of(sheet) == PointState::wrong);
    CHECK(report::repair_of(sheet).size() == 1);
}

TEST_CASE("a guess is no reason to move a lead") {
    CHECK(report::repair_of(in_state(diagnosis::State::undecided)).empty());
    CHECK(report::repair_of(in_state(diagnosis::State::unproven)).empty());
}

TEST_CASE("every state of a verdict has its word and its sentence") {
    auto sheet = in_state(diagnosis::State::as_planned);
    CHECK(report::state_of(sheet) == PointState::done);
    CHECK(report::headline(sheet) == "Wired as planned.");

    sheet = in_state(diagnosis::State::undecided);
    sheet.verdict->next_test =
        diagnosis::NextTest{.kind = "generation_stopped", .what = "Is generation running now?"};
    CHECK(report::state_of(sheet) == PointState::doubtful);
    CHECK(report::headline(sheet) == "Cannot tell yet: is generation running now?");
    CHECK(report::likeliest(sheet) == "Likeliest, 99.2 %: L2 current is reversed.");

    sheet = in_state(diagnosis::State::unproven);
    sheet.verdict->as_read = {{.v = 230.0, .i = 1.6}};
    CHECK(report::certainty(sheet).empty());
    CHECK(report::headline(sheet) == "Unproven: at most 1.60 A flows through CTs rated 200 A, below 5 %.");

    sheet = in_state(diagnosis::State::contradictory);
    sheet.verdict->disagreements = {{"p[1]", "900 W", "at most 460 W"}};
    CHECK(report::headline(sheet) ==
          "These readings do not agree with each other: p[1] shows 900 W, expected at most 460 W.");
    CHECK(report::certainty(sheet).empty());

    PointSheet silent;
    CHECK(report::headline(silent) == "Not read yet.");
    silent.bus_findings = {
        {diagnosis::Severity::mend, "nothing answered within 1 s at 127.0.0.1:5020 unit 3"}};
    CHECK(report::headline(silent) == "No reading: nothing answered within 1 s at 127.0.0.1:5020 unit 3.");
    CHECK(report::state_of(silent) == PointState::not_yet);
}

TEST_CASE("the foot line counts what is open and leaves energising to the person in charge") {
    auto sheet = tenant_three();
    CHECK(report::foot_line(sheet) ==
          "Metering: not yet proved, one mend open. Closing and energising is the decision of the qualified "
          "person "
          "in charge.");
    sheet.verdict->findings = {{diagnosis::Severity::mend, "the ratio of element 2 is doubtful"},
                               {diagnosis::Severity::stop, "the loop of CT 2 may be open"}};
    CHECK(report::foot_line(sheet).starts_with("Metering: not yet proved, one stop and two mend open."));
    CHECK(report::findings_of(sheet).front().severity == diagnosis::Severity::stop);
}

TEST_CASE("a finding that only repeats the first class is not said or counted twice") {
    auto sheet = tenant_three();
    sheet.verdict->findings = {{diagnosis::Severity::mend, "L2 current is reversed."}};
    CHECK(report::findings_of(sheet).empty());
    CHECK(report::foot_line(sheet).starts_with("Metering: not yet proved, one mend open."));
    sheet.verdict->state = diagnosis::State::undecided;
    CHECK(report::foot_line(sheet).starts_with("Metering: not yet proved, one question open."));
}

TEST_CASE("a wiring as planned with something open is not done") {
    auto sheet = in_state(diagnosis::State::as_planned);
    sheet.verdict->findings = {{diagnosis::Severity::stop, "phase volts are unequal"}};
    CHECK(report::state_of(sheet) == PointState::doubtful);
    CHECK(report::has_stop(sheet));
}

TEST_CASE("no sentence of a report says that something is safe") {
    std::vector<PointSheet> sheets{PointSheet{}};
    for (auto const state :
         {diagnosis::State::as_planned, diagnosis::State::mistake, diagnosis::State::undecided,
          diagnosis::State::unproven, diagnosis::State::contradictory})
        sheets.push_back(in_state(state));
    for (auto const& sheet : sheets)
        for (auto const& text :
             {report::headline(sheet), report::certainty(sheet), report::rivals(sheet),
              report::registered(sheet), report::foot_line(sheet), report::given_words(sheet)})
            CHECK(text.find("safe") == std::string::npos);
    for (auto const& caution : report::standing_cautions()) CHECK(caution.find("safe") == std::string::npos);
}

TEST_CASE("the next to work on is what could hurt, then what is wrong, then what did not answer") {
    report::JobReport job;
    job.sheets = {in_state(diagnosis::State::as_planned), PointSheet{}};
    CHECK(report::next_to_work_on(job) == 1);
    job.sheets.push_back(in_state(diagnosis::State::undecided));
    CHECK(report::next_to_work_on(job) == 2);
    PointSheet silent;
    silent.bus_findings = {{diagnosis::Severity::mend, "no answer"}};
    job.sheets.push_back(silent);
    CHECK(report::next_to_work_on(job) == 3);
    job.sheets.push_back(tenant_three());
    CHECK(report::next_to_work_on(job) == 4);
    job.sheets.push_back(tenant_three());
    job.sheets.back().verdict->findings = {{diagnosis::Severity::stop, "the loop may be open"}};
    CHECK(report::next_to_work_on(job) == 5);
    CHECK(report::counts_line(job) == "6 points: 1 done, 1 doubtful, 2 wrong, 2 not yet.");
    job.sheets = {in_state(diagnosis::State::as_planned)};
    CHECK_FALSE(report::next_to_work_on(job).has_value());
}

TEST_CASE("probabilities never round to certainty, and powers carry three figures") {
    CHECK(report::percent(1.0) == "more than 99.9 %");
    CHECK(report::percent(0.99951) == "more than 99.9 %");
    CHECK(report::percent(0.9994) == "99.9 %");
    CHECK(report::percent(0.0) == "below 0.1 %");
    CHECK(report::power_words(26300.0, "W") == "26.3 kW");
    CHECK(report::power_words(940.0, "W") == "940 W");
    CHECK(report::power_words(999.9, "W") == "1.00 kW");
    CHECK(report::power_words(1.25e6, "var") == "1.25 Mvar");
    CHECK(report::power_words(-8150.0, "W") == "-8.15 kW");
}

TEST_CASE("what is registered is said in words, backwards, nothing and all included") {
    auto sheet = tenant_three();
    auto& first = sheet.verdict->classes[0];
    first.registered_share = -1.0 / 3.0;
    CHECK(report::registered(sheet) == "Registers -33 % of the true 26.3 kW; it counts backwards.");
    first.registered_share = 0.0;
    CHECK(report::registered(sheet) == "Registers nothing of the true 26.3 kW.");
    first.registered_share = 1.0;
    CHECK(report::registered(sheet) == "Registers all of the true 26.3 kW.");
    first.registered_share = 2.0 / 3.0;
    first.true_power.p05_w = 24000.0;
    first.true_power.p95_w = 29000.0;
    CHECK(report::registered(sheet) ==
          "Registers 67 % of the true 26.3 kW (90 % between 24.0 kW and 29.0 kW).");
    first.true_power = {.why = "one current is lost"};
    CHECK(report::registered(sheet) == "The true power cannot be told: one current is lost.");
}

TEST_CASE("elements carry the region's letters") {
    PointSheet sheet;
    sheet.point.service = plan::Service::three_wire_two_element;
    auto const names = report::element_names(sheet, *plan::region_of("north-america"));
    REQUIRE(names.size() == 2);
    CHECK(names[0].voltage == "A-B");
    CHECK(names[1].voltage == "C-B");
    CHECK(names[1].current == "C");
}

TEST_CASE("the digest is SHA-256 as FIPS 180-4 has it") {
    // Examples published by NIST beside FIPS 180-4 (from memory; checked against coreutils sha256sum).
    CHECK(report::sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(report::sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    CHECK(report::sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(report::sha256_hex(std::string(1'000'000, 'a')) ==
          "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("a sheet's digest changes with what it says and not with how its numbers were calculated") {
    report::JobReport job;
    auto sheet = tenant_three();
    sheet.verdict->as_read = {{.v = 231.0, .i = 41.2, .p = 8760.0}};
    auto const digest = report::digest_of(job, sheet);
    sheet.verdict->as_read[0].p = 8760.0 + 1e-9;
    CHECK(report::digest_of(job, sheet) == digest);
    sheet.verdict->as_read[0].p = 8761.0;
    CHECK(report::digest_of(job, sheet) != digest);
}

TEST_CASE("a date is written as a person reads it") {
    CHECK(report::date_words("2026-11-25T09:27:06+00:00") == "2026-11-25 09:27 +00:00");
    CHECK(report::date_words("2026-11-25T09:27:06Z") == "2026-11-25 09:27 UTC");
    CHECK(report::date_words("soon") == "soon");
}
