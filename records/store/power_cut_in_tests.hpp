// A disk whose power can be cut, as a VFS of SQLite (https://www.sqlite.org/vfs.html). It keeps what was
// synced. Of what was only written, each sector may or may not have reached it, in any order, and one may be
// torn: spoilt from end to end, with what lay beside the write in it. Files made and deleted without a sync
// may be there or not. One connection at a time.
#pragma once
#include <algorithm>
#include <array>
#include <cstring>
#include <map>
#include <memory>
#include <random>
#include <string>
#include <vector>

#include <sqlite3.h>

namespace phasewright::store {

class CutDisk {
public:
    explicit CutDisk(unsigned seed) : dice_(seed), name_("cut-disk-" + std::to_string(++made())) {
        auto const* const usual = sqlite3_vfs_find(nullptr);
        vfs_ = *usual;
        vfs_.iVersion = 2;
        vfs_.szOsFile = static_cast<int>(sizeof(Handle));
        vfs_.zName = name_.c_str();
        vfs_.pAppData = this;
        vfs_.pNext = nullptr;
        vfs_.xOpen = open;
        vfs_.xDelete = remove;
        vfs_.xAccess = access;
        vfs_.xFullPathname = full_name;
        sqlite3_vfs_register(&vfs_, 0);
    }
    ~CutDisk() { sqlite3_vfs_unregister(&vfs_); }
    CutDisk(CutDisk const&) = delete;
    CutDisk& operator=(CutDisk const&) = delete;

    [[nodiscard]] std::string const& name() const { return name_; }
    [[nodiscard]] long calls() const { return calls_; }
    [[nodiscard]] bool is_off() const { return off_; }
    void cut_after(long calls) { cut_at_ = calls_ + calls; }
    void take_at_most(std::size_t bytes) { capacity_ = bytes; }  // more is "disk full"
    void lie_about_syncs() { lies_ = true; }
    std::mt19937& dice() { return dice_; }

    // What the power cut left behind, and the power on again.
    void restart() {
        unsigned const share = std::array{0U, 30U, 50U, 90U, 100U}[dice_() % 5];
        std::size_t const sector = dice_() % 2 == 0 ? 512 : 4096;
        for (auto& [name, file] : files_) {
            leave(*file, share, sector);
            if (file->on_disk || !file->before) continue;
            file = file->before;
            leave(*file, share, sector);
        }
        std::erase_if(files_, [](auto const& one) { return !one.second->on_disk; });
        off_ = false;
        cut_at_ = -1;
    }

private:
    struct Write {
        std::size_t at = 0;
        std::string bytes;
        bool cuts_length = false;  // a truncation to `at`
    };
    struct File {
        std::string synced, now;
        bool on_disk = false, is_there = true;  // its name: synced, and now
        std::vector<Write> pending;
        std::vector<std::unique_ptr<std::array<char, 32768>>> shared;
        std::shared_ptr<File> before;  // what the name meant on the disk until this one is synced
    };
    struct Handle {
        sqlite3_file base;
        CutDisk* disk;
        std::shared_ptr<File>* file;
        bool goes_on_close;
    };

    static int& made() {
        static int count = 0;
        return count;
    }
    static CutDisk& of(sqlite3_vfs* vfs) { return *static_cast<CutDisk*>(vfs->pAppData); }
    static Handle& of(sqlite3_file* file) { return *reinterpret_cast<Handle*>(file); }

    // Every call passes here; from the cut on all of them fail.
    bool works() {
        if (++calls_ == cut_at_) off_ = true;
        return !off_;
    }

    static void put(std::string& content, Write const& write) {
        if (write.cuts_length) {
            if (write.at < content.size()) content.resize(write.at);
            return;
        }
        if (content.size() < write.at + write.bytes.size())
            content.resize(write.at + write.bytes.size(), '\0');
        std::ranges::copy(write.bytes, content.begin() + static_cast<std::ptrdiff_t>(write.at));
    }

    static std::vector<Write> in_sectors(std::vector<Write> const& writes, std::size_t sector) {
        std::vector<Write> parts;
        for (auto const& write : writes) {
            if (write.cuts_length) parts.push_back(write);
            for (std::size_t done = 0; done < write.bytes.size();) {
                auto const at = write.at + done;
                auto const size = std::min(sector - at % sector, write.bytes.size() - done);
                parts.push_back({at, write.bytes.substr(done, size)});
                done += size;
            }
        }
        return parts;
    }

    void leave(File& file, unsigned share, std::size_t sector) {
        auto const may = [&] { return dice_() % 100 < share; };
        if (file.is_there != file.on_disk && may()) file.on_disk = file.is_there;
        auto parts = in_sectors(file.pending, sector);
        std::ranges::shuffle(parts, dice_);
        auto content = file.synced;
        std::size_t const torn = parts.empty() ? 0 : dice_() % (2 * parts.size());
        for (std::size_t k = 0; k < parts.size(); ++k) {
            if (k == torn && !parts[k].cuts_length) {
                auto const from = parts[k].at / sector * sector;
                Write spoilt{from, std::string(sector, '\0')};
                for (auto& c : spoilt.bytes) c = static_cast<char>(dice_() % 256);
                put(content, spoilt);
            } else if (may()) {
                put(content, parts[k]);
            }
        }
        file.synced = content;
        file.now = content;
        file.pending.clear();
        file.shared.clear();
        file.is_there = file.on_disk;
    }

    std::size_t used() const {
        std::size_t bytes = 0;
        for (auto const& [name, file] : files_) bytes += file->now.size();
        return bytes;
    }

    static int open(sqlite3_vfs* vfs, char const* name, sqlite3_file* into, int flags, int* flags_out) {
        auto& disk = of(vfs);
        auto& handle = of(into);
        handle.base.pMethods = nullptr;
        if (!disk.works()) return SQLITE_IOERR;
        auto const key = name == nullptr ? "temporary-" + std::to_string(disk.calls_) : std::string(name);
        auto& file = disk.files_[key];
        bool const is_there = file && file->is_there;
        if (!is_there && (flags & SQLITE_OPEN_CREATE) == 0) return SQLITE_CANTOPEN;
        if (!is_there) {  // a new file under the name, not the old one emptied
            auto fresh = std::make_shared<File>();
            if (file) fresh->before = file->on_disk ? file : file->before;
            file = fresh;
        }
        handle.disk = &disk;
        handle.file = new std::shared_ptr<File>(file);
        handle.goes_on_close = (flags & SQLITE_OPEN_DELETEONCLOSE) != 0;
        handle.base.pMethods = methods();
        if (flags_out != nullptr) *flags_out = flags;
        return SQLITE_OK;
    }
    static int remove(sqlite3_vfs* vfs, char const* name, int sync) {
        auto& disk = of(vfs);
        if (!disk.works()) return SQLITE_IOERR_DELETE;
        auto const found = disk.files_.find(name);
        if (found == disk.files_.end() || !found->second->is_there) return SQLITE_IOERR_DELETE_NOENT;
        auto& file = *found->second;
        file.is_there = false;
        if (sync != 0 && !disk.lies_) {
            file.on_disk = false;
            file.before.reset();
        }
        return SQLITE_OK;
    }
    static int access(sqlite3_vfs* vfs, char const* name, int, int* result) {
        auto& disk = of(vfs);
        if (!disk.works()) return SQLITE_IOERR_ACCESS;
        auto const found = disk.files_.find(name);
        *result = found != disk.files_.end() && found->second->is_there ? 1 : 0;
        return SQLITE_OK;
    }
    static int full_name(sqlite3_vfs*, char const* name, int size, char* out) {
        sqlite3_snprintf(size, out, "%s", name);
        return SQLITE_OK;
    }

    static int close(sqlite3_file* base) {
        auto& handle = of(base);
        if (handle.goes_on_close) (*handle.file)->is_there = false;
        delete handle.file;
        handle.base.pMethods = nullptr;
        return SQLITE_OK;
    }
    static int read(sqlite3_file* base, void* into, int size, sqlite3_int64 at) {
        auto& handle = of(base);
        if (!handle.disk->works()) return SQLITE_IOERR_READ;
        auto const& content = (*handle.file)->now;
        auto const from = static_cast<std::size_t>(at), wanted = static_cast<std::size_t>(size);
        auto const have = from < content.size() ? std::min(wanted, content.size() - from) : 0;
        if (have > 0) std::memcpy(into, content.data() + from, have);
        if (have == wanted) return SQLITE_OK;
        std::memset(static_cast<char*>(into) + have, 0, wanted - have);
        return SQLITE_IOERR_SHORT_READ;
    }
    static int write(sqlite3_file* base, void const* bytes, int size, sqlite3_int64 at) {
        auto& handle = of(base);
        auto& file = **handle.file;
        Write write{static_cast<std::size_t>(at),
                    std::string(static_cast<char const*>(bytes), static_cast<std::size_t>(size))};
        bool const fits = write.at + write.bytes.size() <= file.now.size() ||
                          handle.disk->used() + write.bytes.size() <= handle.disk->capacity_;
        bool const works = handle.disk->works();
        if (works && !fits) return SQLITE_FULL;
        file.pending.push_back(write);  // the write that the power fails in may still reach the disk
        if (!works) return SQLITE_IOERR_WRITE;
        put(file.now, write);
        return SQLITE_OK;
    }
    static int truncate(sqlite3_file* base, sqlite3_int64 size) {
        auto& handle = of(base);
        if (!handle.disk->works()) return SQLITE_IOERR_TRUNCATE;
        Write const write{static_cast<std::size_t>(size), {}, true};
        (*handle.file)->pending.push_back(write);
        put((*handle.file)->now, write);
        return SQLITE_OK;
    }
    static int sync(sqlite3_file* base, int) {
        auto& handle = of(base);
        auto& file = **handle.file;
        if (!handle.disk->works()) return SQLITE_IOERR_FSYNC;
        if (handle.disk->lies_) return SQLITE_OK;
        file.synced = file.now;
        file.pending.clear();
        file.on_disk = file.is_there;
        file.before.reset();
        return SQLITE_OK;
    }
    static int size(sqlite3_file* base, sqlite3_int64* size) {
        auto& handle = of(base);
        if (!handle.disk->works()) return SQLITE_IOERR_FSTAT;
        *size = static_cast<sqlite3_int64>((*handle.file)->now.size());
        return SQLITE_OK;
    }
    static int lock(sqlite3_file*, int) { return SQLITE_OK; }
    static int check_lock(sqlite3_file*, int* out) {
        *out = 0;
        return SQLITE_OK;
    }
    static int control(sqlite3_file*, int, void*) { return SQLITE_NOTFOUND; }
    static int sector_size(sqlite3_file*) { return 4096; }
    static int characteristics(sqlite3_file*) { return 0; }
    static int map_shared(sqlite3_file* base, int region, int, int make, void volatile** out) {
        auto& shared = (*of(base).file)->shared;
        auto const wanted = static_cast<std::size_t>(region);
        *out = nullptr;
        if (wanted >= shared.size() && make == 0) return SQLITE_OK;
        while (wanted >= shared.size()) shared.push_back(std::make_unique<std::array<char, 32768>>());
        *out = shared[wanted]->data();
        return SQLITE_OK;
    }
    static int lock_shared(sqlite3_file*, int, int, int) { return SQLITE_OK; }
    static void barrier(sqlite3_file*) {}
    static int unmap_shared(sqlite3_file* base, int gone) {
        if (gone != 0) (*of(base).file)->shared.clear();
        return SQLITE_OK;
    }
    static sqlite3_io_methods const* methods() {
        static sqlite3_io_methods const all{2,
                                            close,
                                            read,
                                            write,
                                            truncate,
                                            sync,
                                            size,
                                            lock,
                                            lock,
                                            check_lock,
                                            control,
                                            sector_size,
                                            characteristics,
                                            map_shared,
                                            lock_shared,
                                            barrier,
                                            unmap_shared,
                                            nullptr,
                                            nullptr};
        return &all;
    }

    std::mt19937 dice_;
    std::string name_;
    sqlite3_vfs vfs_{};
    std::map<std::string, std::shared_ptr<File>> files_;
    long calls_ = 0, cut_at_ = -1;
    bool off_ = false, lies_ = false;
    std::size_t capacity_ = static_cast<std::size_t>(-1) / 2;
};

}  // namespace phasewright::store
