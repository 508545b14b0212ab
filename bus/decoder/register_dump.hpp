// A register dump is what a meter's registers held at one moment or at several, as text that people and programs can
// keep: docs/reference/register-dump.md is its format. What is not in it is not known; it is never zero.
#pragma once
#include <expected>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bus/profile/register_image.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::decoder {

struct Dump {
    profile::RegisterImage image;
    std::optional<double> time_s;  // seconds on a clock that all dumps of one file share
    friend bool operator==(Dump const&, Dump const&) = default;
};

// Without those that show nothing new: within a few seconds of the one before and alike in every register. The meter had
// not written its registers since, so that a counter that stands still says nothing about its unit.
[[nodiscard]] std::vector<Dump> refreshed(std::span<Dump const> dumps);

// In the order of their times, at least one. `where` names the text in faults: the file's path.
[[nodiscard]] std::expected<std::vector<Dump>, quantity::Fault> read_dumps(std::string_view text,
                                                                           std::string const& where);
[[nodiscard]] std::string to_text(std::vector<Dump> const& dumps);
[[nodiscard]] std::size_t registers_in(Dump const& dump);

}  // namespace phasewright::decoder
