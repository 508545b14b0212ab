// The journal on a disk. A line that is not on the disk did not happen: fsync before the meter is asked
// anything more.
#include <cerrno>
#include <system_error>

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include "bus/program/journal.hpp"

namespace phasewright::program {

namespace {

using quantity::Fault;

class JournalFile final : public Journal {
public:
    JournalFile(int file, std::string name) : file_(file), name_(std::move(name)) {}
    JournalFile(JournalFile const&) = delete;
    JournalFile& operator=(JournalFile const&) = delete;
    JournalFile(JournalFile&&) = delete;
    JournalFile& operator=(JournalFile&&) = delete;
    ~JournalFile() override { ::close(file_); }

    std::expected<void, Fault> append(std::string const& line) override {
        auto const text = line + '\n';
        std::size_t done = 0;
        while (done < text.size()) {
            auto const count = ::write(file_, text.data() + done, text.size() - done);
            if (count < 0 && errno == EINTR) continue;
            if (count <= 0) return failed();
            done += static_cast<std::size_t>(count);
        }
        if (::fsync(file_) != 0) return failed();
        return {};
    }

private:
    [[nodiscard]] std::expected<void, Fault> failed() const {
        return std::unexpected(
            Fault{.what = "the settings journal cannot be written, so nothing is written to the meter",
                  .where = name_,
                  .found = std::generic_category().message(errno),
                  .allowed = "a file that takes another line",
                  .remedy = "make room on the disk, or name another file with --journal"});
    }

    int file_;
    std::string name_;
};

bool ends_whole(int file) {
    auto const size = ::lseek(file, 0, SEEK_END);
    char last = '\n';
    return size <= 0 || (::pread(file, &last, 1, size - 1) == 1 && last == '\n');
}

}  // namespace

std::expected<std::unique_ptr<Journal>, Fault> journal_file(std::filesystem::path const& file) {
    auto const refuse = [&](std::string what, std::string remedy) {
        return std::unexpected(Fault{.what = std::move(what),
                                     .where = file.string(),
                                     .found = std::generic_category().message(errno),
                                     .allowed = "a file that one program writes at a time",
                                     .remedy = std::move(remedy)});
    };
    int const opened = ::open(file.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (opened < 0)
        return refuse("the settings journal cannot be opened", "name another file with --journal");
    auto journal = std::make_unique<JournalFile>(opened, file.string());
    if (::flock(opened, LOCK_EX | LOCK_NB) != 0)
        return refuse("another program has the settings journal", "wait until it has ended");
    if (!ends_whole(opened) && ::write(opened, "\n", 1) != 1)
        return refuse("the settings journal cannot be written", "name another file with --journal");
    // The file's name must be on the disk too, or the whole journal is lost with the power.
    auto const folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
    int const directory = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (directory >= 0) {
        ::fsync(directory);
        ::close(directory);
    }
    return journal;
}

}  // namespace phasewright::program
