// What ./test runs of a fuzz target: every file of the corpus as it is, then the same files spoiled by a seeded
// generator, so many rounds as asked for, the same bytes on every machine. libFuzzer, which looks for new paths, takes
// this file's place in the fuzz preset (./test --fuzz).
//   fuzz_NAME ROUNDS FOLDER...
#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

#include "tests/fuzz/fuzz_target.hpp"

namespace {

using Input = std::vector<std::uint8_t>;

constexpr std::size_t longest = 1U << 16U;

Input& now() {
    static Input input;
    return input;
}

void keep() {
    std::ofstream file("fuzz-last-input", std::ios::binary);
    for (auto const byte : now()) file.put(static_cast<char>(byte));
    std::cerr << "the input that ended it is in fuzz-last-input, " << now().size() << " bytes\n";
}

std::vector<Input> inputs_in(std::vector<std::filesystem::path> const& folders) {
    std::vector<std::filesystem::path> files;
    for (auto const& folder : folders)
        for (auto const& entry : std::filesystem::directory_iterator(folder))
            if (entry.is_regular_file()) files.push_back(entry.path());
    std::ranges::sort(files);
    std::vector<Input> inputs;
    for (auto const& path : files) {
        std::ifstream file(path, std::ios::binary);
        inputs.emplace_back(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
    }
    return inputs;
}

class Spoiler {
public:
    explicit Spoiler(std::vector<Input> const& seeds) : seeds_(seeds) {}

    Input next() {
        Input made = seeds_[below(seeds_.size())];
        for (auto changes = 1 + below(6); changes > 0; --changes) change(made);
        if (made.size() > longest) made.resize(longest);
        return made;
    }

private:
    std::size_t below(std::size_t limit) { return engine_() % limit; }

    void change(Input& made) {
        if (made.empty()) {
            made.push_back(static_cast<std::uint8_t>(below(256)));
            return;
        }
        auto const at = below(made.size());
        auto const place = made.begin() + static_cast<std::ptrdiff_t>(at);
        auto const length = 1 + below(std::min<std::size_t>(made.size() - at, 40));
        switch (below(8)) {
            case 0: made[at] ^= static_cast<std::uint8_t>(1U << below(8)); break;
            case 1: made[at] = static_cast<std::uint8_t>(below(256)); break;
            case 2: made[at] = std::array<std::uint8_t, 10>{0, 0xFF, 0x7F, 0x80, '"', '-', '9', '\n', ']', 'e'}.at(below(10)); break;
            case 3: made.erase(place, place + static_cast<std::ptrdiff_t>(length)); break;
            case 4: {
                Input const copy(place, place + static_cast<std::ptrdiff_t>(length));
                made.insert(made.begin() + static_cast<std::ptrdiff_t>(below(made.size() + 1)), copy.begin(), copy.end());
                break;
            }
            case 5: made.resize(at); break;
            case 6: made.insert(place, static_cast<std::uint8_t>(below(256))); break;
            default: {
                auto const& other = seeds_[below(seeds_.size())];
                if (other.empty()) break;
                auto const from = below(other.size());
                auto const count = std::min<std::size_t>(other.size() - from, 1 + below(60));
                auto const begin = other.begin() + static_cast<std::ptrdiff_t>(from);
                made.insert(place, begin, begin + static_cast<std::ptrdiff_t>(count));
                break;
            }
        }
    }

    std::vector<Input> const& seeds_;
    std::mt19937 engine_{20061028};
};

void run(Input input) {
    now() = std::move(input);
    // A copy of exactly this size, so that a sanitizer sees the first byte beyond it.
    Input const exact(now());
    LLVMFuzzerTestOneInput(exact.data(), exact.size());
}

}  // namespace

extern "C" void __sanitizer_set_death_callback(void (*callback)()) __attribute__((weak));

int main(int argc, char** argv) {
    if (argc < 3) {
        std::cerr << "fuzz_NAME ROUNDS FOLDER...\n";
        return 2;
    }
    if (__sanitizer_set_death_callback != nullptr) __sanitizer_set_death_callback(keep);
    std::set_terminate([] {
        keep();
        std::abort();
    });
    auto const seeds = inputs_in({argv + 2, argv + argc});
    if (seeds.empty()) {
        std::cerr << "the corpus is empty\n";
        return 1;
    }
    for (auto const& seed : seeds) run(seed);
    Spoiler spoiler(seeds);
    long const rounds = std::strtol(argv[1], nullptr, 10);
    for (long round = 0; round < rounds; ++round) run(spoiler.next());
    std::cout << seeds.size() << " files and " << rounds << " spoiled ones\n";
    return 0;
}
