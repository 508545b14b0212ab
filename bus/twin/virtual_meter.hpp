// One virtual meter: what it is wired to, how it is set, what it has counted, and the registers that it holds since its
// last measurement. A setting that is written changes what it shows from then on, as it would in the real one.
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "bus/twin/bus_truth.hpp"
#include "bus/twin/counters.hpp"
#include "bus/twin/registers.hpp"

namespace phasewright::twin {

class VirtualMeter {
public:
    VirtualMeter(plan::MeteringPoint const& point, Supply supply, WiredPoint wired, Face face, std::uint64_t seed,
                 MeterTruth truth = {});
    [[nodiscard]] profile::RegisterImage const& registers_at(double time_s);
    [[nodiscard]] codec::Bytes answer(codec::BytesView request, double time_s);

    // What it is set to now, where its profile lists such a setting; else what it was made with.
    [[nodiscard]] int unit() const;
    [[nodiscard]] plan::SerialFormat format(plan::SerialFormat planned) const;

    // Its leads run otherwise from now on.
    void rewire(WiredPoint wired, double time_s);

private:
    void count_on(double time_s);
    void put_energies(profile::RegisterImage& image, double time_s) const;
    [[nodiscard]] codec::Bytes write(codec::BytesView request, double time_s);
    [[nodiscard]] std::optional<codec::ExceptionCode> take(std::uint16_t address, codec::Registers const& values,
                                                           double time_s);
    void set(profile::Setting const& setting, double value, double time_s);

    plan::ServiceModel model_;
    Supply supply_;
    WiredPoint wired_;
    Face face_;
    std::uint64_t seed_;
    MeterTruth truth_;
    Counters counters_;
    double clock_at_zero_;  // seconds since 1970 that its own clock showed at time 0
    std::vector<codec::IdentificationObject> identity_;
    std::map<std::uint16_t, std::uint16_t> unlocked_;  // what stands in the registers that a password opens with
    std::optional<double> held_since_s_;
    profile::RegisterImage held_;
};

// The profile as this very meter's registers are laid out.
[[nodiscard]] profile::Profile twisted(profile::Profile profile, RegisterTwist const& twist);

}  // namespace phasewright::twin
