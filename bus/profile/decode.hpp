// From registers to readings, as pure functions: which registers to ask for, in how few questions, and what
// they mean.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "bus/profile/profile.hpp"
#include "bus/profile/register_image.hpp"
#include "core/plan/read_grouping.hpp"

namespace phasewright::profile {

struct Run {  // consecutive registers, one question
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;
    std::uint16_t count = 0;
    friend bool operator==(Run const&, Run const&) = default;
};

// What changes from second to second (measurements and their scales), and what is set once (ratio, service,
// identity). They are read apart, so that the measurements lie close together in time.
struct ReadPlan {
    std::vector<Run> settings;
    std::vector<Run> measurements;
};
// The registers behind the measurements, as pieces that must each come in one answer.
[[nodiscard]] std::vector<plan::RegisterRun> measured_registers(Profile const& profile);
// `cost` says what a question costs against a register: plan::cost_on() a line whose times are known.
[[nodiscard]] ReadPlan read_plan(Profile const& profile, plan::ReadCost const& cost = plan::fewest_questions);

// Registers that are missing, not available or not a number give an empty optional. The service asked for
// decides which elements are returned; without one the meter's own setting does.
[[nodiscard]] readings::Snapshot decode(Profile const& profile, RegisterImage const& image,
                                        std::optional<plan::Service> service = std::nullopt);

// The number in a field in SI units, sign turned to ours.
[[nodiscard]] std::optional<double> value_of(Field const& field, RegisterImage const& image);
// The smallest step the field can show, in SI units; empty for floating point.
[[nodiscard]] std::optional<double> step_of(Field const& field, RegisterImage const& image);

[[nodiscard]] std::optional<quantity::TransformerRatio> ct_ratio_in(Profile const& profile,
                                                                    RegisterImage const& image);
[[nodiscard]] std::optional<plan::Service> service_in(Profile const& profile, RegisterImage const& image);
[[nodiscard]] std::string identity_in(Profile const& profile, RegisterImage const& image);

}  // namespace phasewright::profile
