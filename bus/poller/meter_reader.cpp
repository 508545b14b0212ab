#include "bus/poller/meter_reader.hpp"

#include "bus/profile/decode.hpp"
#include "bus/profile/energy.hpp"
#include "bus/profile/meter_reading.hpp"

namespace phasewright::poller {

namespace {

std::vector<Counter> counters_of(std::vector<profile::EnergyCount> const& energies) {
    std::vector<Counter> counters;
    for (auto const& energy : energies) {
        counters.push_back({.name = energy.habit.name,
                            .value = energy.value,
                            .habit = {.wrap = energy.habit.wraps_at,
                                      .may_fall = energy.habit.kind == profile::EnergyKind::net,
                                      .step = energy.habit.step.value_or(0.0)},
                            .unit = std::string(profile::unit_of(energy.habit.quantity)),
                            .phase = energy.habit.phase});
    }
    return counters;
}

}  // namespace

std::vector<plan::RegisterRun> polled_registers(profile::Profile const& profile) {
    auto pieces = profile::measured_registers(profile);
    auto const energies = profile::energy_registers(profile);
    pieces.insert(pieces.end(), energies.begin(), energies.end());
    return pieces;
}

MeterRead read_by_profile(std::shared_ptr<profile::Profile const> profile, std::uint8_t unit,
                          std::optional<plan::Service> planned, plan::ReadCost const& cost) {
    auto runs = plan::grouped(polled_registers(*profile),
                              {.longest_read = static_cast<int>(profile->longest_read),
                               .bridge = static_cast<int>(profile->bridge)},
                              cost);
    return [profile = std::move(profile), unit, planned,
            runs = std::move(runs)](port::Line& line) -> std::expected<MeterNumbers, codec::Fault> {
        MeterNumbers numbers;
        profile::RegisterImage image;
        numbers.begun_s = line.now_s();
        for (auto const& run : runs) {
            auto const function = static_cast<codec::Function>(run.function);
            auto const first = static_cast<std::uint16_t>(run.first);
            auto const values =
                port::read_registers(line, unit, function, first, static_cast<std::uint16_t>(run.count));
            if (!values) return std::unexpected(values.error());
            profile::put_registers(image, function, first, *values);
        }
        numbers.ended_s = line.now_s();
        numbers.snapshot = profile::decode(*profile, image, planned);
        numbers.counters = counters_of(profile::energies_in(*profile, image));
        return numbers;
    };
}

MeterRead read_by_sunspec(std::uint8_t unit, std::optional<plan::Service> planned) {
    return [unit, planned, place = std::optional<profile::SunspecPlace>{}](
               port::Line& line) mutable -> std::expected<MeterNumbers, codec::Fault> {
        if (!place) {
            auto const found = profile::find_sunspec(line, unit, planned);
            if (!found) return std::unexpected(found.error());
            place = found->sunspec_place;
        }
        MeterNumbers numbers;
        numbers.begun_s = line.now_s();
        auto reading = profile::read_sunspec(line, unit, *place, planned);
        numbers.ended_s = line.now_s();
        if (!reading) {
            place.reset();  // perhaps another meter stands there when it answers again
            return std::unexpected(reading.error());
        }
        numbers.snapshot = std::move(reading->snapshot);
        numbers.counters = counters_of(reading->energies);
        return numbers;
    };
}

}  // namespace phasewright::poller
