#include "app/commands/whole_file.hpp"

#include <fstream>
#include <sstream>
#include <system_error>

namespace phasewright::commands {

using quantity::Fault;

std::expected<std::string, Fault> text_of(std::filesystem::path const& file, std::string const& what) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    if (in) text << in.rdbuf();
    if (!in || !text)
        return std::unexpected(Fault{"the file of " + what + " cannot be read, or it is empty",
                                     file.string(),
                                     {},
                                     {},
                                     "look at its name, its size and your rights"});
    return text.str();
}

std::expected<void, Fault> write_whole(std::filesystem::path const& file, std::string const& text, std::string const& what,
                                       std::string const& remedy) {
    auto const part = std::filesystem::path(file.string() + ".part");
    std::error_code error;
    {
        std::ofstream out(part, std::ios::binary | std::ios::trunc);
        out << text;
        out.close();
        if (!out) error = std::make_error_code(std::errc::io_error);
    }
    if (!error) std::filesystem::rename(part, file, error);
    if (!error) return {};
    std::error_code none;
    std::filesystem::remove(part, none);
    return std::unexpected(Fault{"the " + what + " cannot be written", file.string(), error.message(), {}, remedy});
}

}  // namespace phasewright::commands
