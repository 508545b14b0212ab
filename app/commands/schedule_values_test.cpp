// What people write in schedules (docs/reference/schedule.md, which is the source; spellings are common practice).
#include "app/commands/schedule_values.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using namespace phasewright::commands;

namespace {
void is(Told<double> const& told, double value) {
    if (!told) FAIL(told.error());
    CHECK(*told == doctest::Approx(value).epsilon(1e-12));
}
void ratio_is(std::string const& text, double primary, double secondary, plan::CtOutput output) {
    CAPTURE(text);
    auto const told = ratio_in(text, DecimalSign::unknown);
    if (!told) FAIL(told.error());
    CHECK(told->ratio.primary == doctest::Approx(primary));
    CHECK(told->ratio.secondary == doctest::Approx(secondary));
    CHECK(told->output == output);
}
}  // namespace

TEST_CASE("numbers are read with either decimal sign, with thousands, and refused where they can be read in two ways") {
    is(number_in("1,5", DecimalSign::unknown), 1.5);
    is(number_in("1.5", DecimalSign::comma), 1.5);
    is(number_in("1.234,5", DecimalSign::unknown), 1234.5);
    is(number_in("1,234.5", DecimalSign::unknown), 1234.5);
    is(number_in("1 250", DecimalSign::unknown), 1250.0);
    is(number_in("1'250", DecimalSign::unknown), 1250.0);
    is(number_in("1,234,567", DecimalSign::unknown), 1234567.0);
    is(number_in("0.333", DecimalSign::unknown), 0.333);
    is(number_in("0,333", DecimalSign::unknown), 0.333);
    is(number_in("1,250", DecimalSign::comma), 1.25);
    is(number_in("1,250", DecimalSign::point), 1250.0);
    is(number_in("1.250", DecimalSign::comma), 1250.0);
    CHECK(number_in("1,250", DecimalSign::unknown).error().starts_with("this can be read in two ways"));
    for (auto const* bad : {"", "abc", "1,2,3", "12,34,567", "1.2.3,4,5", "--1", "1e400", "nan", "0x10", ",5,"}) {
        CAPTURE(bad);
        CHECK_FALSE(number_in(bad, DecimalSign::unknown).has_value());
    }
    CHECK(sign_shown_by("1,5") == DecimalSign::comma);
    CHECK(sign_shown_by("63 A at 0.5") == DecimalSign::point);
    CHECK(sign_shown_by("1.250") == DecimalSign::unknown);
    CHECK(sign_shown_by("192.0.2.10") == DecimalSign::unknown);
}

TEST_CASE("units stand in the header or in the cell, and one that does not fit is refused") {
    auto const length = known_header("Lead length, ft");
    REQUIRE(length.has_value());
    CHECK(length->column == Column::lead_length);
    is(quantity_in("20", DecimalSign::unknown, head_of(length->column), length->unit), 6.096);  // 1 ft = 0.3048 m, by definition
    is(quantity_in("5 m", DecimalSign::unknown, head_of(length->column), length->unit), 5.0);
    CHECK_FALSE(quantity_in("5 A", DecimalSign::unknown, head_of(length->column), length->unit).has_value());
    is(quantity_in("1.6kA", DecimalSign::unknown, head_of(Column::breaker), {}), 1600.0);
    is(quantity_in("2 %", DecimalSign::unknown, head_of(Column::accuracy), {}), 2.0);
}

TEST_CASE("headers are known in several spellings and languages, and what is unknown stays unknown") {
    auto const column = [](std::string_view text) {
        auto const known = known_header(text);
        REQUIRE_MESSAGE(known.has_value(), std::string{text});
        return known->column;
    };
    CHECK(column("Breaker [A]") == Column::breaker);
    CHECK(column("BREAKER RATING (A)") == Column::breaker);
    CHECK(column("Absicherung (A)") == Column::breaker);
    CHECK(column("Z\xC3\xA4hler") == Column::meter);
    CHECK(column("Wandlerverh\xC3\xA4ltnis") == Column::ct_ratio);
    CHECK(column("CT Ratio") == Column::ct_ratio);
    CHECK(column("Rapport TC") == Column::ct_ratio);
    CHECK(column("cos \xCF\x86") == Column::power_factor);
    CHECK(column("Modbus address") == Column::unit);
    CHECK(column("Wire size AWG") == Column::cable);
    CHECK(known_header("Wire size AWG")->unit.size == plan::SizeUnit::awg);
    for (auto const& head : all_columns()) CHECK(column(header_text(head)) == head.column);
    CHECK_FALSE(known_header("Cost centre").has_value());
    CHECK_FALSE(known_header("Breaker (kg)").has_value());
    CHECK_FALSE(known_header("").has_value());
}

TEST_CASE("ratios of every notation say what the secondary gives") {
    using enum plan::CtOutput;
    ratio_is("200/5", 200.0, 5.0, five_amperes);
    ratio_is("200:5", 200.0, 5.0, five_amperes);
    ratio_is("200/5 A", 200.0, 5.0, five_amperes);
    ratio_is("600 / 1A", 600.0, 1.0, one_ampere);
    ratio_is("200A:333mV", 200.0, 0.333, millivolts);
    ratio_is("200 A / 0,333 V", 200.0, 0.333, millivolts);
    ratio_is("100A:50mA", 100.0, 0.05, milliamperes);
    ratio_is("1 kA:5", 1000.0, 5.0, five_amperes);
    ratio_is("400:2", 400.0, 2.0, unknown);
    for (auto const* bad : {"200", "5/200", "200/0", "200/5/1", "200V/5", "200/5 W", "a/b", "/", ""}) {
        CAPTURE(bad);
        CHECK_FALSE(ratio_in(bad, DecimalSign::unknown).has_value());
    }
}

TEST_CASE("cable sizes may be counted; three and more could be the cores of one") {
    auto const two = size_in("2x120 mm2", DecimalSign::unknown, {}, false);
    REQUIRE(two.has_value());
    CHECK(two->count == 2);
    CHECK(plan::text_of(two->size) == "120 mm2");
    CHECK(size_in("2 \xC3\x97 120 mm\xC2\xB2", DecimalSign::unknown, {}, false)->count == 2);
    CHECK(plan::text_of(size_in("#12 AWG", DecimalSign::unknown, {}, false)->size) == "12 AWG");
    CHECK(plan::text_of(size_in("2,5", DecimalSign::comma, {1.0, plan::SizeUnit::mm2}, false)->size) == "2.5 mm2");
    CHECK(plan::text_of(size_in("4/0", DecimalSign::unknown, {1.0, plan::SizeUnit::awg}, false)->size) == "4/0 AWG");
    CHECK(size_in("5x16 mm2", DecimalSign::unknown, {}, false).error().starts_with("this can be read in two ways"));
    CHECK(size_in("5x16 mm2", DecimalSign::unknown, {}, true)->count == 5);
    CHECK_FALSE(size_in("16", DecimalSign::unknown, {}, false).has_value());
}

TEST_CASE("services are read as codes and as words, and a number of phases alone is not enough") {
    using enum plan::Service;
    CHECK(service_in("3p4w") == four_wire_wye);
    CHECK(service_in("3ph 4w") == four_wire_wye);
    CHECK(service_in("3-phase, 4-wire wye") == four_wire_wye);
    CHECK(service_in("3P+N") == four_wire_wye);
    CHECK(service_in("208Y/120") == four_wire_wye);
    CHECK(service_in("Single phase") == one_phase_two_wire);
    CHECK(service_in("1ph 3w") == split_phase_three_wire);
    CHECK(service_in("split-phase") == split_phase_three_wire);
    CHECK(service_in("High leg delta") == high_leg_delta);
    CHECK(service_in("3P3W-2E") == three_wire_two_element);
    CHECK_FALSE(service_in("3ph").has_value());
    CHECK_FALSE(service_in("delta").has_value());
}

TEST_CASE("ids are made of names") {
    CHECK(id_from("B\xC3\xBCro 2. OG") == "buero-2-og");
    CHECK(id_from("  #12 / A ") == "12-a");
    CHECK(id_from("???").empty());
    CHECK(id_from(std::string(60, 'x')).size() == 40);
}
