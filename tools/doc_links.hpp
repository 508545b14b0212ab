// Finds documents that are named and do not exist: a link in a page, or "docs/..." in the comment of a
// source. The top of a file teaches by pointing at a page; a page that moved away teaches nothing.
#pragma once
#include <filesystem>
#include <string>
#include <vector>

namespace phasewright::tools {

struct DeadLink {
    std::string file;  // from the root
    int line = 0;
    std::string target;  // as it was written
};

[[nodiscard]] std::vector<DeadLink> dead_links_below(std::filesystem::path const& root);

// The paths that `line` names: [words](path) when `is_page`, and docs/... anywhere. Addresses on the web and
// places within the same page are no paths.
[[nodiscard]] std::vector<std::string> paths_named_in(std::string const& line, bool is_page);

}  // namespace phasewright::tools
