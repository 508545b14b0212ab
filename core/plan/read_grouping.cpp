#include "core/plan/read_grouping.hpp"

#include <algorithm>
#include <cstddef>
#include <tuple>

namespace phasewright::plan {

namespace {

int end_of(RegisterRun const& run) { return run.first + run.count; }

// Sorted, none longer than one read, and none inside another: beginnings and ends both rise within a
// function.
std::vector<RegisterRun> pieces_of(std::vector<RegisterRun> const& wanted, int longest) {
    std::vector<RegisterRun> cut;
    for (auto const& run : wanted)
        for (int at = run.first; at < end_of(run); at += longest)
            cut.push_back({run.function, at, std::min(longest, end_of(run) - at)});
    std::ranges::sort(cut, {},
                      [](auto const& run) { return std::tuple(run.function, run.first, -run.count); });
    std::vector<RegisterRun> pieces;
    for (auto const& run : cut)
        if (pieces.empty() || pieces.back().function != run.function || end_of(run) > end_of(pieces.back()))
            pieces.push_back(run);
    return pieces;
}

struct Best {  // the best way to fetch the first pieces
    double cost = 0.0;
    int questions = 0;
    int registers = 0;
    std::size_t from = 0;  // the last question fetches the pieces from this one on
};

bool better(Best const& one, Best const& other) {
    double const alike = 1e-12 * (one.cost + other.cost);
    if (one.cost < other.cost - alike) return true;
    if (one.cost > other.cost + alike) return false;
    return std::tuple(one.questions, one.registers) < std::tuple(other.questions, other.registers);
}

Best with_one_more(Best const& before, int registers, ReadCost const& cost, std::size_t from) {
    Best next{0.0, before.questions + 1, before.registers + registers, from};
    next.cost = next.questions * cost.question + next.registers * cost.per_register;
    return next;
}

}  // namespace

std::vector<RegisterRun> grouped(std::vector<RegisterRun> const& wanted, ReadLimits const& limits,
                                 ReadCost const& cost) {
    int const longest = std::clamp(limits.longest_read, 1, most_registers_in_one_read);
    auto const pieces = pieces_of(wanted, longest);
    std::vector<Best> best(pieces.size() + 1);
    for (std::size_t k = 1; k <= pieces.size(); ++k) {
        auto const& last = pieces[k - 1];
        best[k] = with_one_more(best[k - 1], last.count, cost, k - 1);
        // Further back as long as one question still reaches from there to the end of the last piece.
        for (std::size_t j = k - 1; j > 0; --j) {
            auto const& first = pieces[j - 1];
            bool const joins =
                first.function == last.function && pieces[j].first - end_of(first) <= limits.bridge;
            int const whole = end_of(last) - first.first;
            if (!joins || whole > longest) break;
            auto const candidate = with_one_more(best[j - 1], whole, cost, j - 1);
            if (better(candidate, best[k])) best[k] = candidate;
        }
    }
    std::vector<RegisterRun> reads;
    for (std::size_t k = pieces.size(); k > 0; k = best[k].from) {
        auto const& first = pieces[best[k].from];
        reads.push_back({first.function, first.first, end_of(pieces[k - 1]) - first.first});
    }
    std::ranges::reverse(reads);
    return reads;
}

int registers_in(std::vector<RegisterRun> const& runs) {
    int sum = 0;
    for (auto const& run : runs) sum += run.count;
    return sum;
}

}  // namespace phasewright::plan
