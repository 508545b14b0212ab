// The command over files: what it prints, what it writes, what it refuses.
#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "app/commands/decode_command.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/decoder/register_dump.hpp"
#include "bus/profile/encode.hpp"

namespace phasewright::commands {

namespace {

struct Folder {
    std::filesystem::path path = std::filesystem::temp_directory_path() / "phasewright-decode-test";
    Folder() { std::filesystem::create_directories(path); }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    Folder(Folder&&) = delete;
    Folder& operator=(Folder&&) = delete;
    ~Folder() { std::filesystem::remove_all(path); }
    [[nodiscard]] std::string file(char const* name, std::string const& text = {}) const {
        auto const place = (path / name).string();
        if (!text.empty()) std::ofstream(place, std::ios::binary) << text;
        return place;
    }
};

std::string const wexby = std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles/wexby-w2.toml";

// P = V I cos phi, Q = V I sin phi by hand, cos phi 0.92, 0.88 and 0.95.
std::string dump_of(std::string const& profile_file) {
    auto const profile = profile::read_profile_file(profile_file).value();
    readings::Snapshot const shown{.v = {231.3, 228.9, 232.6},
                                   .i = {41.24, 12.71, 29.93},
                                   .p = {8776.0, 2560.2, 6613.7},
                                   .q = {3738.5, 1381.8, 2173.8},
                                   .pf = {0.92, 0.88, 0.95},
                                   .v_ll = {398.5, 399.7, 401.8},
                                   .hz = 50.02,
                                   .p_total = 17949.9,
                                   .q_total = 7294.1};
    return decoder::to_text({{profile::encode(profile, shown, {}), std::nullopt}});
}

}  // namespace

TEST_CASE("decode names the quantities of a dump and writes a profile that then fits it") {
    Folder const folder;
    DecodeOptions options{.dump_files = {folder.file("a.dump", dump_of(wexby))}, .nominal = "230/400", .current = "10-60"};
    options.propose_file = folder.file("p.toml");
    std::ostringstream out;
    std::ostringstream err;
    CHECK(decode_command(options, out, err) == 0);
    CHECK(err.str().empty());
    CHECK(out.str().find("3:1840,1842,1844  uint32, low word first x 0.01") != std::string::npos);
    DecodeOptions const again{.dump_files = options.dump_files, .nominal = "230/400", .profile_file = options.propose_file};
    std::ostringstream verdict;
    CHECK(decode_command(again, verdict, err) == 0);
    CHECK(verdict.str().find("It fits as it is") != std::string::npos);
}

TEST_CASE("decode says which single change makes a profile fit, in words and as JSON") {
    Folder const folder;
    auto text = text_of(wexby, "profile").value();
    text.replace(text.find("\"low-first\""), 11, "\"high-first\"");
    DecodeOptions options{.dump_files = {folder.file("a.dump", dump_of(wexby))}, .nominal = "230/400"};
    options.profile_file = folder.file("wrong.toml", text);
    std::ostringstream out;
    std::ostringstream err;
    CHECK(decode_command(options, out, err) == 0);
    CHECK(out.str().find("the words of long numbers the other way round") != std::string::npos);
    options.json = true;
    std::ostringstream json;
    CHECK(decode_command(options, json, err) == 0);
    CHECK(json.str().find(R"("changes":[{"kind":"word_order")") != std::string::npos);
}

TEST_CASE("decode refuses what it cannot judge, and says what is allowed") {
    Folder const folder;
    auto const dump = folder.file("a.dump", "3,1,2\n");
    auto const refused = [](DecodeOptions const& options) {
        std::ostringstream out;
        std::ostringstream err;
        CHECK(decode_command(options, out, err) == 2);
        return err.str();
    };
    CHECK(refused({.dump_files = {dump}, .nominal = "four"}).find("--nominal") != std::string::npos);
    CHECK(refused({.dump_files = {dump}, .nominal = "230/100"}).find("--nominal") != std::string::npos);
    CHECK(refused({.dump_files = {dump}, .nominal = "230", .current = "60-5"}).find("--current") != std::string::npos);
    CHECK(refused({.dump_files = {dump}, .nominal = "230", .phases = 4}).find("--phases") != std::string::npos);
    CHECK(refused({.nominal = "230"}).find("--dump") != std::string::npos);
    CHECK(refused({.dump_files = {folder.file("none")}, .nominal = "230"}).find("none") != std::string::npos);
    CHECK(refused({.read_from = "127.0.0.1:x", .count = 5}).find("--read") != std::string::npos);
    CHECK(refused({.read_from = "127.0.0.1:502", .count = 0}).find("--count") != std::string::npos);
    CHECK(refused({.read_from = "/dev/none", .unit = 0, .count = 5}).find("--unit") != std::string::npos);
}

}  // namespace phasewright::commands
