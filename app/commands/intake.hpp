// Files that people give to a job, looked at before they are taken in: by content, not by name, and within
// bounds (docs/reference/records.md, "Limits").
#pragma once
#include <cstdint>
#include <expected>
#include <filesystem>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct Image {
    std::string type;  // "image/jpeg"
    std::uint64_t width = 0, height = 0;
};
// JPEG (ITU-T T.81, annex B) or PNG (RFC 2083, chapter 3), whole from its first mark to its last, as far as
// lengths tell.
[[nodiscard]] std::expected<Image, quantity::Fault> image_of(std::string_view bytes, std::string const& name);

// The name that a record may hold of a file.
[[nodiscard]] std::expected<std::string, quantity::Fault> kept_name(std::filesystem::path const& file);

// A plain file, no device and no pipe, of at most so many bytes.
[[nodiscard]] std::expected<std::string, quantity::Fault> bytes_within(std::filesystem::path const& file,
                                                                       std::uint64_t most);

}  // namespace phasewright::commands
