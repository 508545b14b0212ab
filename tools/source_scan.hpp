// Reads one C++ source as far as the keepers of the house rules need it: which headers it includes on which
// line, and its code with the comments and the contents of literals blanked out, so that a word in a sentence
// is no offence.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::tools {

struct Include {
    std::string path;     // as written between the marks
    bool quoted = false;  // "path" rather than <path>
    int line = 0;         // from 1
};

struct ScannedSource {
    std::vector<Include> includes;
    std::string code;  // same lines as the text; comments and literals are spaces
};

[[nodiscard]] ScannedSource scan(std::string_view text);

// The first line of `code` on which `word` stands as a whole word; 0 when there is none.
[[nodiscard]] int line_of_word(std::string_view code, std::string_view word);

}  // namespace phasewright::tools
