#include "core/diagnosis/least_moves.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "core/diagnosis/landings.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;
using wiring::Touch;

namespace {
std::vector<Piece> pieces(wiring::Wiring const& wiring, plan::ServiceModel const& model) {
    std::vector<Piece> list;
    for (auto const& move : least_moves(wiring, model)) list.push_back(move.piece);
    return list;
}

// What a hand does, made once more: the moves are judged by doing them.
void perform(Difference const& move, plan::ServiceModel const& model, wiring::Wiring& wiring) {
    auto const planned = wiring::as_planned(model);
    auto const turn = [](auto values, auto const& goal) {  // whichever way brings them home
        std::rotate(values.begin(), values.begin() + 1, values.end());
        if (values == goal) return values;
        std::rotate(values.begin(), values.begin() + 1, values.end());
        return values;
    };
    switch (move.piece) {
        case Piece::taps_exchanged: std::swap(wiring.voltage[move.at], wiring.voltage[move.other]); break;
        case Piece::tap_on_neutral: std::swap(wiring.voltage[move.at], *wiring.neutral); break;
        case Piece::taps_rotated: wiring.voltage = turn(wiring.voltage, planned.voltage); break;
        case Piece::tap_elsewhere:
        case Piece::tap_lost: wiring.voltage[move.at] = planned.voltage[move.at]; break;
        case Piece::neutral_elsewhere:
        case Piece::neutral_lost: wiring.neutral = Touch::n; break;
        case Piece::inputs_exchanged: std::swap(wiring.current[move.at], wiring.current[move.other]); break;
        case Piece::inputs_rotated: {
            auto conductors = [](auto const& feeds) {
                std::vector<plan::Conductor> list;
                for (auto const& feed : feeds) list.push_back(feed.conductor);
                return list;
            };
            std::rotate(wiring.current.begin(), wiring.current.begin() + 1, wiring.current.end());
            if (conductors(wiring.current) != conductors(planned.current))
                std::rotate(wiring.current.begin(), wiring.current.begin() + 1, wiring.current.end());
            break;
        }
        case Piece::ct_elsewhere: wiring.current[move.at].conductor = planned.current[move.at].conductor; break;
        case Piece::input_reversed: wiring.current[move.at].sign = static_cast<std::int8_t>(-wiring.current[move.at].sign); break;
        case Piece::all_reversed:
            for (auto& feed : wiring.current) feed.sign = static_cast<std::int8_t>(-feed.sign);
            break;
        case Piece::input_dead: wiring.current[move.at] = planned.current[move.at]; break;
        case Piece::all_dead: wiring.current = planned.current; break;
        case Piece::loops_joined:
            for (auto const k : {move.at, move.other}) wiring.current[k] = planned.current[k];
            break;
        case Piece::ratio_of_one: wiring.ratio[move.at] = 1.0; break;
        case Piece::ratio_of_all: std::ranges::fill(wiring.ratio, 1.0); break;
        case Piece::raw_coil:
            for (auto& feed : wiring.current) feed.quarter_turn = false;
            break;
        case Piece::vars_turned: wiring.vars_turned = false; break;
        case Piece::vt_reversed: wiring.vt_sign[move.at] = 1; break;
        case Piece::vt_ratio: wiring.vt_ratio = 1.0; break;
        case Piece::two_element_setting: wiring.two_elements = false; break;
        case Piece::supply_neutral_broken: wiring.supply_neutral_broken = false; break;  // done by others
    }
}

wiring::Wiring settled(wiring::Wiring wiring) {
    if (std::ranges::all_of(wiring.vt_sign, [](int sign) { return sign == 1; })) wiring.vt_sign.clear();
    return wiring;
}
}  // namespace

TEST_CASE("the plan needs no move, and one exchange is one exchange") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    auto wiring = wiring::as_planned(model);
    CHECK(pieces(wiring, model).empty());
    std::swap(wiring.voltage[0], wiring.voltage[2]);
    CHECK(pieces(wiring, model) == std::vector{Piece::taps_exchanged});
    wiring.current[1].sign = -1;
    CHECK(pieces(wiring, model) == std::vector{Piece::taps_exchanged, Piece::input_reversed});
}

TEST_CASE("three leads moved on by one are one job, not two exchanges") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    auto wiring = wiring::as_planned(model);
    wiring.voltage = {Touch::b, Touch::c, Touch::a};
    CHECK(pieces(wiring, model) == std::vector{Piece::taps_rotated});
}

TEST_CASE("four leads in a ring need three exchanges at the meter, and none at the conductors") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    auto wiring = wiring::as_planned(model);
    wiring.voltage = {Touch::b, Touch::c, Touch::n};
    wiring.neutral = Touch::a;
    // One exchange with the neutral lead, then the other three move on together: five lead ends, not six.
    CHECK(pieces(wiring, model) == std::vector{Piece::tap_on_neutral, Piece::taps_rotated});
}

TEST_CASE("exchanged CTs of which one is reversed: an exchange and a turned pair, no CT is moved") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    auto wiring = wiring::as_planned(model);
    wiring.current = {{plan::Conductor::b, -1}, {plan::Conductor::a, +1}, {plan::Conductor::c, +1}};
    auto const moves = least_moves(wiring, model);
    REQUIRE(moves.size() == 2);
    CHECK(std::ranges::count(moves, Piece::inputs_exchanged, &Difference::piece) == 1);
    CHECK(std::ranges::count(moves, Piece::input_reversed, &Difference::piece) == 1);
}

TEST_CASE("every wiring that three mistakes can make is mended by its moves, on every service") {
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        PointFacts const facts{.voltage_transformers = true, .raw_coil_odds = 0.1, .two_elements_odds = 0.1};
        auto const landings = landings_of(model, {}, facts);
        auto const planned = wiring::as_planned(model);
        CAPTURE(plan::code_of(service));
        std::size_t not_mended = 0;
        std::size_t too_many = 0;
        for (std::size_t h = 0; h < landings.size(); h += 37) {  // one in 37: all of them take a minute
            auto wiring = wiring_of(landings, h);
            auto const moves = least_moves(wiring, model);
            for (auto const& move : moves) perform(move, model, wiring);
            not_mended += settled(wiring) == planned ? 0 : 1;
            too_many += moves.size() > 6 ? 1 : 0;
        }
        CHECK(not_mended == 0);
        CHECK(too_many == 0);
    }
}
