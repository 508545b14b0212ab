#include "tools/doc_links.hpp"

#include <algorithm>
#include <array>
#include <fstream>
#include <regex>
#include <set>
#include <string_view>

namespace phasewright::tools {
namespace {

constexpr std::array<std::string_view, 7> read_extensions{".md",   ".hpp", ".cpp",  ".toml",
                                                          ".case", ".txt", ".cmake"};
constexpr std::array<std::string_view, 4> skipped_folders{"build", "out", "node_modules", ".git"};

bool is_skipped(std::filesystem::path const& folder) {
    auto const name = folder.filename().string();
    return std::ranges::find(skipped_folders, name) != skipped_folders.end();
}

bool is_read(std::filesystem::path const& file) {
    auto const extension = file.extension().string();
    return std::ranges::find(read_extensions, extension) != read_extensions.end();
}

// A link of a page starts at the page; everything else starts at the root.
bool exists_from(std::filesystem::path const& root, std::filesystem::path const& page,
                 std::string const& target) {
    return std::filesystem::exists(page.parent_path() / target) || std::filesystem::exists(root / target);
}

std::vector<DeadLink> dead_links_in(std::filesystem::path const& root, std::filesystem::path const& file) {
    std::vector<DeadLink> dead;
    std::ifstream in(file);
    std::string line;
    for (int number = 1; std::getline(in, line); ++number) {
        for (auto const& target : paths_named_in(line, file.extension() == ".md")) {
            if (exists_from(root, file, target)) continue;
            dead.push_back({file.lexically_relative(root).generic_string(), number, target});
        }
    }
    return dead;
}

}  // namespace

std::vector<std::string> paths_named_in(std::string const& line, bool is_page) {
    static std::regex const link(R"(\]\(([^)#\s]+)(#[^)]*)?\))");
    static std::regex const document(R"(\bdocs/[A-Za-z0-9_./-]*[A-Za-z0-9_-]\.(md|png|svg|html))");
    std::set<std::string> paths;
    if (is_page) {
        for (std::sregex_iterator at(line.begin(), line.end(), link), end; at != end; ++at) {
            auto const target = (*at)[1].str();
            if (target.find(':') == std::string::npos) paths.insert(target);
        }
    }
    for (std::sregex_iterator at(line.begin(), line.end(), document), end; at != end; ++at) {
        paths.insert(at->str());
    }
    return {paths.begin(), paths.end()};
}

std::vector<DeadLink> dead_links_below(std::filesystem::path const& root) {
    std::vector<DeadLink> dead;
    std::filesystem::recursive_directory_iterator at(root);
    for (auto const end = std::filesystem::end(at); at != end; ++at) {
        if (at->is_directory() && is_skipped(at->path())) {
            at.disable_recursion_pending();
        } else if (at->is_regular_file() && is_read(at->path()) &&
                   !at->path().string().ends_with("_test.cpp")) {
            auto const found = dead_links_in(root, at->path());
            dead.insert(dead.end(), found.begin(), found.end());
        }
    }
    std::ranges::sort(dead, {}, [](DeadLink const& link) { return std::pair(link.file, link.line); });
    return dead;
}

}  // namespace phasewright::tools
