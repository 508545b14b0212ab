#include "core/diagnosis/classes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

using namespace phasewright;
using namespace phasewright::diagnosis;
using wiring::Touch;

namespace {
// All landings in which every tap touches its own conductor of a permutation and every input is fed by one of the
// allowed conductors, each once, in either sense.
Landings every_permutation(plan::Service service, std::vector<std::array<int, 3>> const& feeds) {
    Landings all;
    all.model = plan::model_of(service);
    all.ratios = {{1.0, 1.0, 1.0}};
    std::array<int, 3> order{0, 1, 2};
    std::size_t const inputs = all.model.current_inputs.size();
    std::vector<TapLanding> taps;
    do {
        TapLanding tap;
        for (std::size_t t = 0; t < 3; ++t) tap.terminal[t] = static_cast<Touch>(order[t]);
        tap.neutral = all.model.has_neutral ? Touch::n : Touch::lost;
        taps.push_back(tap);
    } while (std::ranges::next_permutation(order).found);
    all.taps = taps;
    for (auto const& feed : feeds)
        for (unsigned signs = 0; signs < (1U << inputs); ++signs) {
            CurrentLanding current;
            current.path.fill(-1);
            current.sign.fill(1);
            for (std::size_t k = 0; k < inputs; ++k) {
                current.path[k] = static_cast<std::int16_t>(feed[k]);
                current.sign[k] = ((signs >> k) & 1U) != 0 ? std::int8_t{-1} : std::int8_t{1};
            }
            all.currents.push_back(current);
        }
    for (std::uint32_t tap = 0; tap < all.taps.size(); ++tap)
        for (std::uint32_t current = 0; current < all.currents.size(); ++current) {
            all.tap_of.push_back(tap);
            all.current_of.push_back(current);
            all.ratio_of.push_back(0);
            all.log_prior.push_back(0.0);
        }
    return all;
}

std::size_t patterns(Landings const& landings, FieldsInHand const& fields) {
    auto const nominal = plan::nominal_from_ln(landings.model.service, 230.0, 50.0);
    Fingerprints const fingerprints(landings, nominal, fields);
    std::set<std::uint64_t> distinct;
    for (std::size_t h = 0; h < landings.size(); ++h) distinct.insert(fingerprints.of(h));
    return distinct.size();
}

std::vector<std::array<int, 3>> three_of_three() {
    std::vector<std::array<int, 3>> feeds;
    std::array<int, 3> order{0, 1, 2};
    do feeds.push_back(order);
    while (std::ranges::next_permutation(order).found);
    return feeds;
}
std::vector<std::array<int, 3>> two_of(std::vector<int> const& conductors) {
    std::vector<std::array<int, 3>> feeds;
    for (int const first : conductors)
        for (int const second : conductors)
            if (first != second) feeds.push_back({first, second, -1});
    return feeds;
}

// Orbits under turning every current by a multiple of 60 degrees, which another load angle would do as well
// (docs/physics/classes.md): of the angles between elements only, not against their own voltages.
std::size_t orbits(Landings const& landings) {
    auto const u = plan::source_phasors(landings.model, plan::nominal_from_ln(landings.model.service, 230.0, 50.0),
                                        plan::Sequence::abc);
    std::set<std::array<int, 7>> distinct;
    std::size_t const elements = landings.model.elements.size();
    for (std::size_t h = 0; h < landings.size(); ++h) {
        // A balanced load at phi = 0, so that every element's lag is a multiple of 30 degrees.
        auto const seen = wiring::seen_by(wiring_of(landings, h), landings.model);
        auto const rows = wiring::elements_of(seen, u, {u[0], u[1], u[2]});
        std::array<int, 7> pattern{};
        auto const step = [](std::complex<double> turned) {
            return (static_cast<int>(std::lround(std::arg(turned) * 180.0 / 3.14159265358979 / 30.0)) + 24) % 12;
        };
        pattern[0] = step(rows[1].v / rows[0].v);
        for (std::size_t k = 1; k < elements; ++k) {
            pattern[2 * k] = step(rows[k].s / rows[0].s);
            pattern[2 * k - 1] = step(rows[k].v / rows[0].v);
        }
        distinct.insert(pattern);
    }
    return distinct.size();
}
}  // namespace

// Source of the counts: derived in docs/physics/classes.md from the group of renamings.
TEST_CASE("of the 288 wirings of a four-wire wye 96 patterns can be told apart") {
    auto const all = every_permutation(plan::Service::four_wire_wye, three_of_three());
    CHECK(all.size() == 288);
    CHECK(patterns(all, {.volt_angles = true, .rotation = plan::Sequence::abc}) == 96);
}

TEST_CASE("up to turns of all currents by 60 degrees the 96 patterns are 16") {
    auto const all = every_permutation(plan::Service::four_wire_wye, three_of_three());
    CHECK(orbits(all) == 16);
}

TEST_CASE("of the 48 wirings of a two-element meter all 48 can be told apart but for renaming") {
    auto const all = every_permutation(plan::Service::three_wire_two_element, two_of({0, 2}));
    CHECK(all.size() == 48);
    CHECK(patterns(all, {.volt_angles = true, .rotation = plan::Sequence::abc}) == 48);
}

TEST_CASE("up to turns of both currents by 60 degrees the patterns of a two-element meter are 8") {
    CHECK(orbits(every_permutation(plan::Service::three_wire_two_element, two_of({0, 2}))) == 8);
    CHECK(orbits(every_permutation(plan::Service::three_wire_two_element, two_of({0, 1, 2}))) == 8);
}

TEST_CASE("with a CT allowed on the middle phase the 144 wirings of a two-element meter fall into 48 patterns") {
    auto const all = every_permutation(plan::Service::three_wire_two_element, two_of({0, 1, 2}));
    CHECK(all.size() == 144);
    CHECK(patterns(all, {.volt_angles = true, .rotation = plan::Sequence::abc}) == 48);
}

TEST_CASE("without the rotation at the source, exchanged taps and exchanged CTs are one class") {
    auto const all = every_permutation(plan::Service::four_wire_wye, three_of_three());
    CHECK(patterns(all, {.volt_angles = true}) == 48);
}

TEST_CASE("on split phase CTs exchanged, both reversed and hot taps exchanged cannot be told apart") {
    auto const model = plan::model_of(plan::Service::split_phase_three_wire);
    auto const landings = landings_of(model, {});
    Fingerprints const fingerprints(landings, plan::nominal_from_ln(model.service, 120.0, 60.0), {.volt_angles = true});
    auto const find = [&](std::vector<Touch> const& voltage, std::array<int, 2> conductor, int sign) {
        for (std::size_t h = 0; h < landings.size(); ++h) {
            auto const w = wiring_of(landings, h);
            bool same = w.voltage == voltage && w.neutral == Touch::n && w.ratio == std::vector{1.0, 1.0};
            for (std::size_t k = 0; k < 2; ++k)
                same = same && !w.current[k].dead && w.current[k].sign == sign &&
                       w.current[k].conductor == static_cast<plan::Conductor>(conductor[k]);
            if (same) return fingerprints.of(h);
        }
        return std::uint64_t{0};
    };
    auto const exchanged = find({Touch::a, Touch::b}, {1, 0}, 1);
    auto const reversed = find({Touch::a, Touch::b}, {0, 1}, -1);
    auto const taps = find({Touch::b, Touch::a}, {0, 1}, 1);
    CHECK(exchanged != 0);
    CHECK(exchanged == taps);
    CHECK(exchanged != fingerprints.of(landings.planned));
    CHECK(exchanged == reversed);
}
