// For tests: what every peer must agree on, whichever way it is reached. A server is asked by this program's client; a
// client prints what it got from this program's server. Registers are those of the standard's examples (MODBUS
// Application Protocol V1.1b3, clauses 6.3, 6.4 and 6.12), for the units 1 and 2, and register 0 holds the unit.
#pragma once
#include <doctest/doctest.h>

#include "bus/port/line.hpp"
#include "bus/port/responder_in_tests.hpp"

namespace phasewright::journeys {

inline constexpr auto holding = codec::Function::read_holding_registers;
inline constexpr auto input = codec::Function::read_input_registers;

inline void ask_for_the_examples(port::Line& line, std::uint8_t unit) {
    auto const read = [&](codec::Function function, std::uint16_t address, std::uint16_t count) {
        auto const values = port::read_registers(line, unit, function, address, count);
        if (!values) FAIL(codec::to_finding(values.error()));
        return *values;
    };
    CHECK(read(holding, 0, 1) == codec::Registers{unit});
    CHECK(read(holding, 107, 3) == codec::Registers{555, 0, 100});
    CHECK(read(input, 8, 1) == codec::Registers{10});
    CHECK(port::write_registers(line, unit, 1, {0x000A, 0x0102}).has_value());
    CHECK(read(holding, 1, 2) == codec::Registers{0x000A, 0x0102});
    CHECK(port::write_register(line, unit, 2, 3).has_value());
    CHECK(read(holding, 1, 2) == codec::Registers{0x000A, 3});
    auto const missing = port::read_registers(line, unit, holding, 107, 4);
    REQUIRE_FALSE(missing.has_value());
    CHECK(missing.error().kind == codec::FaultKind::refused);
    CHECK(missing.error().exception == 2);
}

inline void check_identity(port::Line& line, std::uint8_t unit) {
    auto const found = port::read_identification(line, unit);
    if (!found) FAIL(codec::to_finding(found.error()));
    REQUIRE(found->objects.size() == 3);
    CHECK(found->objects[0].text == "Oakenmere");
    CHECK(found->objects[1].text == "OK-3");
    CHECK(found->objects[2].text == "V1.0");
}

inline port::Responder::Units example_units() {
    port::Responder::Units units;
    for (std::uint8_t const unit : {std::uint8_t{1}, std::uint8_t{2}})
        units[unit] = {{0, unit}, {1, 0}, {2, 0}, {107, 555}, {108, 0}, {109, 100}};
    return units;
}
// What a client is to ask, and what it must print, a line each.
inline std::vector<std::string> const example_asks{"1:107:3", "2:0:1",   "1:1=10,258", "1:1:2",
                                                   "1:2=3",   "1:1:2",   "1:107:4",    "1:identity"};
inline std::vector<std::string> const example_answers{
    "registers 555 0 100", "registers 2",    "written",     "registers 10 258",
    "written",             "registers 10 3", "exception 2", "identity Oakenmere|OK-3|V1.0"};

}  // namespace phasewright::journeys
