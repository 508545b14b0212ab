#include "records/store/device_key.hpp"

#include <array>
#include <cerrno>
#include <cstdlib>
#include <optional>
#include <string_view>
#include <system_error>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "records/schema/text_form.hpp"

namespace phasewright::store {

using quantity::Fault;
namespace fs = std::filesystem;

namespace {

constexpr std::string_view first_line = "phasewright device key 1\n";

class File {
public:
    File(fs::path const& path, int flags, mode_t mode = 0)
        : handle_(::open(path.c_str(), flags | O_CLOEXEC, mode)) {}
    File(File const&) = delete;
    File& operator=(File const&) = delete;
    ~File() {
        if (handle_ >= 0) ::close(handle_);
    }
    [[nodiscard]] int handle() const { return handle_; }
    [[nodiscard]] bool is_open() const { return handle_ >= 0; }

private:
    int handle_;
};

std::unexpected<Fault> failed(std::string what, fs::path const& file, int error, std::string remedy) {
    return std::unexpected(Fault{std::move(what),
                                 file.string(),
                                 error == 0 ? "" : std::generic_category().message(error),
                                 {},
                                 std::move(remedy)});
}

std::optional<std::string_view> line_after(std::string_view& text, std::string_view key) {
    auto const end = text.find('\n');
    if (!text.starts_with(key) || end == std::string_view::npos) return std::nullopt;
    auto const value = text.substr(key.size(), end - key.size());
    text.remove_prefix(end + 1);
    return value;
}

std::expected<DeviceKey, Fault> read_key(fs::path const& file) {
    File const in(file, O_RDONLY | O_NOFOLLOW);
    if (!in.is_open()) return failed("the device's key cannot be read", file, errno, "look at its rights");
    struct stat facts{};
    if (::fstat(in.handle(), &facts) != 0 || !S_ISREG(facts.st_mode))
        return failed("the device's key is no file", file, 0, {});
    if ((facts.st_mode & 077U) != 0)
        return failed("others can read the device's key, so it proves nothing", file, 0,
                      "chmod 600 the file, and ask who read it");
    std::array<char, 1024> buffer{};
    auto const size = ::read(in.handle(), buffer.data(), buffer.size());
    std::string_view text(buffer.data(), size > 0 ? static_cast<std::size_t>(size) : 0);
    DeviceKey found;
    schema::Seed seed{};
    auto const form = line_after(text, first_line.substr(0, first_line.size() - 1));
    auto const name = line_after(text, "name ");
    auto const secret = line_after(text, "seed ");
    auto const meant = name ? schema::unescaped(*name) : std::nullopt;
    if (!form || !form->empty() || !meant || !secret || !schema::bytes_of(*secret, seed) || !text.empty())
        return failed("the device's key is not understood", file, 0,
                      "put back a copy of it, or move it away: a new one begins a new chain");
    found.name = *meant;
    found.key = schema::key_pair_of(seed);
    return found;
}

// Written whole under another name, then linked: of two programs that start at once one wins, and both use
// its key.
std::expected<void, Fault> make_key(fs::path const& file, std::string const& name) {
    auto const part = fs::path(file.string() + ".making-" + schema::drawn_hex(4));
    auto const text = std::string(first_line) + "name " + schema::escaped(name) + "\nseed " +
                      schema::hex_of(schema::drawn_seed()) + "\n";
    int error = 0;
    {
        File const out(part, O_WRONLY | O_CREAT | O_EXCL, 0600);
        bool const written = out.is_open() && ::write(out.handle(), text.data(), text.size()) ==
                                                  static_cast<ssize_t>(text.size());
        if (!written || ::fsync(out.handle()) != 0) error = errno == 0 ? EIO : errno;
    }
    if (error == 0 && ::link(part.c_str(), file.c_str()) != 0 && errno != EEXIST) error = errno;
    ::unlink(part.c_str());
    File const folder(file.parent_path(), O_RDONLY | O_DIRECTORY);
    if (error == 0 && folder.is_open() && ::fsync(folder.handle()) != 0) error = errno;
    if (error != 0)
        return failed("the device's key cannot be written", file, error,
                      "look at the folder, its rights and its free space");
    return {};
}

}  // namespace

fs::path config_folder() {
    // Read before any thread is started.
    char const* const config = std::getenv("XDG_CONFIG_HOME");  // NOLINT(concurrency-mt-unsafe)
    if (config != nullptr && *config == '/') return fs::path(config) / "phasewright";
    char const* const home = std::getenv("HOME");  // NOLINT(concurrency-mt-unsafe)
    if (home != nullptr && *home == '/') return fs::path(home) / ".config" / "phasewright";
    return {};
}

std::expected<DeviceKey, Fault> device_key_in(fs::path const& folder, std::string const& name) {
    if (folder.empty())
        return std::unexpected(Fault{"it is not known where the device's key is kept",
                                     "XDG_CONFIG_HOME, HOME",
                                     {},
                                     "a folder",
                                     "set one of the two, or give --keys"});
    if (name.empty() || name.size() > 120 || !schema::may_stand(name))
        return std::unexpected(
            Fault{"the device's name cannot be used", "device", {}, "1 to 120 bytes of text", {}});
    std::error_code error;
    if (!fs::exists(folder, error)) {
        fs::create_directories(folder.parent_path(), error);
        if (::mkdir(folder.c_str(), 0700) != 0 && errno != EEXIST)
            return failed("the folder of the device's key cannot be made", folder, errno,
                          "look at its rights");
    }
    auto const file = folder / "device.key";
    if (!fs::exists(fs::symlink_status(file, error)))
        if (auto const made = make_key(file, name); !made) return std::unexpected(made.error());
    return read_key(file);
}

}  // namespace phasewright::store
