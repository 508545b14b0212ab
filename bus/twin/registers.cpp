#include "bus/twin/registers.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "bus/profile/encode.hpp"
#include "bus/profile/sunspec.hpp"

namespace phasewright::twin {

namespace {
constexpr std::string_view maker = "phasewright";
constexpr std::string_view meter_name = "virtual meter";
constexpr std::string_view revision = "1";

// The finest power of ten, but no finer than `usual`, at which `full_scale` fits a signed register.
int power_for(double full_scale, int usual) {
    double const largest = std::numeric_limits<std::int16_t>::max();
    return std::max(usual, static_cast<int>(std::ceil(std::log10(std::max(full_scale, 1e-6) / largest))));
}

profile::SunspecScales scales_of(Face const& face) {
    double const most_a = 1.2 * face.programmed.primary;
    double const most_w = 3.0 * 1.2 * face.highest_v * most_a;
    profile::SunspecScales scales;
    scales.a = power_for(most_a, scales.a);
    scales.v = power_for(1.2 * std::numbers::sqrt3 * face.highest_v, scales.v);
    scales.w = power_for(most_w, scales.w);
    scales.va = power_for(most_w, scales.va);
    scales.var = power_for(most_w, scales.var);
    return scales;
}

// The sign of a power factor that is positive when the current leads: minus the sign of P times Q (the
// quadrants of docs/reference/directions.md). The meter's own numbers carry the sign of P.
std::optional<double> ieee_pf(std::optional<double> const& pf, std::optional<double> const& p,
                              std::optional<double> const& q) {
    if (!pf || !p || !q) return pf;
    return *p * *q > 0.0 ? -std::abs(*pf) : std::abs(*pf);
}

readings::Snapshot with_ieee_pf(readings::Snapshot shown) {
    for (std::size_t k = 0; k < shown.pf.size(); ++k)
        shown.pf[k] = ieee_pf(shown.pf[k], shown.p.at(k), shown.q.at(k));
    shown.pf_total = ieee_pf(shown.pf_total, shown.p_total, shown.q_total);
    return shown;
}
}  // namespace

int sunspec_model_of(Face const& face, std::size_t elements) {
    int const first = face.float_numbers ? 211 : 201;
    switch (face.service) {
        case plan::Service::one_phase_two_wire: return first + static_cast<int>(elements) - 1;
        case plan::Service::split_phase_three_wire:
        case plan::Service::two_phases_of_wye: return first + 1;
        case plan::Service::four_wire_wye:
        case plan::Service::four_wire_two_ct:
        case plan::Service::high_leg_delta: return first + 2;
        case plan::Service::three_wire_three_ct:
        case plan::Service::three_wire_two_element:
        case plan::Service::three_wire_two_ct:
        case plan::Service::corner_earthed_delta: return first + 3;
    }
    return first + 2;
}

profile::RegisterImage image_of(Face const& face, readings::Snapshot const& shown) {
    if (face.profile) {
        bool const leading_positive = face.profile->pf_sign == readings::SignHabit::ieee;
        profile::MeterSettings settings;
        settings.ct_programmed = face.programmed;
        settings.service = face.service;
        settings.others = face.others;
        settings.vendor = face.profile->maker;
        settings.model = face.profile->name;
        settings.serial = face.serial;
        return profile::encode(*face.profile, leading_positive ? with_ieee_pf(shown) : shown, settings);
    }
    profile::SunspecIdentity identity;
    identity.maker = maker;
    identity.model = meter_name;
    identity.version = revision;
    identity.serial = face.serial;
    identity.address = static_cast<std::uint16_t>(face.unit);
    return profile::sunspec_image(sunspec_model_of(face, shown.i.size()), shown, identity, scales_of(face));
}

std::vector<codec::IdentificationObject> identity_of(Face const& face) {
    auto const vendor = face.profile ? face.profile->maker : std::string{maker};
    auto const name = face.profile ? face.profile->name : std::string{meter_name};
    return {{0, vendor}, {1, name}, {2, std::string{revision}}, {4, name}, {5, name + " " + face.serial}};
}

codec::Bytes answer_pdu(codec::BytesView request, profile::RegisterImage const& image,
                        std::vector<codec::IdentificationObject> const& identity) {
    std::uint8_t const function = request.empty() ? std::uint8_t{0} : codec::u8_at(request, 0);
    auto const question = codec::parse_question(request);
    if (!question) return codec::exception_pdu(function, question.error());
    if (auto const* read = std::get_if<codec::ReadRegisters>(&*question)) {
        auto const registers = profile::serve(image, *read);
        return registers ? codec::registers_pdu(*read, *registers)
                         : codec::exception_pdu(function, registers.error());
    }
    if (auto const* who = std::get_if<codec::ReadIdentification>(&*question)) {
        auto const objects = codec::identification_pdu(*who, identity);
        return objects ? *objects : codec::exception_pdu(function, objects.error());
    }
    return codec::exception_pdu(function, codec::ExceptionCode::illegal_function);
}

}  // namespace phasewright::twin
