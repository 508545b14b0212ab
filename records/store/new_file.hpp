// A file gets its name only once it is whole and on the disk, and never takes the name of one that is there.
#pragma once
#include <expected>
#include <functional>
#include <string>

#include "core/quantity/fault.hpp"

namespace phasewright::store {

// `fill` makes the file under a name of its own beside `file`.
[[nodiscard]] std::expected<void, quantity::Fault> make_whole(
    std::string const& file,
    std::function<std::expected<void, quantity::Fault>(std::string const&)> const& fill);

[[nodiscard]] quantity::Fault already_there(std::string const& file);

}  // namespace phasewright::store
