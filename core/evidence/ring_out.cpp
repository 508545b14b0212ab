#include "core/evidence/ring_out.hpp"

#include <algorithm>
#include <functional>
#include <set>

#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;
using Row = std::vector<bool>;
constexpr std::size_t none = static_cast<std::size_t>(-1);

// Is there a permutation within what is allowed? Augmenting paths; `far_of` gets it.
bool has_permutation(std::vector<Row> const& allowed, std::vector<std::size_t>& near_of) {
    auto const n = allowed.size();
    near_of.assign(n, none);
    std::vector<bool> seen(n);
    std::function<bool(std::size_t)> const place = [&](std::size_t near) {
        for (std::size_t far = 0; far < n; ++far) {
            if (!allowed[near][far] || seen[far]) continue;
            seen[far] = true;
            if (near_of[far] != none && !place(near_of[far])) continue;
            near_of[far] = near;
            return true;
        }
        return false;
    };
    for (std::size_t near = 0; near < n; ++near) {
        seen.assign(n, false);
        if (!place(near)) return false;
    }
    return true;
}

struct Grid {
    std::vector<Row> allowed, rings, asked;
};

std::optional<Fault> lists_fault(RingOutTest const& test) {
    auto const twice = [](std::vector<std::string> const& marks) {
        return std::set(marks.begin(), marks.end()).size() != marks.size();
    };
    if (test.near.empty() || test.near.size() != test.far.size())
        return Fault{"the two ends have different numbers of marks", "near, far",
                     std::to_string(test.near.size()) + " and " + std::to_string(test.far.size()),
                     "the same number, at least one", "write down every lead that was pulled"};
    if (twice(test.near) || twice(test.far))
        return Fault{"a mark stands twice at one end", "near, far", "", "each mark once",
                     "tell the two apart first: a letter on each will do"};
    return std::nullopt;
}

std::expected<std::size_t, Fault> place_of(std::vector<std::string> const& marks, std::string const& mark,
                                           char const* end) {
    auto const at = std::ranges::find(marks, mark);
    if (at != marks.end()) return static_cast<std::size_t>(at - marks.begin());
    return std::unexpected(Fault{"no lead bears this mark at that end", end, mark,
                                 quantity::joined(marks, ", "),
                                 "did you mean \"" + quantity::nearest_word(mark, marks) + "\"?"});
}

std::expected<Grid, Fault> grid_of(RingOutTest const& test, std::vector<std::string>& findings) {
    auto const n = test.near.size();
    Grid grid{std::vector(n, Row(n, true)), std::vector(n, Row(n, false)), std::vector(n, Row(n, false))};
    for (auto const& one : test.rung) {
        auto const near = place_of(test.near, one.near, "near");
        if (!near) return std::unexpected(near.error());
        auto const far = place_of(test.far, one.far, "far");
        if (!far) return std::unexpected(far.error());
        bool const rings = one.ohm && *one.ohm < test.continuity_ohm;
        bool const open = !one.ohm || *one.ohm >= test.open_ohm;
        if (!rings && !open) {
            findings.push_back(one.near + " to " + one.far + " reads " + quantity::shortest(*one.ohm) +
                               " ohm: neither a wire nor open; clean the contacts, look for a winding or a "
                               "burden in the path, ring again");
            continue;
        }
        grid.asked[*near][*far] = true;
        grid.rings[*near][*far] = rings;
        if (open) grid.allowed[*near][*far] = false;
    }
    return grid;
}

// A lead that rings excludes all others of its row and column, unless it rings with several: then they are
// tied.
bool exclude(Grid& grid, RingOutTest const& test, std::vector<std::string>& findings) {
    bool tied = false;
    auto const n = grid.rings.size();
    for (std::size_t near = 0; near < n; ++near)
        for (std::size_t far = 0; far < n; ++far) {
            if (!grid.rings[near][far]) continue;
            for (std::size_t other = 0; other < n; ++other) {
                if (other != far && grid.rings[near][other]) {
                    if (far < other)
                        findings.push_back(test.near[near] + " rings with " + test.far[far] + " and with " +
                                           test.far[other] +
                                           ": the two are tied somewhere; find the short first");
                    tied = true;
                }
                if (other != near && grid.rings[other][far]) {
                    if (near < other)
                        findings.push_back(test.near[near] + " and " + test.near[other] + " both ring with " +
                                           test.far[far] +
                                           ": the two are tied somewhere; find the short first");
                    tied = true;
                }
                if (other != far) grid.allowed[near][other] = false;
                if (other != near) grid.allowed[other][far] = false;
            }
            grid.allowed[near][far] = true;
        }
    return tied;
}

void settle(Grid& grid, RingOutTest const& test, std::vector<std::size_t> const& near_of, RingOut& result) {
    for (std::size_t near = 0; near < test.near.size(); ++near) {
        LeadEnds ends{.near = test.near[near]};
        auto const far = static_cast<std::size_t>(std::ranges::find(near_of, near) - near_of.begin());
        grid.allowed[near][far] = false;  // is there a permutation without this pair?
        std::vector<std::size_t> without;
        if (!has_permutation(grid.allowed, without)) {
            ends.far = test.far[far];
            ends.rung = grid.rings[near][far];
            ends.as_marked = *ends.far == ends.near;
            if (!ends.as_marked)
                result.findings.push_back("the lead marked " + ends.near + " here is marked " + *ends.far +
                                          " at the other end");
        }
        grid.allowed[near][far] = true;
        result.leads.push_back(std::move(ends));
    }
}

void propose_next(Grid const& grid, RingOutTest const& test, RingOut& result) {
    for (std::size_t near = 0; near < test.near.size(); ++near) {
        if (result.leads[near].far) continue;
        // The pair with equal marks first: most leads are as they are marked.
        for (int const same : {1, 0})
            for (std::size_t far = 0; far < test.far.size(); ++far)
                if (grid.allowed[near][far] && !grid.asked[near][far] &&
                    (test.near[near] == test.far[far]) == (same == 1)) {
                    result.next = Ringing{test.near[near], test.far[far], std::nullopt};
                    return;
                }
    }
}
}  // namespace

std::expected<RingOut, Fault> rung_out(RingOutTest const& test) {
    if (auto fault = lists_fault(test)) return std::unexpected(*fault);
    RingOut result;
    auto grid = grid_of(test, result.findings);
    if (!grid) return std::unexpected(grid.error());
    bool const tied = exclude(*grid, test, result.findings);
    std::vector<std::size_t> near_of;
    if (tied || !has_permutation(grid->allowed, near_of)) {
        result.outcome = tied ? Outcome::fail : Outcome::not_provable;
        result.reason =
            tied ? "leads are tied to each other"
                 : "no way of pairing the marks agrees with what was rung: a lead is broken, or one "
                   "reading is wrong";
        for (auto const& near : test.near) result.leads.push_back({.near = near});
        return result;
    }
    settle(*grid, test, near_of, result);
    propose_next(*grid, test, result);
    bool const all =
        std::ranges::all_of(result.leads, [](LeadEnds const& ends) { return ends.far.has_value(); });
    bool const crossed =
        std::ranges::any_of(result.leads, [](LeadEnds const& ends) { return ends.far && !ends.as_marked; });
    if (crossed) {
        result.outcome = Outcome::fail;
        result.reason = "a lead bears another mark at its other end";
    } else if (all && result.findings.empty()) {
        result.outcome = Outcome::pass;
        result.reason = "every lead bears the same mark at both ends";
    } else {
        result.reason = all ? "a reading is doubtful" : "not every lead is settled yet";
    }
    return result;
}

}  // namespace phasewright::evidence
