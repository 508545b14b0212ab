// The child is stood in for by a small shell script, so that what is tested is the handling of a process.
#include "app/commands/twin_child.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include <unistd.h>

using namespace phasewright::commands;

namespace {

struct Scene {
    std::filesystem::path folder;
    explicit Scene(std::string const& script) {
        std::string name = (std::filesystem::temp_directory_path() / "phasewright-test-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        folder = name;
        std::ofstream(folder / "child") << "#!/bin/sh\n" << script;
        std::filesystem::permissions(folder / "child", std::filesystem::perms::owner_all);
    }
    Scene(Scene const&) = delete;
    Scene& operator=(Scene const&) = delete;
    ~Scene() { std::filesystem::remove_all(folder); }
    [[nodiscard]] TwinCall call(double patience_s) const {
        return {folder / "child", folder / "plan", folder / "wired", folder / "profiles", patience_s};
    }
};

double seconds_since(std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

}  // namespace

TEST_CASE("the child is called with its files, waited for, and ends when the pipe closes") {
    Scene const scene(
        "[ \"$1\" = twin ] || exit 3\n"
        "echo \"[ports]\" > \"$5\"; echo \"tenant-3 = 5020\" >> \"$5\"\n"
        "echo ready\ncat > /dev/null\necho over > \"$2\"\n");
    {
        auto child = TwinChild::start(scene.call(10.0));
        REQUIRE(child.has_value());
        CHECK(child->ports() == "[ports]\ntenant-3 = 5020\n");
        CHECK_FALSE(std::filesystem::exists(scene.folder / "plan"));
    }
    CHECK(
        std::filesystem::exists(scene.folder / "plan"));  // written after its input closed, before we went on
}

TEST_CASE("a child that ends before it is ready is a fault, at once") {
    Scene const scene("exit 2\n");
    auto const start = std::chrono::steady_clock::now();
    auto const child = TwinChild::start(scene.call(20.0));
    REQUIRE_FALSE(child.has_value());
    CHECK(child.error().what == "the virtual meters did not start");
    CHECK(seconds_since(start) < 10.0);
}

TEST_CASE("a child that says other things and never gets ready is given up") {
    Scene const scene("echo not ready yet\ncat > /dev/null\n");
    auto const start = std::chrono::steady_clock::now();
    CHECK_FALSE(TwinChild::start(scene.call(0.3)).has_value());
    CHECK(seconds_since(start) < 10.0);
}

TEST_CASE("an executable that is not there is a fault that names it") {
    Scene const scene("exit 0\n");
    auto call = scene.call(1.0);
    call.executable = scene.folder / "nobody";
    auto const child = TwinChild::start(call);
    REQUIRE_FALSE(child.has_value());
    CHECK(child.error().where.find("nobody") != std::string::npos);
}
