#include "app/commands/interval_file.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using namespace phasewright::commands;

namespace {
std::string const three = "time,kwh1,kwh2,kwh3,kvarh1,kvarh2,kvarh3\n";
std::string const ten = "2026-05-20T10:00:00+02:00,1,2,3,0.1,0.2,0.3\n";
std::string const quarter = "2026-05-20T10:15:00+02:00,1,2,3,0.1,0.2,0.3\n";

IntervalFile good(std::string const& text, IntervalAsk const& ask = {}) {
    auto file = read_intervals(text, "data.csv", ask);
    REQUIRE_MESSAGE(file.has_value(), to_sentence(file.error()));
    return *file;
}
quantity::Fault bad(std::string const& text, IntervalAsk const& ask = {}) {
    auto const file = read_intervals(text, "data.csv", ask);
    REQUIRE_FALSE(file.has_value());
    CHECK_FALSE(file.error().allowed.empty());
    CHECK_FALSE(file.error().remedy.empty());
    return file.error();
}
}  // namespace

TEST_CASE("energies of three elements become Wh and varh, in the file's order") {
    auto const file = good("\xEF\xBB\xBF# limit_days: 730\n" + three + ten + quarter + "\r\n");
    CHECK(file.limit_days == 730.0);
    CHECK(file.data.columns == 3);
    CHECK(file.data.rows() == 2);
    CHECK(file.data.at(1, 2) == correction::Energy{3000.0, 300.0});
    CHECK(file.interval_s == 900.0);
    CHECK(file.interval_inferred);
    CHECK(file.end_s - file.data.start_s[0] == 1800.0);
    CHECK(file.gaps.empty());
}

TEST_CASE("mean powers become energies by their interval, columns in any order and in quotation marks") {
    auto const file =
        good("\"p_kw\",x_note,time,q_kvar,duration_s\n4,\"a, b\",2026-05-20T10:00:00Z,-1,1800\n");
    CHECK(file.data.totals);
    CHECK(file.data.at(0, 0) == correction::Energy{2000.0, -500.0});
    CHECK(file.name_of(true, std::nullopt) == "q_kvar");
    auto const two = good("time,p1_w,p2_w,p3_w\n2026-05-20T10:00:00Z,100,200,300\n", {.interval_s = 60.0});
    CHECK_FALSE(two.data.vars_recorded);
    CHECK(two.data.at(0, 1).real() == doctest::Approx(200.0 / 60.0));
    CHECK(two.name_of(false, 1) == "p2_w");
}

TEST_CASE("the hour that happens twice when clocks go back is two hours") {
    // Central European time, 25 October 2026: 02:00 to 03:00 twice, first at +02:00, then at +01:00 (EU
    // directive 2000/84/EC).
    auto const file = good(
        "time,kwh\n2026-10-25T02:00:00+02:00,1\n2026-10-25T02:30:00+02:00,1\n2026-10-25T02:00:00+01:00,1\n"
        "2026-10-25T02:30:00+01:00,1\n2026-10-25T03:00:00+01:00,1\n");
    CHECK(file.data.rows() == 5);
    CHECK(file.gaps.empty());
    CHECK(file.interval_s == 1800.0);
    // And the one that does not happen in spring leaves no gap.
    CHECK(good("time,kwh\n2026-03-29T01:30:00+01:00,1\n2026-03-29T03:00:00+02:00,1\n2026-03-29T03:30:00+02:"
               "00,1\n")
              .gaps.empty());
    CHECK(bad("time,kwh\n2026-10-25T02:00:00,1\n").what == "the time has no offset from UTC");
}

TEST_CASE("two registers, one a direction, are one signed column") {
    auto const file =
        good("time,kwh_import,kwh_export,kvarh_import,kvarh_export\n2026-05-20T10:00:00Z,0.5,2,0.25,0\n",
             {.interval_s = 900.0});
    CHECK(file.data.at(0, 0) == correction::Energy{-1500.0, 250.0});
    CHECK(bad("time,kwh_import\n2026-05-20T10:00:00Z,1\n").what ==
          "one direction alone does not make a balance");
    CHECK(bad("time,kwh_import,kwh_export\n2026-05-20T10:00:00Z,1,-1\n", {.interval_s = 900.0}).where ==
          "data.csv:2 kwh_export");
}

TEST_CASE("gaps are told and rows without a number are kept but not measured") {
    auto const file =
        good(three + ten + quarter +
             "2026-05-20T11:00:00+02:00,1,2,3,0.1,0.2,0.3\n2026-05-20T11:15:00+02:00,1,,3,0.1,0.2,0.3\n");
    REQUIRE(file.gaps.size() == 1);
    CHECK(file.gaps[0].missing_s == 1800.0);
    CHECK(file.gaps[0].after == "2026-05-20T10:15:00+02:00");
    CHECK(file.not_measured() == 1);
    CHECK(file.data.rows() == 3);
    CHECK(with_columns(file, "new", {"7", "8", "9", ""}).ends_with(",1,,3,0.1,0.2,0.3,\n"));
}

TEST_CASE("what a file may not hold is refused with line, column and what may stand there") {
    auto const asked = IntervalAsk{.interval_s = 900.0};
    CHECK(bad("").what == "the file is empty");
    CHECK(bad("kwh\n1\n").what == "the column of times is missing");
    auto const unknown = bad("time,kwh,kvrah\n");
    CHECK(unknown.where == "data.csv:1 column 3");
    CHECK(unknown.remedy == "did you mean \"kvarh\"?");
    CHECK(bad("time;kwh\n").remedy.find("commas") != std::string::npos);
    CHECK(bad("time,kwh,kwh\n").what == "the column stands there twice");
    CHECK(bad("time,kwh1,kwh2\n2026-05-20T10:00:00Z,1,2\n").allowed.starts_with("kwh3"));
    CHECK(bad("time,kwh1,kwh2,kwh3,kvarh1\n").allowed.starts_with("kvarh2"));
    CHECK(bad("time,v1_v,v2_v,v3_v\n").what == "there is no energy in the file");
    CHECK(bad(three + ten + ten).what == "the interval stands there twice");
    auto const back = bad(three + quarter + ten);
    CHECK(back.what == "the time goes back");
    CHECK(back.where == "data.csv:3 time");
    CHECK(bad(three + ten + "2026-05-20T10:05:00+02:00,1,2,3,0.1,0.2,0.3\n", asked).what ==
          "the interval begins before the one above it ends");
    CHECK(bad(three + "20.05.2026 10:00,1,2,3,0,0,0\n").what == "the text is not a time");
    CHECK(bad(three + ten + "2026-05-20T10:15:00+02:00,1,2,3\n").where == "data.csv:3");
    for (auto const* const cell : {"1.234.5", "NaN", "inf", "12 kWh", "1e300", "--1"})
        CHECK(bad("time,kwh\n2026-05-20T10:00:00Z," + std::string{cell} + "\n", asked).where ==
              "data.csv:2 kwh");
    CHECK(bad("time,kwh\n2026-05-20T10:00:00Z,\n", asked).what ==
          "there is no measured interval in the file");
    CHECK(bad("time,kwh\n2026-05-20T10:00:00Z,-1\n",
              {.kind = correction::RegisterKind::import_only, .interval_s = 900.0})
              .what == "a register that counts one direction cannot go backwards");
    CHECK(bad("time,kwh_import,kwh_export\n", {.kind = correction::RegisterKind::absolute})
              .allowed.starts_with("kwh, as"));
    CHECK(bad("time,kwh\n2026-05-20T10:00:00Z,1\n").what == "it is not clear how long an interval is");
    CHECK(bad("time,kwh,duration_s\n2026-05-20T10:00:00Z,1,0\n").where == "data.csv:2 duration_s");
    CHECK(bad("time,kwh,load_lag_deg\n2026-05-20T10:00:00Z,1,120\n", asked).where ==
          "data.csv:2 load_lag_deg");
    CHECK(bad("# limit_days: two years\n" + three).where == "data.csv:1 limit_days");
}

// A small generator of our own, so that every machine tries the same files.
TEST_CASE("no damage to a file gets further than a fault") {
    std::string const alphabet = ",\n\r\"0123456789.eE+-TZ:kwh_ \xc3\xa9";
    std::uint64_t seed = 42;
    auto const dice = [&](std::size_t below) {
        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<std::size_t>((seed >> 33U) % below);
    };
    std::size_t refused = 0;
    for (int round = 0; round < 3000; ++round) {
        auto text = three + ten + quarter;
        for (std::size_t changes = 1 + dice(3); changes > 0; --changes) {
            auto const at = dice(text.size());
            if (dice(2) == 0)
                text.erase(at, 1 + dice(8));
            else
                text.insert(at, 1, alphabet[dice(alphabet.size())]);
        }
        auto const file = read_intervals(text, "data.csv", {});
        if (file) {
            for (auto const& row : file->rows) CHECK((!row || *row < file->data.rows()));
            CHECK(file->data.energy.size() == file->data.columns * file->data.rows());
        } else {
            ++refused;
            CHECK_FALSE(file.error().what.empty());
        }
    }
    CHECK(refused > 1000);
}
