#include "app/commands/job_command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "app/commands/intake.hpp"
#include "app/commands/verify_command.hpp"
#include "records/schema/seal.hpp"

using namespace phasewright::commands;
namespace fs = std::filesystem;

namespace {

struct Folder {
    fs::path path = fs::temp_directory_path() / ("phasewright-job-" + phasewright::schema::drawn_hex(6));
    Folder() { fs::create_directories(path); }
    ~Folder() {
        std::error_code none;
        fs::remove_all(path, none);
    }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    [[nodiscard]] fs::path file(std::string const& name, std::string const& bytes) const {
        std::ofstream(path / name, std::ios::binary) << bytes;
        return path / name;
    }
};

struct Ran {
    int status = 0;
    std::string out, err;
};
template <class Command>
Ran run(Command const& command) {
    std::ostringstream out, err;
    int const status = command(out, err);
    return {status, out.str(), err.str()};
}

std::string const demo = std::string(PHASEWRIGHT_SOURCE_DIR) + "/demo/tallowmere-yard.plan.toml";

JobOptions options_in(Folder const& folder) {
    return {.job = (folder.path / "a.job").string(),
            .name = "Tallowmere Yard",
            .by = "Ada Marlow",
            .at = "2026-11-25T10:00:00+01:00",
            .device = "van-2",
            .keys_folder = folder.path / "keys"};
}

void make(JobOptions options) {
    options.plan_file = demo;
    auto const made = run([&](auto& out, auto& err) { return job_new_command(options, out, err); });
    CHECK(made.err == "");
    REQUIRE(made.status == 0);
}
Ran add(JobOptions options, std::string const& kind, fs::path const& file) {
    options.kind = kind;
    options.point = "gate";
    options.file = file;
    return run([&](auto& out, auto& err) { return job_add_command(options, out, err); });
}
Ran verify(JobOptions const& options, std::vector<std::string> heads = {}) {
    return run(
        [&](auto& out, auto& err) { return verify_command({options.job, std::move(heads)}, out, err); });
}
std::string plan_of(JobOptions const& options) {
    return run([&](auto& out, auto& err) { return job_plan_command(options, out, err); }).out;
}

// RFC 2083, chapter 3: a signature, chunks of a length, a type, data and a check; IHDR first, IEND last.
std::string png(std::string const& width, std::string const& height) {
    using namespace std::string_literals;
    return "\x89PNG\r\n\x1A\n\0\0\0\x0DIHDR"s + width + height +
           "\x08\x02\0\0\0....\0\0\0\0IEND\xAE\x42\x60\x82"s;
}
std::string jpeg() {
    using namespace std::string_literals;
    return "\xFF\xD8\xFF\xE0\0\x04pq\xFF\xC0\0\x0B\x08\0\x10\0\x20\x01\x01\x11\0scan\xFF\xD9"s;
}

}  // namespace

TEST_CASE("a job is made with its plan, added to, shown, logged and verified") {
    Folder const folder;
    auto const options = options_in(folder);
    make(options);
    CHECK(add(options, "note", folder.file("n.txt", "seal 1182 broken\n")).status == 0);
    CHECK(add(options, "photo",
              folder.file("p.bin", png(std::string("\0\0\0\x10", 4), std::string("\0\0\0\x20", 4))))
              .status == 0);
    auto const shown = run([&](auto& out, auto& err) { return job_show_command(options, out, err); });
    CHECK(shown.out.find("van-2: 4 entries") != std::string::npos);
    CHECK(shown.out.find("plan     version 1") != std::string::npos);
    auto const log = run([&](auto& out, auto& err) { return job_log_command(options, out, err); });
    CHECK(log.out.find("note  point gate  by Ada Marlow  text seal 1182 broken\\n") != std::string::npos);
    CHECK(log.out.find("file p.bin (image/png") != std::string::npos);
    auto const verified = verify(options);
    CHECK(verified.status == 0);
    auto const at = verified.out.find("unchanged since head ");
    REQUIRE(at != std::string::npos);
    auto const head = verified.out.substr(at + 21, 64);
    CHECK(verify(options, {head.substr(0, 16)}).status == 0);
    CHECK(verify(options, {std::string(16, '0')}).status == 1);
    CHECK(verify(options, {"xyz"}).status == 2);
    CHECK(run([&](auto& out, auto& err) { return job_new_command(options, out, err); }).err.find("already") !=
          std::string::npos);
}

TEST_CASE("the plan is kept as the plan writer gives it; undo and redo print what was") {
    Folder const folder;
    auto options = options_in(folder);
    make(options);
    auto const first = plan_of(options);
    CHECK(first.find("Tallowmere Yard") != std::string::npos);
    auto changed = options;
    auto text = first;
    text.replace(text.find("Tallowmere Yard"), 15, "Tallowmere Mews");
    changed.plan_file = folder.file("p.toml", "# a comment is not kept\n" + text);
    CHECK(run([&](auto& out, auto& err) { return job_plan_command(changed, out, err); }).status == 0);
    CHECK(plan_of(options) == text);
    CHECK(run([&](auto& out, auto& err) { return job_undo_command(options, false, out, err); }).status == 0);
    CHECK(plan_of(options) == first);
    CHECK(run([&](auto& out, auto& err) { return job_undo_command(options, false, out, err); }).status == 2);
    CHECK(run([&](auto& out, auto& err) { return job_undo_command(options, true, out, err); }).status == 0);
    CHECK(plan_of(options) == text);
    options.version = 1;
    CHECK(plan_of(options) == first);
    options.version = 5;
    CHECK(run([&](auto& out, auto& err) { return job_plan_command(options, out, err); }).status == 2);
}

TEST_CASE(
    "copies that were worked on apart are merged; where the plan was changed apart a person settles it") {
    Folder const folder;
    auto one = options_in(folder);
    make(one);
    auto two = one;
    two.job = (folder.path / "b.job").string();
    two.keys_folder = folder.path / "keys-2";
    one.other = two.job;
    CHECK(run([&](auto& out, auto& err) { return job_copy_command(one, out, err); }).status == 0);
    auto const first = plan_of(one);
    auto const change = [&](JobOptions options, std::string const& name) {
        auto text = first;
        text.replace(text.find("Tallowmere Yard"), 15, name);
        options.plan_file = folder.file(name + ".toml", text);
        return run([&](auto& out, auto& err) { return job_plan_command(options, out, err); }).status;
    };
    REQUIRE(change(one, "Mews") == 0);
    REQUIRE(change(two, "Lane") == 0);
    auto const merged = run([&](auto& out, auto& err) { return merge_command(one, out, err); });
    CHECK(merged.status == 0);
    CHECK(merged.out.find("2 entries and 1 files were new") != std::string::npos);
    CHECK(merged.out.find("nobody picks one for you") != std::string::npos);
    CHECK(change(one, "Other") == 2);
    one.file = folder.path / "Lane.toml";
    CHECK(run([&](auto& out, auto& err) { return job_settle_command(one, out, err); }).status == 0);
    CHECK(plan_of(one).find("Lane") != std::string::npos);
    CHECK(verify(one).status == 0);
}

TEST_CASE(
    "files that are not what they are said to be, too large or badly named are refused, and nothing is "
    "kept") {
    Folder const folder;
    auto const options = options_in(folder);
    make(options);
    auto const before = verify(options).out;
    auto const big = std::string("\x7f\xff\xff\xff", 4), none = std::string(4, '\0'),
               ten = std::string("\0\0\0\x0a", 4);
    for (auto const& [name, bytes] :
         std::vector<std::pair<std::string, std::string>>{{"text.jpg", "no image"},
                                                          {"empty.png", ""},
                                                          {"huge.png", png(big, ten)},
                                                          {"flat.png", png(ten, none)},
                                                          {"torn.png", png(ten, ten).substr(0, 40)},
                                                          {"torn.jpg", jpeg().substr(0, 20)},
                                                          {"script.svg", "<svg onload='x'/>"}}) {
        auto const ran = add(options, "photo", folder.file(name, bytes));
        CHECK_MESSAGE(ran.status == 2, name);
        CHECK(!ran.err.empty());
    }
    for (std::string const name :
         {"-rf", ".hidden", "a\nb", "a\x1b[2J", "a\\b", "\xE2\x80\xAEgnp.jpg", "\xff.jpg", "tab\tx"})
        CHECK_MESSAGE(add(options, "photo", folder.file(name, jpeg())).status == 2, name);
    CHECK(add(options, "photo", folder.file(std::string(121, 'a'), jpeg())).status == 2);
    CHECK(add(options, "photo", folder.path).status == 2);
    CHECK(add(options, "photo", folder.path / "none.jpg").status == 2);
    CHECK(add(options, "photo", "/dev/zero").status == 2);
    CHECK(add(options, "photo", folder.file("large.jpg", jpeg() + std::string(25 * 1024 * 1024, 'x')))
              .err.find("too large") != std::string::npos);
    CHECK(add(options, "reading", folder.file("r.jsonl", "{}\n")).status == 2);
    CHECK(add(options, "note", folder.file("n.txt", std::string("a\0b", 3))).status == 2);
    CHECK(add(options, "plan", folder.file("n.txt", "x")).status == 2);
    CHECK(add(options, "anything", folder.file("n.txt", "x")).status == 2);
    CHECK(verify(options).out == before);
}

TEST_CASE("images are known by their content") {
    CHECK(image_of(jpeg(), "a")->type == "image/jpeg");
    CHECK(image_of(jpeg(), "a")->width == 32);
    CHECK(image_of(jpeg(), "a")->height == 16);
    std::ifstream in(std::string(PHASEWRIGHT_SOURCE_DIR) + "/docs/first-job/report.png", std::ios::binary);
    std::ostringstream bytes;
    bytes << in.rdbuf();
    CHECK(image_of(bytes.str(), "a")->type == "image/png");
    for (std::size_t size = 0; size < jpeg().size(); ++size) CHECK(!image_of(jpeg().substr(0, size), "a"));
}

TEST_CASE("a job whose end was torn off is verified as damaged, and what can be read is exported") {
    Folder const folder;
    auto const options = options_in(folder);
    make(options);
    for (int k = 0; k < 30; ++k)
        REQUIRE(add(options, "note", folder.file("n.txt", std::string(3000, static_cast<char>('a' + k % 26))))
                    .status == 0);
    std::error_code none;
    fs::resize_file(options.job, fs::file_size(options.job) - 20'000, none);
    auto const verified = verify(options);
    CHECK(verified.status == 1);
    CHECK(verified.out.find("damaged: ") != std::string::npos);
    CHECK(add(options, "note", folder.file("n.txt", "x")).err.find("nothing can be added") !=
          std::string::npos);
    auto exporting = options;
    exporting.out = folder.path / "saved";
    auto const saved = run([&](auto& out, auto& err) { return job_export_command(exporting, out, err); });
    CHECK(saved.status == 0);
    CHECK(std::distance(fs::directory_iterator(folder.path / "saved"), fs::directory_iterator{}) > 10);
}
