#include "core/plan/read_grouping.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdint>
#include <limits>
#include <set>

using namespace phasewright::plan;

namespace {

using Reads = std::vector<RegisterRun>;

// Every way to put the pieces into groups, one question a group, whatever their order: what the planner must
// not be dearer than. It shares nothing with the planner but the rules.
class EveryPartition {
public:
    EveryPartition(Reads pieces, ReadLimits limits, ReadCost cost)
        : pieces_(std::move(pieces)), limits_(limits), cost_(cost) {}

    double cheapest() {
        place(0);
        return best_;
    }

private:
    void place(std::size_t at) {
        if (at == pieces_.size()) return weigh();
        for (std::size_t group = 0; group < groups_.size(); ++group) {
            groups_[group].push_back(pieces_[at]);
            place(at + 1);
            groups_[group].pop_back();
        }
        groups_.push_back({pieces_[at]});
        place(at + 1);
        groups_.pop_back();
    }

    void weigh() {
        double sum = 0.0;
        for (auto const& group : groups_) {
            std::set<int> wanted;
            for (auto const& piece : group) {
                if (piece.function != group.front().function) return;
                for (int word = 0; word < piece.count; ++word) wanted.insert(piece.first + word);
            }
            int const whole = *wanted.rbegin() - *wanted.begin() + 1;
            if (whole > limits_.longest_read) return;
            int last = *wanted.begin();
            for (int const address : wanted) {
                if (address - last - 1 > limits_.bridge) return;
                last = address;
            }
            sum += cost_.question + cost_.per_register * whole;
        }
        if (sum < best_) best_ = sum;
    }

    Reads pieces_;
    ReadLimits limits_;
    ReadCost cost_;
    std::vector<Reads> groups_;
    double best_ = std::numeric_limits<double>::infinity();
};

double price(Reads const& reads, ReadCost const& cost) {
    return static_cast<double>(reads.size()) * cost.question + registers_in(reads) * cost.per_register;
}

// Each piece stands whole in one read, and every read keeps the limits.
bool keeps_the_rules(Reads const& wanted, Reads const& reads, ReadLimits const& limits) {
    auto const holds = [](RegisterRun const& read, RegisterRun const& piece) {
        return read.function == piece.function && read.first <= piece.first &&
               piece.first + piece.count <= read.first + read.count;
    };
    bool const all = std::ranges::all_of(wanted, [&](auto const& piece) {
        return std::ranges::any_of(reads, [&](auto const& read) { return holds(read, piece); });
    });
    return all &&
           std::ranges::all_of(reads, [&](auto const& read) { return read.count <= limits.longest_read; });
}

// A small generator of our own, so that every machine tries the same cases.
class Draw {
public:
    int below(int limit) {
        state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<int>((state_ >> 33U) % static_cast<std::uint64_t>(limit));
    }

private:
    std::uint64_t state_ = 20;
};

}  // namespace

TEST_CASE("every set of single registers among ten is fetched as cheaply as the cheapest of all partitions") {
    ReadLimits const limits{.longest_read = 6, .bridge = 3};
    for (auto const& cost : {ReadCost{20.0, 2.0}, ReadCost{5.0, 2.0}, ReadCost{1.0, 2.0}, fewest_questions}) {
        for (unsigned mask = 1; mask < 1024U; mask += 3) {
            Reads wanted;
            for (int bit = 0; bit < 10; ++bit)
                if (((mask >> static_cast<unsigned>(bit)) & 1U) != 0U) wanted.push_back({3, 100 + bit, 1});
            if (wanted.size() > 7) continue;
            CAPTURE(mask);
            auto const reads = grouped(wanted, limits, cost);
            REQUIRE(keeps_the_rules(wanted, reads, limits));
            CHECK(price(reads, cost) == doctest::Approx(EveryPartition(wanted, limits, cost).cheapest()));
        }
    }
}

TEST_CASE(
    "drawn pieces of one to four registers, overlapping and of both functions, are fetched at the least "
    "cost") {
    Draw draw;
    for (int trial = 0; trial < 1500; ++trial) {
        ReadLimits const limits{.longest_read = 4 + draw.below(22), .bridge = draw.below(9)};
        ReadCost const cost{1.0 + draw.below(40), 0.5 + draw.below(4)};
        Reads wanted;
        int const count = 1 + draw.below(7);
        for (int k = 0; k < count; ++k)
            wanted.push_back({3 + draw.below(2), draw.below(40), 1 << draw.below(3)});
        CAPTURE(trial);
        auto const reads = grouped(wanted, limits, cost);
        REQUIRE(keeps_the_rules(wanted, reads, limits));
        // Not dearer, and not cheaper either: that would break a rule that `keeps_the_rules` does not look
        // at.
        CHECK(price(reads, cost) == doctest::Approx(EveryPartition(wanted, limits, cost).cheapest()));
    }
}

TEST_CASE("a gap is read along when it is cheaper than a new question, and not when it is dearer") {
    Reads const wanted{{3, 0, 2}, {3, 12, 2}};  // ten unwanted registers lie between: 20 characters
    CHECK(grouped(wanted, {}, {21.0, 2.0}) == Reads{{3, 0, 14}});
    CHECK(grouped(wanted, {}, {19.0, 2.0}) == wanted);
    // Equally cheap: one question less.
    CHECK(grouped(wanted, {}, {20.0, 2.0}) == Reads{{3, 0, 14}});
    // The meter does not give what it does not list.
    CHECK(grouped(wanted, {.bridge = 9}, {21.0, 2.0}) == wanted);
}

TEST_CASE("cutting early can be cheaper than filling each question up") {
    // Filling the first question up (0 to 9) leaves a gap of one in it and a second read of 8; cutting before
    // the gap fetches one register less, for the same two questions.
    Reads const wanted{{3, 0, 4}, {3, 5, 4}, {3, 9, 4}};
    CHECK(grouped(wanted, {.longest_read = 9, .bridge = 9}, fewest_questions) == Reads{{3, 0, 4}, {3, 5, 8}});
}

TEST_CASE("no answer holds more than 125 registers, and a run that is longer is cut") {
    // MODBUS Application Protocol V1.1b3, clause 6.3: quantity of registers 1 to 125.
    auto const reads = grouped({{4, 0, 300}}, {.longest_read = 2000, .bridge = 2000}, fewest_questions);
    CHECK(reads == Reads{{4, 0, 125}, {4, 125, 125}, {4, 250, 50}});
    CHECK(grouped({}, {}, fewest_questions).empty());
}

TEST_CASE("a number of two registers is never torn between two answers") {
    Reads wanted;
    for (int k = 0; k < 70; ++k) wanted.push_back({3, 2 * k, 2});
    auto const reads = grouped(wanted, {}, fewest_questions);
    REQUIRE(reads.size() == 2);
    CHECK(reads[0].count % 2 == 0);
    CHECK(registers_in(reads) == 140);
}
