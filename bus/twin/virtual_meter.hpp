// One virtual meter: what it is wired to, how it is set, what it has counted, and the registers that it holds
// since its last measurement. A setting that is written changes what it shows from then on, as it would in
// the real one.
#pragma once
#include <cstdint>
#include <map>
#include <optional>

#include "bus/twin/bus_truth.hpp"
#include "bus/twin/counters.hpp"
#include "bus/twin/registers.hpp"

namespace phasewright::twin {

class VirtualMeter {
public:
    VirtualMeter(plan::MeteringPoint const& point, Supply supply, WiredPoint wired, Face face,
                 std::uint64_t seed, MeterTruth truth = {});
    [[nodiscard]] profile::RegisterImage const& registers_at(double time_s);
    [[nodiscard]] codec::Bytes answer(codec::BytesView request, double time_s);

    // What it is set to now, where its profile lists such a setting; else what it was made with.
    [[nodiscard]] int unit() const;
    [[nodiscard]] plan::SerialFormat format(plan::SerialFormat planned) const;

    // Its profile before any twist; empty for SunSpec. It never changes.
    [[nodiscard]] std::optional<profile::Profile> const& shipped() const { return shipped_; }

    // Its leads run otherwise from now on.
    void rewire(WiredPoint wired, double time_s);
    // What is told of it otherwise than before holds from now on, as if somebody had set it at its keys; the
    // rest stays as it was written over the bus.
    void set_anew(MeterTruth truth, double time_s);

private:
    [[nodiscard]] readings::Snapshot shown(WiredPoint const& wired, double time_s) const;
    void count_on(double time_s);
    void lay_out();
    void take_format();
    void program(quantity::TransformerRatio ratio, double time_s);
    void put_energies(profile::RegisterImage& image,
                      std::optional<double> time_s) const;  // empty: all at zero
    [[nodiscard]] double vt_factor() const;
    [[nodiscard]] codec::Bytes read(codec::BytesView request, double time_s);
    [[nodiscard]] codec::Bytes write(codec::BytesView request, double time_s);
    [[nodiscard]] std::optional<codec::ExceptionCode> take(std::uint16_t address,
                                                           codec::Registers const& values, double time_s);
    void set(profile::Setting const& setting, double value, double time_s);

    plan::ServiceModel model_;
    Supply supply_;
    WiredPoint wired_;
    Face face_;
    std::optional<profile::Profile> shipped_;  // its profile before any twist
    int planned_unit_;
    quantity::TransformerRatio wired_ratio_;  // programmed, as the wired file says
    std::uint64_t seed_;
    MeterTruth truth_;
    Counters counters_;
    double clock_at_zero_;      // seconds since 1970 that its own clock showed at time 0
    double vt_at_start_ = 1.0;  // its ratio of voltage transformers, which is the one that is fitted
    std::vector<codec::IdentificationObject> identity_;
    std::map<std::uint16_t, std::uint16_t>
        unlocked_;  // what stands in the registers that a password opens with
    int counter_reads_ = 0;
    std::optional<double> held_since_s_;
    profile::RegisterImage held_;
};

}  // namespace phasewright::twin
