#include "core/chain/citation.hpp"

namespace phasewright::chain {

std::string words_of(Citation const& source) {
    std::string words = source.standard;
    if (!source.edition.empty()) words += ":" + source.edition;
    if (!source.clause.empty()) words += words.empty() ? source.clause : ", " + source.clause;
    return words;
}

}  // namespace phasewright::chain
