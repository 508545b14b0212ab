#include "records/store/new_file.hpp"

#include <cerrno>
#include <filesystem>
#include <system_error>

#include <fcntl.h>
#include <unistd.h>

#include "records/schema/seal.hpp"

namespace phasewright::store {

using quantity::Fault;
namespace fs = std::filesystem;

namespace {

// What was written reaches the disk: of a file its bytes, of a folder its names.
int synced(std::string const& path) {
    int const handle = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (handle < 0) return errno;
    int const failed = ::fsync(handle) == 0 ? 0 : errno;
    ::close(handle);
    return failed;
}

// link() fails where the name is taken; a disk without hard links gets the nearest thing.
int named(std::string const& part, std::string const& file) {
    if (::link(part.c_str(), file.c_str()) == 0) {
        ::unlink(part.c_str());
        return 0;
    }
    if (errno != EPERM && errno != EOPNOTSUPP && errno != ENOSYS) return errno;
    std::error_code none;
    if (fs::exists(fs::symlink_status(file, none))) return EEXIST;
    return ::rename(part.c_str(), file.c_str()) == 0 ? 0 : errno;
}

}  // namespace

Fault already_there(std::string const& file) {
    return {"there is a file of that name already", file, {}, {}, "give the job another name"};
}

std::expected<void, Fault> make_whole(
    std::string const& file, std::function<std::expected<void, Fault>(std::string const&)> const& fill) {
    std::error_code none;
    if (fs::exists(fs::symlink_status(file, none))) return std::unexpected(already_there(file));
    auto const part = file + ".making-" + schema::drawn_hex(4);
    auto filled = fill(part);
    int failed = 0;
    if (filled) failed = synced(part);
    if (filled && failed == 0) failed = named(part, file);
    if (filled && failed == 0) {
        auto const folder = fs::path(file).parent_path();
        failed = synced(folder.empty() ? "." : folder.string());
    }
    for (auto const* const tail : {"", "-wal", "-shm", "-journal"}) fs::remove(part + tail, none);
    if (!filled) return filled;
    if (failed == EEXIST) return std::unexpected(already_there(file));
    if (failed != 0)
        return std::unexpected(Fault{"the file cannot be made",
                                     file,
                                     std::generic_category().message(failed),
                                     {},
                                     "look at the folder, its rights and its free space"});
    return {};
}

}  // namespace phasewright::store
