#include <doctest/doctest.h>

#include <limits>

#include "bus/linefault/line_in_tests.hpp"
#include "bus/linefault/posterior.hpp"
#include "bus/linefault/verdict.hpp"

namespace phasewright::linefault {

namespace {
// One letter a try: . good, - nothing, c checksum, g garbage, l late, 2 two answers, f foreign, i inverted, s other speed.
// One word a device, in their order along the line; the first has unit 1.
Evidence line_of(std::vector<std::string> const& devices) {
    Evidence evidence;
    for (std::size_t at = 0; at < devices.size(); ++at) {
        evidence.devices.push_back({.unit = static_cast<std::uint8_t>(at + 1), .name = {}, .position = static_cast<int>(at) + 1});
        for (char const letter : devices[at])
            evidence.tries.push_back({.device = at, .came = static_cast<Came>(std::string(".-cgl2fis").find(letter))});
    }
    return evidence;
}

double probability(Verdict const& verdict, LineFault kind, int place = -1) {
    double sum = 0.0;
    for (auto const& one : verdict.suspicions)
        if (one.fault.kind == kind && (place < 0 || one.fault.after == place || one.fault.device == place)) sum += one.probability;
    return sum;
}

NextCheck const* check_of(Verdict const& verdict, std::string_view kind) {
    for (auto const& check : verdict.next)
        if (check.kind == kind) return &check;
    return nullptr;
}

std::vector<std::string> repeated(std::string const& tries, std::size_t times) { return std::vector(times, tries); }
std::vector<std::string> behind_eight() {
    auto devices = repeated(".....", 8);
    for (int i = 0; i < 4; ++i) devices.emplace_back("-----");
    return devices;
}
}  // namespace

TEST_CASE("everything behind the eighth device is silent: crossed or broken there, and the next check tells which") {
    auto evidence = line_of(behind_eight());
    auto const verdict = judge(evidence);
    double const crossed = probability(verdict, LineFault::crossed, 8);
    double const broken = probability(verdict, LineFault::broken, 8);
    CHECK(crossed + broken > 0.85);
    CHECK(crossed < 0.9);
    CHECK(broken < 0.9);
    CHECK(verdict.suspicions.front().words.find("between the 8th device (unit 8) and the 9th (unit 9)") != std::string::npos);
    CHECK(verdict.state == State::likely);
    CHECK(verdict.sentence.find("The trunk fails between the 8th") == 0);
    REQUIRE_FALSE(verdict.next.empty());

    // Negative at the ninth: exchanged. Derived: 5 V x 60 / (60 + 2 x 560) = 0.254 V (MODBUS over Serial Line V1.02,
    // 3.4.6, with two terminators of 120 ohm), turned over.
    evidence.by_hand.idle = {{-0.25, 9}};
    CHECK(probability(judge(evidence), LineFault::crossed, 8) > 0.9);
    CHECK(judge(evidence).state == State::found);
    // Nothing at the ninth: open.
    evidence.by_hand.idle = {{0.01, 9}};
    CHECK(probability(judge(evidence), LineFault::broken, 8) > 0.6);
    CHECK(probability(judge(evidence), LineFault::crossed, 8) < 0.1);
}

TEST_CASE("two meters at address 7, and the one planned at 8 silent") {
    auto devices = repeated(".....", 12);
    devices[6] = "c2g2c";
    devices[7] = "-----";
    auto const verdict = judge(line_of(devices));
    CHECK(verdict.state == State::found);
    CHECK(verdict.suspicions.front().fault == NamedFault{.kind = LineFault::duplicate_address, .device = 6});
    CHECK(probability(verdict, LineFault::wrong_address, 7) > 0.6);
    CHECK(verdict.suspicions.front().words.find("the one planned at unit 8") != std::string::npos);
}

TEST_CASE("scattered checksum errors: electrical, and bytes do not say which; forty ohm do") {
    auto evidence = line_of({"..c...", "......", ".c....", "....g.", "......", ".c..-.", "...c..", "......"});
    auto const bytes = judge(evidence);
    CHECK(bytes.electrical > 0.8);
    CHECK(bytes.state == State::cannot_tell);
    CHECK(bytes.sentence.find("bytes cannot tell what") != std::string::npos);
    for (auto const& one : bytes.suspicions)
        if (is_electrical(one.fault.kind)) CHECK(one.probability <= 0.5);

    // Three plain terminators of 120 ohm in parallel: 40 ohm (derived).
    evidence.by_hand.ohms = 40.0;
    auto const measured = judge(evidence);
    CHECK(measured.state == State::found);
    CHECK(measured.suspicions.front().fault.kind == LineFault::surplus_terminators);
}

TEST_CASE("ohms: sixty is well, one hundred and twenty is one missing, and an open pair proves nothing") {
    auto evidence = line_of(repeated(".....", 6));
    evidence.by_hand.ohms = 60.0;
    CHECK(probability(judge(evidence), LineFault::missing_terminator) < 0.02);
    CHECK(probability(judge(evidence), LineFault::surplus_terminators) < 0.02);
    evidence.by_hand.ohms = 75.0;  // two of 150 ohm (MODBUS over Serial Line V1.02, 3.4.5)
    CHECK(probability(judge(evidence), LineFault::missing_terminator) < 0.1);
    evidence.by_hand.ohms = 120.0;
    CHECK(probability(judge(evidence), LineFault::missing_terminator) > 0.7);
    evidence.by_hand.ohms = 40.0;
    CHECK(probability(judge(evidence), LineFault::surplus_terminators) > 0.9);
    evidence.by_hand.ohms = std::numeric_limits<double>::infinity();
    CHECK(probability(judge(evidence), LineFault::missing_terminator) < 0.5);
}

TEST_CASE("idle volts: none means no polarization, twice as much two of them") {
    // MODBUS over Serial Line V1.02, 3.4.6: one polarization of 450 to 650 ohm; with 120 ohm at both ends 0.22 to 0.31 V.
    auto evidence = line_of(repeated(".....", 6));
    evidence.by_hand.idle = {{0.01, 0}};
    CHECK(probability(judge(evidence), LineFault::no_bias) > 0.5);
    evidence.by_hand.idle = {{0.25, 0}};
    CHECK(probability(judge(evidence), LineFault::no_bias) < 0.02);
    evidence.by_hand.idle = {{0.49, 0}};
    evidence.by_hand.ohms = 60.0;
    CHECK(probability(judge(evidence), LineFault::two_biases) > 0.5);
    evidence.by_hand = {.idle = {{0.17, 0}}, .ohms = 40.0};
    CHECK(probability(judge(evidence), LineFault::surplus_terminators) > 0.95);
}

TEST_CASE("volts between the commons show that the common is missing") {
    auto evidence = line_of(repeated(".....", 6));
    evidence.by_hand.common_v = 14.0;  // beyond the -7 to +12 V that receivers bear (TIA/EIA-485-A)
    CHECK(probability(judge(evidence), LineFault::missing_common) > 0.5);
    evidence.by_hand.common_v = 0.2;
    CHECK(probability(judge(evidence), LineFault::missing_common) < 0.1);
}

TEST_CASE("silence everywhere has many causes and one cheap question") {
    auto evidence = line_of(repeated("-----", 8));
    auto const verdict = judge(evidence);
    CHECK(verdict.state == State::cannot_tell);
    CHECK(verdict.suspicions.front().probability < 0.6);
    REQUIRE(check_of(verdict, "ask_other_formats") != nullptr);
    CHECK(verdict.next.front().kind == "ask_other_formats");

    for (std::size_t at = 0; at < 8; ++at)
        evidence.tries.push_back({.device = at, .came = Came::good, .echoed = false, .other_format = true});
    auto const after = judge(evidence);
    CHECK(after.state == State::found);
    CHECK(after.suspicions.front().fault.kind == LineFault::wrong_format);
}

TEST_CASE("one silent device: dead, wrong address, wrong speed and crossed drop stay apart until somebody looks") {
    auto devices = repeated(".....", 6);
    devices[2] = "-----";
    auto evidence = line_of(devices);
    auto const verdict = judge(evidence);
    CHECK(verdict.state == State::cannot_tell);
    CHECK(probability(verdict, LineFault::device_dead, 2) > 0.1);
    CHECK(probability(verdict, LineFault::wrong_address, 2) > 0.1);
    CHECK(probability(verdict, LineFault::device_wrong_format, 2) > 0.05);
    REQUIRE_FALSE(verdict.next.empty());

    evidence.strangers = std::vector<std::uint8_t>{77};  // the search found one that is not planned
    CHECK(probability(judge(evidence), LineFault::wrong_address, 2) > 0.8);
    evidence.strangers = std::vector<std::uint8_t>{};
    CHECK(probability(judge(evidence), LineFault::wrong_address, 2) < 0.1);
}

TEST_CASE("late answers are a slow device, a question that comes back is the adapter") {
    auto devices = repeated(".....", 5);
    devices[3] = "ll.l-";
    CHECK(probability(judge(line_of(devices)), LineFault::device_slow, 3) > 0.9);

    auto echoing = line_of(repeated(".....", 5));
    for (auto& one : echoing.tries) one.echoed = true;
    CHECK(probability(judge(echoing), LineFault::adapter_echo) > 0.95);
}

TEST_CASE("a clean line is called clean, with what bytes cannot see left open") {
    auto const verdict = judge(line_of(repeated(".....", 8)));
    CHECK(verdict.state == State::nothing_seen);
    CHECK(verdict.healthy > 0.6);
    CHECK(verdict.healthy < 0.95);
    CHECK(verdict.sentence.find("volts and ohms prove them") != std::string::npos);
}

TEST_CASE("a crossed trunk and a duplicate before it are both found") {
    auto devices = repeated(".....", 8);
    devices[1] = "g2c2g";
    for (std::size_t at = 4; at < 8; ++at) devices[at] = "-----";
    auto evidence = line_of(devices);
    evidence.by_hand.idle = {{-0.25, 5}};
    auto const verdict = judge(evidence);
    CHECK(probability(verdict, LineFault::crossed, 4) > 0.9);
    CHECK(probability(verdict, LineFault::duplicate_address, 1) > 0.8);
}

TEST_CASE("where the order is not known no joint is named") {
    auto evidence = line_of(behind_eight());
    for (auto& device : evidence.devices) device.position = 0;
    auto const verdict = judge(evidence);
    for (auto const& one : verdict.suspicions)
        if (is_of_trunk(one.fault.kind)) CHECK(one.words.find("between the") == std::string::npos);
    CHECK(verdict.suspicions.front().probability < 0.9);
}

TEST_CASE("every check that sends a hand to the terminals carries its cautions, and outcomes sum to one") {
    std::vector<Evidence> lines{line_of(behind_eight()), line_of(repeated("-----", 4)), line_of(repeated("..c..", 4)),
                                line_of({".....", "2cg2c", "-----"}), line_of(repeated(".....", 4))};
    int with_hands = 0;
    for (auto const& evidence : lines) {
        for (auto const& check : judge(evidence).next) {
            bool const hands = check.kind != "ask_again" && check.kind != "ask_other_formats" &&
                               check.kind != "search_addresses" && check.kind != "listen";
            with_hands += hands ? 1 : 0;
            CHECK((!hands || !check.cautions.empty()));
            double sum = 0.0;
            for (auto const& outcome : check.outcomes) sum += outcome.probability;
            CHECK(sum == doctest::Approx(1.0));
            CHECK(check.bits > 0.0);
        }
    }
    CHECK(with_hands > 0);
}

TEST_CASE("the drawn worlds agree with the sums, so the checks are weighed by the same belief") {
    auto evidence = line_of({".....", "2cg2c", "-----", ".....", "..c.."});
    Posterior const posterior(evidence, true, {});
    std::map<NamedFault, double> drawn;
    constexpr double count = 20000;
    for (auto const& world : posterior.draw(static_cast<std::size_t>(count), 3))
        for (auto const& fault : faults_of(world)) drawn[fault] += 1.0 / count;
    for (auto const& [fault, p] : posterior.marginals()) {
        CAPTURE(std::string(name_of(fault.kind)));
        CAPTURE(fault.device);
        CHECK(drawn[fault] == doctest::Approx(p).epsilon(0.03).scale(1.0));
    }
}

TEST_CASE("a line without devices is said to be one") {
    auto const verdict = judge({});
    CHECK(verdict.state == State::cannot_tell);
    CHECK(verdict.suspicions.empty());
}

}  // namespace phasewright::linefault
