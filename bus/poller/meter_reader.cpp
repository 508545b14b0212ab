#include "bus/poller/meter_reader.hpp"

#include "bus/profile/decode.hpp"
#include "bus/profile/meter_reading.hpp"

namespace phasewright::poller {

MeterRead read_by_profile(std::shared_ptr<profile::Profile const> profile, std::uint8_t unit,
                          std::optional<plan::Service> planned, plan::ReadCost const& cost) {
    auto runs = profile::read_plan(*profile, cost).measurements;
    return [profile = std::move(profile), unit, planned,
            runs = std::move(runs)](port::Line& line) -> std::expected<MeterNumbers, codec::Fault> {
        MeterNumbers numbers;
        profile::RegisterImage image;
        numbers.begun_s = line.now_s();
        for (auto const& run : runs) {
            auto const values = port::read_registers(line, unit, run.function, run.address, run.count);
            if (!values) return std::unexpected(values.error());
            profile::put_registers(image, run.function, run.address, *values);
        }
        numbers.ended_s = line.now_s();
        numbers.snapshot = profile::decode(*profile, image, planned);
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
        return numbers;
    };
}

}  // namespace phasewright::poller
