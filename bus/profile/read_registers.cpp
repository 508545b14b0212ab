#include "bus/profile/read_registers.hpp"

#include <fmt/format.h>

namespace phasewright::profile {

std::expected<RegisterImage, codec::Fault> read_pieces(port::Line& line, std::uint8_t unit,
                                                       Profile const& profile,
                                                       std::vector<plan::RegisterRun> const& pieces) {
    plan::ReadLimits const limits{.longest_read = static_cast<int>(profile.longest_read),
                                  .bridge = static_cast<int>(profile.bridge)};
    RegisterImage image;
    for (auto const& run : plan::grouped(pieces, limits, plan::fewest_questions)) {
        auto const function = static_cast<codec::Function>(run.function);
        auto const address = static_cast<std::uint16_t>(run.first);
        auto values =
            port::read_registers(line, unit, function, address, static_cast<std::uint16_t>(run.count));
        if (!values) {
            auto fault = values.error();
            fault.detail +=
                fmt::format("{}registers {} to {} (function {})", fault.detail.empty() ? "" : "; ", run.first,
                            run.first + run.count - 1, run.function);
            return std::unexpected(std::move(fault));
        }
        put_registers(image, function, address, *values);
    }
    return image;
}

}  // namespace phasewright::profile
