// A fault is ours or the input's: something could not be done, and one sentence says what, where and what to try.
// What is wrong on the site is never a fault; it is a finding (core/diagnosis/verdict.hpp).
#pragma once
#include <string>

namespace phasewright::quantity {

struct Fault {
    std::string what;     // one sentence without a full stop: "the CT ratio is not a pair"
    std::string where;    // file, line and field, as far as they are known: "plan.toml:14 point.ct"
    std::string found;    // what stood there; empty when nothing did
    std::string allowed;  // what may stand there
    std::string remedy;   // what to try next
};

// "plan.toml:14 point.ct: the CT ratio is not a pair; found \"200\"; allowed: [primary, secondary]; try: ..."
[[nodiscard]] std::string to_sentence(Fault const& fault);

}  // namespace phasewright::quantity
