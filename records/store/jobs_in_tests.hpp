// Jobs, devices and folders for the tests of the store.
#pragma once
#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <string>

#include "records/store/job.hpp"
#include "records/store/sqlite_store.hpp"

namespace phasewright::store {

struct TestFolder {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / ("phasewright-records-" + schema::drawn_hex(6));
    TestFolder() { std::filesystem::create_directories(path); }
    ~TestFolder() {
        std::error_code none;
        std::filesystem::remove_all(path, none);
    }
    TestFolder(TestFolder const&) = delete;
    TestFolder& operator=(TestFolder const&) = delete;
    [[nodiscard]] std::string file(std::string const& name) const { return (path / name).string(); }
};

inline DeviceKey test_device(unsigned char which) {
    schema::Seed seed{};
    seed.fill(which);
    return {"van-" + std::to_string(which), schema::key_pair_of(seed)};
}

inline schema::JobFacts test_facts() {
    return {std::string(32, 'a'), "Tallowmere Yard", "2026-11-25T08:00:00Z"};
}

inline std::string test_time(int second) {
    auto const two = [](int n) {
        return std::string{static_cast<char>('0' + n / 10), static_cast<char>('0' + n % 10)};
    };
    return "2026-11-25T" + two(9 + second / 3600 % 12) + ":" + two(second / 60 % 60) + ":" +
           two(second % 60) + "+01:00";
}

inline schema::Draft note(int second, std::string text) {
    return {.time = test_time(second),
            .kind = schema::Kind::note,
            .by = "Ada Marlow",
            .point = "gate",
            .fields = {{"text", std::move(text)}}};
}

inline std::set<schema::Hash> hashes_in(Store& store) {
    std::set<schema::Hash> hashes;
    auto const contents = store.contents();
    REQUIRE(contents);
    for (auto const& kept : contents->entries) hashes.insert(kept.hash);
    return hashes;
}

inline std::string sentence(auto const& result) {
    return result ? std::string{} : quantity::to_sentence(result.error());
}

}  // namespace phasewright::store
