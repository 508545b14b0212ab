#include "core/diagnosis/neutral_current.hpp"

#include <doctest/doctest.h>

#include <complex>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/site_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;

namespace {
// |sum of the true line currents| and |sum of what the inputs see| of the office.
std::pair<double, double> neutral_of(TestSite const& site) {
    auto const model = plan::model_of(site.service);
    auto const u = plan::source_phasors(model, plan::nominal_from_ln(site.service, site.v_ln, 50.0), plan::Sequence::abc);
    std::complex<double> lines = 0.0;
    wiring::Currents j{};
    for (std::size_t c = 0; c < 3; ++c) {
        j[c] = std::polar(site.amps[c], std::arg(u[c]) - site.phi_deg * std::numbers::pi / 180.0);
        lines += j[c];
    }
    std::complex<double> inputs = 0.0;
    for (auto const& element : wiring::elements_of(wiring::seen_by(site.wired, model), u, j)) inputs += element.i;
    return {std::abs(lines), std::abs(inputs)};
}
}  // namespace

TEST_CASE("a fourth CT betrays one doubled ratio, which no single reading of three does") {
    auto site = office();
    site.wired.ratio[0] = 2.0;
    auto set = read(site);
    set.load_kind.whole = plan::LoadKind::mixed;
    set.flow = plan::Flow::import_only;
    double const without = probability_of(diagnose(set), "L1 shows 2");
    set.snapshots[0].i_n = neutral_of(site).first;
    auto const with = diagnose(set);
    CHECK(without < 0.2);
    CHECK(probability_of(with, "L1 shows 2") > 0.6);
    CHECK(probability_of(with, "L1 shows 2") > 4.0 * without);
}

TEST_CASE("a neutral current that the meter only sums up tells nothing against the plan") {
    auto const site = office();
    auto set = read(site);
    auto const before = diagnose(set);
    set.snapshots[0].i_n = neutral_of(site).second;
    auto const after = diagnose(set);
    REQUIRE(after.classes.front().as_planned);
    CHECK(after.classes.front().probability > before.classes.front().probability - 0.02);
}

TEST_CASE("a reversed CT whose meter sums its own inputs is still a reversed CT") {
    auto site = office();
    site.wired.current[1].sign = -1;
    auto set = read(site);
    set.flow = plan::Flow::import_only;
    set.snapshots[0].i_n = neutral_of(site).second;
    auto const verdict = diagnose(set);
    CHECK(verdict.classes.front().in_words == "L2 current is reversed");
    CHECK(verdict.classes.front().probability > 0.9);
}
