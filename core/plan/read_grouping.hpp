// Registers that are wanted lie scattered over a meter's table; one question fetches one run of them.
// Fetching g unwanted registers along costs 2 g characters, a new question costs its frame, the answer's
// overhead and the silences: the cheapest way to cover all that is wanted is a shortest path, found exactly.
//   cost of a plan = questions * question + registers fetched * per_register
//   best(k) = min over j < k of best(j) + question + per_register * (registers from piece j+1 to piece k)
// Among equally cheap plans the one with fewer questions is taken, then the one that fetches fewer registers.
// Source of the 125: MODBUS Application Protocol V1.1b3, clauses 6.3 and 6.4. docs/reference/poll-round.md
#pragma once
#include <vector>

namespace phasewright::plan {

struct RegisterRun {  // consecutive registers that must come in one answer: the words of one number, or one
                      // question
    int function = 3;
    int first = 0;  // on the wire, counted from 0
    int count = 1;
    friend bool operator==(RegisterRun const&, RegisterRun const&) = default;
};

inline constexpr int most_registers_in_one_read = 125;

struct ReadLimits {
    int longest_read = most_registers_in_one_read;  // the meter's own, where it has one
    int bridge = most_registers_in_one_read;  // so many unwanted registers in a row may be fetched along
};

struct ReadCost {  // in any one unit: seconds, characters
    double question = 0.0;
    double per_register = 0.0;
};
// Where the times of the line are not known: fewest questions first, then fewest registers.
inline constexpr ReadCost fewest_questions{1.0, 1.0 / 1048576.0};

// The reads, by function and address. A run that is longer than the longest read is cut into several.
[[nodiscard]] std::vector<RegisterRun> grouped(std::vector<RegisterRun> const& wanted,
                                               ReadLimits const& limits, ReadCost const& cost);
[[nodiscard]] int registers_in(
    std::vector<RegisterRun> const& runs);  // one that stands in two runs counts twice

}  // namespace phasewright::plan
