#include "app/commands/intake.hpp"

#include <fstream>
#include <optional>
#include <system_error>

#include <fmt/format.h>

#include "records/schema/text_form.hpp"

namespace phasewright::commands {

using quantity::Fault;
namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t most_pixels = 100'000'000;
constexpr std::size_t longest_name = 120;

std::uint64_t number_at(std::string_view bytes, std::size_t at, int count) {
    std::uint64_t value = 0;
    for (int k = 0; k < count; ++k, ++at)
        value = value << 8U | (at < bytes.size() ? static_cast<unsigned char>(bytes[at]) : 0U);
    return value;
}

// T.81: FFD8, then segments of a mark and a length; the size stands in a start-of-frame segment;
// entropy-coded data follows a start of scan; FFD9 ends it.
std::optional<Image> jpeg_in(std::string_view bytes) {
    if (!bytes.starts_with("\xFF\xD8\xFF")) return std::nullopt;
    std::size_t at = 2;
    while (at + 9 < bytes.size()) {
        if (static_cast<unsigned char>(bytes[at]) != 0xFFU) return std::nullopt;
        auto const mark = static_cast<unsigned char>(bytes[at + 1]);
        if (mark == 0xFFU) {  // fill
            ++at;
            continue;
        }
        bool const frame = mark >= 0xC0U && mark <= 0xCFU && mark != 0xC4U && mark != 0xC8U && mark != 0xCCU;
        if (frame) {
            bool const ends = bytes.find("\xFF\xD9", at) != std::string_view::npos;
            if (!ends) return std::nullopt;
            return Image{"image/jpeg", number_at(bytes, at + 7, 2), number_at(bytes, at + 5, 2)};
        }
        auto const length = number_at(bytes, at + 2, 2);
        if (length < 2) return std::nullopt;
        at += 2 + length;
    }
    return std::nullopt;
}

std::optional<Image> png_in(std::string_view bytes) {
    constexpr std::string_view mark("\x89PNG\r\n\x1A\n", 8);
    if (!bytes.starts_with(mark) || bytes.substr(12, 4) != "IHDR") return std::nullopt;
    Image image{"image/png", number_at(bytes, 16, 4), number_at(bytes, 20, 4)};
    for (std::size_t at = mark.size(); at + 12 <= bytes.size();) {
        auto const length = number_at(bytes, at, 4);
        if (length > bytes.size() || at + 12 + length > bytes.size()) return std::nullopt;
        if (bytes.substr(at + 4, 4) == "IEND") return image;
        at += 12 + length;
    }
    return std::nullopt;
}

// Marks that turn the direction in which a name is read: U+200E, U+200F, U+202A to U+202E, U+2066 to U+2069,
// U+061C.
bool turns_text(std::string_view name) {
    for (std::size_t at = 0; at < name.size(); ++at) {
        auto const two = number_at(name, at, 2), three = number_at(name, at, 3);
        bool const turns = three == 0xE2808EU || three == 0xE2808FU ||
                           (three >= 0xE280AAU && three <= 0xE280AEU) ||
                           (three >= 0xE281A6U && three <= 0xE281A9U) || two == 0xD89CU;
        if (turns) return true;
    }
    return false;
}

}  // namespace

std::expected<Image, Fault> image_of(std::string_view bytes, std::string const& name) {
    auto image = jpeg_in(bytes);
    if (!image) image = png_in(bytes);
    if (!image)
        return std::unexpected(Fault{"the file is no whole image",
                                     name,
                                     {},
                                     "JPEG or PNG, by its content",
                                     "save it again as one of the two"});
    bool const huge = image->width > most_pixels || image->height > most_pixels ||
                      image->width * image->height > most_pixels;
    if (image->width == 0 || image->height == 0 || huge)
        return std::unexpected(Fault{"the image is too large, or empty", name,
                                     fmt::format("{} x {} pixels", image->width, image->height),
                                     "1 to 100 megapixels", "save it smaller"});
    return *image;
}

std::expected<std::string, Fault> kept_name(fs::path const& file) {
    auto name = file.filename().string();
    bool const bad = name.empty() || name.size() > longest_name || !schema::may_stand(name) ||
                     name.find_first_of("\n\r\t\\") != std::string::npos || name.front() == '.' ||
                     name.front() == '-' || turns_text(name);
    if (bad)
        return std::unexpected(
            Fault{"the file's name is not taken into a record",
                  schema::may_stand(name) ? schema::escaped(name) : "",
                  {},
                  "1 to 120 bytes of text, no control characters, no leading dot or hyphen",
                  "give it another name"});
    return name;
}

std::expected<std::string, Fault> bytes_within(fs::path const& file, std::uint64_t most) {
    std::error_code error;
    if (fs::status(file, error).type() != fs::file_type::regular)
        return std::unexpected(Fault{"there is no such file, or it is none", file.string(), {}, {}, {}});
    auto const too_large = [&](std::uint64_t size) {
        return std::unexpected(Fault{"the file is too large", file.string(), fmt::format("{} bytes", size),
                                     fmt::format("at most {}", most), "save it smaller"});
    };
    auto const size = fs::file_size(file, error);
    if (error)
        return std::unexpected(Fault{"the file cannot be read", file.string(), error.message(), {}, {}});
    if (size > most) return too_large(size);
    std::ifstream in(file, std::ios::binary);
    std::string bytes(most + 1, '\0');
    in.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    bytes.resize(static_cast<std::size_t>(in.gcount()));
    if (!in.eof() && !in.good())
        return std::unexpected(Fault{"the file cannot be read", file.string(), {}, {}, {}});
    if (bytes.size() > most) return too_large(bytes.size());  // it grew meanwhile
    return bytes;
}

}  // namespace phasewright::commands
