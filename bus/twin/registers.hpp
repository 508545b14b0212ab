// How a virtual meter shows its numbers: as the open SunSpec models, or as the register map of a profile.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bus/codec/question.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/register_image.hpp"
#include "core/plan/site.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::twin {

struct Face {
    std::optional<profile::Profile> profile;  // empty: SunSpec
    bool float_numbers = false;               // of a SunSpec meter: models 211 to 214 instead of 201 to 204
    plan::Service service = plan::Service::four_wire_wye;
    quantity::TransformerRatio programmed{1.0, 1.0};
    double highest_v = 0.0;  // rated: with the primary current it sets the steps of integer registers
    std::string serial;
    int unit = 1;
    std::map<profile::SettingName, double> others;  // what was set beside ratio and service
};

// 201 to 204 by what the service's elements are connected to; ten more for floating point.
[[nodiscard]] int sunspec_model_of(Face const& face, std::size_t elements);

[[nodiscard]] profile::RegisterImage image_of(Face const& face, readings::Snapshot const& shown);

// What the meter says about itself when it is asked with function 43/14.
[[nodiscard]] std::vector<codec::IdentificationObject> identity_of(Face const& face);

// The answer to one request PDU. A virtual meter can be read and not written.
[[nodiscard]] codec::Bytes answer_pdu(codec::BytesView request, profile::RegisterImage const& image,
                                      std::vector<codec::IdentificationObject> const& identity);

}  // namespace phasewright::twin
