#include "core/quantity/fault.hpp"

namespace phasewright::quantity {

std::string to_sentence(Fault const& fault) {
    std::string sentence;
    if (!fault.where.empty()) sentence += fault.where + ": ";
    sentence += fault.what;
    if (!fault.found.empty()) sentence += "; found " + fault.found;
    if (!fault.allowed.empty()) sentence += "; allowed: " + fault.allowed;
    if (!fault.remedy.empty()) sentence += "; try: " + fault.remedy;
    return sentence;
}

}  // namespace phasewright::quantity
