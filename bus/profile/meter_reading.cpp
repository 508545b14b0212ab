#include "bus/profile/meter_reading.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "bus/profile/decode.hpp"

namespace phasewright::profile {

namespace {

using codec::Fault;
using codec::FaultKind;

std::optional<Fault> fetch(port::Line& line, std::uint8_t unit, Run const& run, RegisterImage& image) {
    auto const values = port::read_registers(line, unit, run.function, run.address, run.count);
    if (!values) return values.error();
    put_registers(image, run.function, run.address, *values);
    return std::nullopt;
}

std::string run_words(Run const& run) {
    return fmt::format("registers {} to {} (function {})", run.address, run.address + run.count - 1,
                       static_cast<int>(run.function));
}

// What a device says of itself by function 43/14.
std::string identification_text(codec::Identification const& found) {
    std::string text;
    for (auto const& object : found.objects) {
        if (object.id > 2 || object.text.empty()) continue;  // vendor, product code, revision
        text += (text.empty() ? "" : " ") + object.text;
    }
    return text;
}

std::optional<Fault> ask_who(port::Line& line, std::uint8_t unit, MeterReading& reading) {
    auto const found = port::read_identification(line, unit);
    if (found) {
        if (reading.identity.empty()) reading.identity = identification_text(*found);
        return std::nullopt;
    }
    if (found.error().kind != FaultKind::refused) return found.error();
    reading.notes.emplace_back("the meter does not answer the question who it is (function 43/14)");
    return std::nullopt;
}

std::optional<double> coarsest(Profile const& profile, Measure measure, RegisterImage const& image) {
    auto const found = profile.measurements.find(measure);
    std::optional<double> step;
    if (found == profile.measurements.end()) return step;
    for (auto const& field : found->second) {
        auto const own = step_of(field, image);
        if (own && (!step || *own > *step)) step = own;
    }
    return step;
}

}  // namespace

std::expected<MeterReading, Fault> read_meter(port::Line& line, std::uint8_t unit, Profile const& profile,
                                              std::optional<plan::Service> planned) {
    auto const reads = read_plan(profile);
    RegisterImage image;
    MeterReading reading;
    for (auto const& run : reads.settings) {
        auto const failed = fetch(line, unit, run, image);
        if (!failed) continue;
        if (failed->kind != FaultKind::refused) return std::unexpected(*failed);
        // A setting that a meter does not show is a gap in what is known, not a reading that failed.
        reading.notes.push_back(fmt::format("the meter refuses its settings in {}", run_words(run)));
    }
    double const begun = line.now_s();
    for (auto const& run : reads.measurements) {
        if (auto failed = fetch(line, unit, run, image)) {
            failed->detail += (failed->detail.empty() ? "" : "; ") + run_words(run);
            return std::unexpected(*failed);
        }
    }
    if (reads.measurements.size() > 1) reading.skew_s = line.now_s() - begun;
    reading.snapshot = decode(profile, image, planned);
    reading.ct_programmed = ct_ratio_in(profile, image);
    reading.meter_service = service_in(profile, image);
    reading.identity = identity_in(profile, image);
    reading.pf_sign = profile.pf_sign;
    reading.var_sign = profile.var_sign;
    reading.resolution = {.v = coarsest(profile, Measure::v, image),
                          .i = coarsest(profile, Measure::i, image),
                          .p = coarsest(profile, Measure::p, image),
                          .q = coarsest(profile, Measure::q, image)};
    if (planned &&
        std::ranges::find(profile.services, *planned, &ServiceShape::service) == profile.services.end()) {
        reading.notes.push_back(fmt::format("the profile does not list {}; the meter is read as {}",
                                            plan::code_of(*planned),
                                            plan::code_of(shape_for(profile, planned).service)));
    }
    if (profile.identity.device_identification) {
        if (auto const failed = ask_who(line, unit, reading)) return std::unexpected(*failed);
    }
    return reading;
}

}  // namespace phasewright::profile
