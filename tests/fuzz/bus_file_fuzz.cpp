// How the buses really are, against the plan of the demo building (docs/reference/twin.md, "The bus file").
// Whatever a pair is told to be, its figures are figures.
#include <cmath>
#include <fstream>
#include <iterator>
#include <string>

#include "app/commands/plan_file.hpp"
#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/twin/bus_truth.hpp"
#include "bus/twin/serial_bus.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

namespace {
plan::Site const& demo() {
    static auto const site = [] {
        std::ifstream file(PHASEWRIGHT_SOURCE_DIR "/demo/tallowmere-yard.plan.toml", std::ios::binary);
        std::string const plan{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
        return commands::read_plan(plan, "demo").value();
    }();
    return site;
}

void figures_of(twin::Pair const& pair) {
    fuzz::must(twin::dc_ohm(pair) > 0.0);
    fuzz::must(std::abs(twin::idle_v(pair)) <= 5.0);
    for (int position = 1; position <= pair.positions; ++position) {
        double const level_v = twin::signal_v(pair, 0, position);
        fuzz::must(level_v >= 0.0 && level_v <= 3.0);
        double const doubt = twin::bit_error(pair, {}, position);
        fuzz::must(doubt >= 0.0 && doubt <= 1.0);
    }
}

// A device at the end answers one register, or does not; in the order of time either way.
void one_question_on(twin::Pair const& pair, twin::BusManners const& manners) {
    twin::BusDevice const last{.name = "last",
                               .position = pair.positions,
                               .unit = 5,
                               .manners = manners,
                               .answer = [](auto const&, double) {
                                   return codec::registers_pdu(codec::ReadRegisters{.count = 1},
                                                               std::vector<std::uint16_t>{7});
                               }};
    twin::SerialBus bus(pair, {last}, 1);
    codec::RtuFrame const asked{5, codec::question_pdu(codec::ReadRegisters{.count = 1}).value()};
    for (int again = 0; again < 3; ++again) {
        double before_s = 0.0;
        for (auto const& byte : bus.respond(codec::to_bytes(asked), manners.format, 1.0)) {
            fuzz::must(byte.at_s >= before_s);
            before_s = byte.at_s;
        }
    }
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    auto const bus = twin::read_bus(fuzz::text_of(data, size), "fuzz", demo());
    if (!bus) {
        fuzz::must(!bus.error().what.empty());
        return 0;
    }
    twin::BusManners manners;
    if (!bus->meters.empty()) manners = bus->meters.begin()->second.manners;
    for (auto const& [id, pair] : bus->lines) {
        figures_of(pair);
        one_question_on(pair, manners);
    }
    return 0;
}
