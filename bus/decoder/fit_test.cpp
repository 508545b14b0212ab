// A profile with one slip in it, and the dump of a meter that has the profile without the slip.
#include <doctest/doctest.h>

#include <algorithm>

#include "bus/decoder/fit.hpp"
#include "bus/profile/encode.hpp"
#include "bus/profile/raw_number.hpp"

namespace phasewright::decoder {

namespace {

profile::Profile shipped(std::string const& name) {
    return profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles/" + name + ".toml").value();
}

// Three unlike phases; P = V I cos phi and Q = V I sin phi by hand, with cos phi 0.92, 0.88 and 0.95.
readings::Snapshot load() {
    return {.v = {231.3, 228.9, 232.6},
            .i = {41.24, 12.71, 29.93},
            .p = {8776.0, 2560.2, 6613.7},
            .q = {3738.5, 1381.8, 2173.8},
            .s = {9539.0, 2909.3, 6961.8},
            .pf = {0.92, 0.88, 0.95},
            .v_ll = {398.5, 399.7, 401.8},
            .hz = 50.02,
            .p_total = 17949.9,
            .q_total = 7294.1,
            .s_total = 19410.1,
            .pf_total = 0.925};
}

Expected const europe{.nominal = {230.0, 400.0, 50.0}};
constexpr std::array meters{"hollowick-h1", "tarnfell-t3", "wexby-w2"};

std::vector<Dump> dump_of(profile::Profile const& profile) { return {{profile::encode(profile, load(), {}), std::nullopt}}; }

void each_field(profile::Profile& profile, auto const& change) {
    for (auto& [measure, fields] : profile.measurements)
        for (auto& field : fields) change(field);
}

}  // namespace

TEST_CASE("a profile fits the registers of its own meter") {
    for (auto const* const name : meters) {
        CAPTURE(name);
        auto const profile = shipped(name);
        auto const dumps = dump_of(profile);
        auto const fit = fit_of(profile, dumps, europe);
        CHECK(fit.fits);
        CHECK(fit.misfits.empty());
        CHECK(fit.changes.front().kind == ChangeKind::none);
        CHECK(fit.changes.front().probability > 0.8);
    }
}

TEST_CASE("a base that is off by one is named, with the way back") {
    for (auto const* const name : meters) {
        for (int const by : {-1, 1}) {
            CAPTURE(name);
            CAPTURE(by);
            auto const right = shipped(name);
            auto wrong = right;
            each_field(wrong, [&](profile::Field& field) {
                field.address = static_cast<std::uint16_t>(field.address + by);
                if (field.scale_register) field.scale_register->address = static_cast<std::uint16_t>(field.scale_register->address + by);
            });
            auto const fit = fit_of(wrong, dump_of(right), europe);
            CHECK_FALSE(fit.fits);
            CHECK(fit.changes.front().kind == ChangeKind::base);
            CHECK(fit.changes.front().in_words == (by > 0 ? "every address one lower" : "every address one higher"));
            CHECK(fit.changes.front().probability > 0.95);
        }
    }
}

TEST_CASE("word order, byte order and function the other way round are named") {
    using profile::Order;
    auto const turned = [](Order order) { return order == Order::high_first ? Order::low_first : Order::high_first; };
    for (auto const* const name : {"tarnfell-t3", "wexby-w2"}) {
        CAPTURE(name);
        auto const right = shipped(name);
        auto words = right;
        each_field(words, [&](profile::Field& field) { field.words = turned(field.words); });
        CHECK(fit_of(words, dump_of(right), europe).changes.front().kind == ChangeKind::word_order);
        auto bytes = right;
        each_field(bytes, [&](profile::Field& field) { field.bytes = turned(field.bytes); });
        CHECK(fit_of(bytes, dump_of(right), europe).changes.front().kind == ChangeKind::byte_order);
        auto function = right;
        each_field(function, [](profile::Field& field) {
            field.function = field.function == codec::Function::read_input_registers
                                 ? codec::Function::read_holding_registers
                                 : codec::Function::read_input_registers;
        });
        auto const fit = fit_of(function, dump_of(right), europe);
        CHECK(fit.changes.front().kind == ChangeKind::function);
        CHECK(fit.judged < fit.missing);
        CHECK_FALSE(fit.doubts.empty());
    }
}

TEST_CASE("a scale that is ten times off is named") {
    auto const right = shipped("wexby-w2");
    auto volts = right;
    for (auto const measure : {profile::Measure::v, profile::Measure::v_ll})
        for (auto& field : volts.measurements.at(measure)) field.scale *= 10.0;
    auto const fit = fit_of(volts, dump_of(right), europe);
    CHECK(fit.changes.front().in_words == "voltages times 0.1");
    auto watts = right;
    for (auto const measure : {profile::Measure::p, profile::Measure::p_total, profile::Measure::q, profile::Measure::q_total})
        for (auto& field : watts.measurements.at(measure)) field.scale *= 0.1;
    CHECK(fit_of(watts, dump_of(right), europe).changes.front().in_words == "powers times 10");
}

TEST_CASE("power that is counted the other way is named by the energies or the usual load") {
    auto const right = shipped("tarnfell-t3");
    auto wrong = right;
    for (auto const measure : {profile::Measure::p, profile::Measure::p_total})
        for (auto& field : wrong.measurements.at(measure)) field.reversed = true;
    auto const fit = fit_of(wrong, dump_of(right), europe);
    // Three phases that all export may be generation: the two stand side by side.
    auto const sign = std::ranges::find(fit.changes, ChangeKind::sign, &ProfileChange::kind);
    REQUIRE(sign != fit.changes.end());
    CHECK(sign->in_words == "active power counted the other way");
    CHECK(sign->probability + fit.changes.front().probability > 0.5);
}

TEST_CASE("a value that means no value and is not listed is named") {
    auto right = shipped("hollowick-h1");
    auto dumps = dump_of(right);
    auto const& third = right.measurements.at(profile::Measure::i).at(2);
    profile::put_raw(dumps.front().image, third, 0xFFFF);
    CHECK(fit_of(right, dumps, europe).changes.front().kind == ChangeKind::none);
    auto wrong = right;
    each_field(wrong, [](profile::Field& field) { field.not_available.clear(); });
    auto const fit = fit_of(wrong, dumps, europe);
    CHECK(fit.changes.front().kind == ChangeKind::not_available);
    CHECK(fit.changes.front().in_words == "0xFFFF (all bits set) means that there is no value");
}

TEST_CASE("equal voltages alone do not tell where they begin, and the next step is said") {
    // Five equal voltages in a row: 1000 to 1004 hold 2310, with the profile's three at 1001.
    auto profile = shipped("hollowick-h1");
    profile.measurements.clear();
    std::vector<Dump> dumps(1);
    for (std::uint16_t address = 1000; address < 1005; ++address) dumps.front().image.holding[address] = 2310;
    for (std::uint16_t address = 1001; address < 1004; ++address)
        profile.measurements[profile::Measure::v].push_back({.address = address, .scale = 0.1});
    auto const fit = fit_of(profile, dumps, europe);
    REQUIRE(fit.changes.size() > 2);
    CHECK(fit.changes.front().kind == ChangeKind::none);
    auto const base = std::ranges::find(fit.changes, ChangeKind::base, &ProfileChange::kind);
    REQUIRE(base != fit.changes.end());
    CHECK(base->probability > 0.03);
    CHECK_FALSE(fit.doubts.empty());
}

TEST_CASE("watt-hours that are taken for kilowatt-hours show in the rise") {
    auto right = shipped("wexby-w2");
    right.energies.clear();
    profile::EnergyRegisters counter;
    counter.habit = {.name = "import"};
    counter.fields = {{.address = 1900, .type = profile::ValueType::uint32, .words = profile::Order::low_first}};
    right.energies.push_back(counter);
    std::vector<Dump> dumps;
    // 17 949.9 W for 600 s are 2991.65 Wh: 5 000 000 becomes 5 002 992.
    for (auto const& [time, count] : {std::pair{0.0, 5000000ULL}, std::pair{600.0, 5002992ULL}}) {
        dumps.push_back({profile::encode(right, load(), {}), time});
        profile::put_raw(dumps.back().image, counter.fields.front(), count);
    }
    CHECK(fit_of(right, dumps, europe).fits);
    auto wrong = right;
    wrong.energies.front().fields.front().unit_factor = 1000.0;
    auto const fit = fit_of(wrong, dumps, europe);
    CHECK(fit.changes.front().kind == ChangeKind::energy_unit);
    CHECK(fit.changes.front().toml == "unit of the energies: Wh for kWh");
    CHECK(fit.changes.front().probability > 0.5);
}

}  // namespace phasewright::decoder
