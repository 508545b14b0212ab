// For tests: an invented meter as it leaves its works, what is planned for it, and how it must stand
// afterwards.
#pragma once
#include <doctest/doctest.h>

#include <string>

#include "bus/program/bus_in_tests.hpp"
#include "bus/program/programmer.hpp"

namespace phasewright::program {

using profile::SettingName;

inline profile::Profile project_profile(std::string const& name) {
    auto profile =
        profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR "/profiles/") + name + ".toml");
    REQUIRE(profile.has_value());
    return *profile;
}

inline double number_of(plan::Parity parity) { return static_cast<double>(parity); }

// As it leaves the works: 100/5 A, address 247, 19200 8E1; its clock is 95 s fast, and it has counted 1234.5
// kWh.
inline FakeMeter new_tarnfell(profile::Profile const& profile) {
    FakeMeter meter{.profile = &profile};
    profile::MeterSettings settings;
    settings.ct_programmed = quantity::TransformerRatio{100.0, 5.0};
    settings.service = plan::Service::three_wire_two_element;
    settings.serial = "24101246";
    settings.others = {
        {SettingName::vt_primary, 400.0},     {SettingName::vt_secondary, 100.0},
        {SettingName::demand_interval, 15.0}, {SettingName::time_zone, 0.0},
        {SettingName::clock, 1779264095.0},   {SettingName::address, 247.0},
        {SettingName::bit_rate, 19200.0},     {SettingName::parity, number_of(plan::Parity::even)},
        {SettingName::stop_bits, 1.0}};
    readings::Snapshot shown;
    shown.v = {230.0, 230.0, 230.0};
    shown.i = {5.0, 5.0, 5.0};
    meter.image = profile::encode(profile, shown, settings);
    for (auto const& energy : profile.energies)
        for (std::size_t k = 0; k < energy.fields.size(); ++k)
            profile::put_energy(meter.image, energy, k, 1234500.0);
    meter.image.holding[0x0B40] = 0;
    meter.unlock = {{0x0B40, 0x2B67}};
    meter.unit = 247;
    meter.format = {.bit_rate = 19200, .parity = plan::Parity::even, .stop_bits = 1};
    return meter;
}

inline Wanted const planned{{SettingName::ct_primary, 150.0},
                            {SettingName::ct_secondary, 5.0},
                            {SettingName::service, static_cast<double>(plan::Service::four_wire_wye)},
                            {SettingName::demand_interval, 30.0},
                            {SettingName::clock, 0.0},
                            {SettingName::address, 12.0},
                            {SettingName::bit_rate, 9600.0},
                            {SettingName::parity, number_of(plan::Parity::none)},
                            {SettingName::stop_bits, 2.0}};

inline Job job_for(profile::Profile const& profile, FakeBus& bus, std::string run) {
    Job job;
    job.run = std::move(run);
    job.point = "tenant-1";
    job.place = "test line";
    job.profile_name = "tarnfell-t3";
    job.planned_serial = "24101246";
    job.profile = &profile;
    job.unit = 247;
    job.unix_now = [&bus] { return bus.now_s; };
    job.wait = [&bus](double seconds) { bus.now_s += seconds; };
    return job;
}

inline plan::SerialFormat const works_format{.bit_rate = 19200, .parity = plan::Parity::even, .stop_bits = 1};

// The clock of the fake meter stands still; ours goes on, so its drift is what was written less our time now.
inline void check_programmed(FakeMeter const& meter) {
    CHECK(meter.value(SettingName::ct_primary) == 150.0);
    CHECK(meter.value(SettingName::service) == static_cast<double>(plan::Service::four_wire_wye));
    CHECK(meter.value(SettingName::demand_interval) == doctest::Approx(30.0));
    CHECK(meter.unit == 12);
    CHECK(meter.format == plan::SerialFormat{.bit_rate = 9600, .parity = plan::Parity::none, .stop_bits = 2});
    CHECK(std::abs(meter.value(SettingName::clock) - 1779264000.0) < 40.0);
    CHECK(meter.image.holding.at(0x0B40) == 0);  // locked again
}

inline void check_as_found(FakeMeter const& meter) {
    CHECK(meter.value(SettingName::ct_primary) == 100.0);
    CHECK(meter.value(SettingName::service) == static_cast<double>(plan::Service::three_wire_two_element));
    CHECK(meter.value(SettingName::demand_interval) == doctest::Approx(15.0));
    CHECK(meter.unit == 247);
    CHECK(meter.format == works_format);
    CHECK(std::abs(meter.value(SettingName::clock) - 1779264095.0) < 40.0);
    CHECK(meter.image.holding.at(0x0B40) == 0);
}

inline std::string said(MeterResult const& result) {
    std::string text = result.failed.value_or("");
    for (auto const& step : result.steps)
        text += std::string(name_of(step.setting)) + ": " + step.says + "; ";
    return text;
}

}  // namespace phasewright::program
