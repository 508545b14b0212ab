#include "print/workbook/zip_parts.hpp"

#include <archive.h>
#include <archive_entry.h>

#include <array>
#include <memory>

namespace phasewright::workbook {

namespace {
using quantity::Fault;

struct Closer {
    void operator()(archive* opened) const { archive_read_free(opened); }
};

Fault broken(archive* opened, std::string const& file) {
    auto const* const why = archive_error_string(opened);
    return Fault{"the file is no ZIP container that can be unpacked", file, why == nullptr ? "" : why, "an XLSX file", {}};
}
Fault too_large(std::string const& file, std::string const& part, std::size_t most) {
    return Fault{"the file unpacks to more than is read", file + (part.empty() ? "" : " part " + part), {},
                 "at most " + std::to_string(most) + " bytes", "save the schedule alone in a file of its own"};
}
}  // namespace

std::expected<Parts, Fault> unpack(std::string_view bytes, std::string const& file, Limits const& limits) {
    if (bytes.size() > limits.bytes) return std::unexpected(too_large(file, {}, limits.bytes));
    std::unique_ptr<archive, Closer> const opened{archive_read_new()};
    if (!opened || archive_read_support_format_zip(opened.get()) != ARCHIVE_OK ||
        archive_read_open_memory(opened.get(), bytes.data(), bytes.size()) != ARCHIVE_OK)
        return std::unexpected(broken(opened.get(), file));
    Parts parts;
    std::size_t whole = 0;
    for (archive_entry* entry = nullptr;;) {
        int const next = archive_read_next_header(opened.get(), &entry);
        if (next == ARCHIVE_EOF) break;
        if (next != ARCHIVE_OK && next != ARCHIVE_WARN) return std::unexpected(broken(opened.get(), file));
        auto const* const given = archive_entry_pathname(entry);
        std::string const name = given == nullptr ? "" : given;
        if (parts.size() >= limits.parts)
            return std::unexpected(Fault{"the container has too many parts", file, {}, "at most " + std::to_string(limits.parts), {}});
        if (archive_entry_is_encrypted(entry) != 0)
            return std::unexpected(Fault{"the file is locked with a password", file, {}, "an XLSX file without one", {}});
        std::string part;
        std::array<char, 1U << 16U> some{};
        for (;;) {
            auto const count = archive_read_data(opened.get(), some.data(), some.size());
            if (count < 0) return std::unexpected(broken(opened.get(), file));
            if (count == 0) break;
            part.append(some.data(), static_cast<std::size_t>(count));
            whole += static_cast<std::size_t>(count);
            if (part.size() > limits.part_bytes) return std::unexpected(too_large(file, name, limits.part_bytes));
            if (whole > limits.bytes) return std::unexpected(too_large(file, {}, limits.bytes));
        }
        if (!parts.emplace(name, std::move(part)).second)
            return std::unexpected(Fault{"the container has two parts of one name", file, name, "each name once", {}});
    }
    return parts;
}

}  // namespace phasewright::workbook
