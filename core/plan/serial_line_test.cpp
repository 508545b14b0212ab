#include "core/plan/serial_line.hpp"

#include <doctest/doctest.h>

using namespace phasewright::plan;

TEST_CASE("characters and silences last as the serial line specification says") {
    // MODBUS over Serial Line V1.02, clause 2.5.1.1: 11-bit characters, 3.5 characters between frames, fixed values
    // above 19 200 bit/s. Milliseconds, worked out from the clause to four decimals.
    struct Row {
        int bit_rate;
        double character, inside, between;
    };
    for (auto const& row : {Row{1200, 9.1667, 13.7500, 32.0833}, Row{2400, 4.5833, 6.8750, 16.0417},
                            Row{4800, 2.2917, 3.4375, 8.0208}, Row{9600, 1.1458, 1.7188, 4.0104},
                            Row{19200, 0.5729, 0.8594, 2.0052}, Row{38400, 0.2865, 0.75, 1.75},
                            Row{57600, 0.1910, 0.75, 1.75}, Row{115200, 0.0955, 0.75, 1.75}}) {
        CAPTURE(row.bit_rate);
        for (auto const& format : {SerialFormat{row.bit_rate, Parity::even, 1}, SerialFormat{row.bit_rate, Parity::odd, 1},
                                   SerialFormat{row.bit_rate, Parity::none, 2}}) {
            CHECK(bits_of_character(format) == 11);
            CHECK(1e3 * character_s(format) == doctest::Approx(row.character).epsilon(1e-4));
            CHECK(1e3 * longest_gap_inside_s(format) == doctest::Approx(row.inside).epsilon(1e-4));
            CHECK(1e3 * silence_between_s(format) == doctest::Approx(row.between).epsilon(1e-4));
        }
    }
    CHECK(bits_of_character({9600, Parity::none, 1}) == 10);
}

TEST_CASE("a format is written as the trade writes it") {
    CHECK(words_of({19200, Parity::even, 1}) == "19200 8E1");
    CHECK(words_of({9600, Parity::none, 2}) == "9600 8N2");
    CHECK(parity_of("odd") == Parity::odd);
    CHECK_FALSE(parity_of("mark"));
}
