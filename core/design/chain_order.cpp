#include "core/design/chain_order.hpp"

#include <algorithm>
#include <limits>
#include <numeric>

namespace phasewright::design {

namespace {
constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double shorter_by = 1e-9;  // m; less is rounding

std::vector<std::size_t> nearest_next(Matrix const& metres, std::size_t first) {
    std::vector<std::size_t> stops{first};
    std::vector<char> used(metres.size(), 0);
    used[0] = used[first] = 1;
    while (stops.size() + 1 < metres.size()) {
        std::size_t next = 0;
        for (std::size_t stop = 1; stop < metres.size(); ++stop)
            if (used[stop] == 0 && (next == 0 || metres[stops.back()][stop] < metres[stops.back()][next]))
                next = stop;
        used[next] = 1;
        stops.push_back(next);
    }
    return stops;
}

// Of the chain head, stops..: what stands before place k, and what after the last of a stretch.
std::size_t before(std::vector<std::size_t> const& stops, std::size_t k) { return k == 0 ? 0 : stops[k - 1]; }
double onward(Matrix const& metres, std::size_t from, std::vector<std::size_t> const& stops, std::size_t k) {
    return k == stops.size() ? 0.0 : metres[from][stops[k]];
}

// A stretch turned round.
bool turn_one(Matrix const& metres, std::vector<std::size_t>& stops) {
    for (std::size_t i = 0; i < stops.size(); ++i)
        for (std::size_t j = i + 1; j < stops.size(); ++j) {
            double const now = metres[before(stops, i)][stops[i]] + onward(metres, stops[j], stops, j + 1);
            double const then = metres[before(stops, i)][stops[j]] + onward(metres, stops[i], stops, j + 1);
            if (then >= now - shorter_by) continue;
            std::reverse(stops.begin() + static_cast<std::ptrdiff_t>(i),
                         stops.begin() + static_cast<std::ptrdiff_t>(j) + 1);
            return true;
        }
    return false;
}

// One, two or three stops carried elsewhere, as they are or turned round.
bool carry_one(Matrix const& metres, std::vector<std::size_t>& stops) {
    double const now = length_of(metres, stops);
    for (std::size_t count = 1; count <= std::min<std::size_t>(3, stops.size() - 1); ++count)
        for (std::size_t i = 0; i + count <= stops.size(); ++i) {
            auto const at = [](std::size_t k) { return static_cast<std::ptrdiff_t>(k); };
            std::vector<std::size_t> rest(stops);
            std::vector<std::size_t> piece(stops.begin() + at(i), stops.begin() + at(i + count));
            rest.erase(rest.begin() + at(i), rest.begin() + at(i + count));
            double const without = length_of(metres, rest);
            double inside = 0.0;
            for (std::size_t k = 1; k < count; ++k) inside += metres[piece[k - 1]][piece[k]];
            for (std::size_t j = 0; j <= rest.size(); ++j)
                for (int const turned : {0, 1}) {
                    auto const first = turned == 0 ? piece.front() : piece.back();
                    auto const last = turned == 0 ? piece.back() : piece.front();
                    auto const left = before(rest, j);
                    double const then = without - onward(metres, left, rest, j) + metres[left][first] +
                                        inside + onward(metres, last, rest, j);
                    if (then >= now - shorter_by) continue;
                    if (turned != 0) std::ranges::reverse(piece);
                    rest.insert(rest.begin() + at(j), piece.begin(), piece.end());
                    stops = std::move(rest);
                    return true;
                }
        }
    return false;
}
}  // namespace

double length_of(Matrix const& metres, std::vector<std::size_t> const& stops) {
    double length = 0.0;
    std::size_t at = 0;
    for (auto const stop : stops) {
        length += metres[at][stop];
        at = stop;
    }
    return length;
}

double star_length(Matrix const& metres) {
    return metres.empty() ? 0.0 : std::accumulate(metres[0].begin(), metres[0].end(), 0.0);
}

Chain exact_chain(Matrix const& metres) {
    if (metres.size() < 2) return {};
    std::size_t const n = metres.size() - 1;
    std::size_t const sets = std::size_t{1} << n;
    std::vector<double> least(sets * n, infinite);
    std::vector<unsigned char> from(sets * n, 0);
    for (std::size_t last = 0; last < n; ++last)
        least[(std::size_t{1} << last) * n + last] = metres[0][last + 1];
    for (std::size_t set = 1; set < sets; ++set)
        for (std::size_t last = 0; last < n; ++last) {
            double const so_far = least[set * n + last];
            if (so_far == infinite) continue;
            for (std::size_t next = 0; next < n; ++next) {
                if ((set >> next & 1U) != 0) continue;
                auto const at = (set | std::size_t{1} << next) * n + next;
                double const then = so_far + metres[last + 1][next + 1];
                if (then >= least[at]) continue;
                least[at] = then;
                from[at] = static_cast<unsigned char>(last);
            }
        }
    std::size_t set = sets - 1;
    std::size_t last = 0;
    for (std::size_t k = 1; k < n; ++k)
        if (least[set * n + k] < least[set * n + last]) last = k;
    Chain chain{.length_m = least[set * n + last]};
    while (set != 0) {
        chain.stops.push_back(last + 1);
        auto const earlier = from[set * n + last];
        set &= ~(std::size_t{1} << last);
        last = earlier;
    }
    std::ranges::reverse(chain.stops);
    return chain;
}

Chain improved_chain(Matrix const& metres) {
    Chain best{.length_m = infinite, .exact = metres.size() <= 2};
    if (metres.size() < 2) return {};
    // Where it begins decides much: the stops nearest to the head are tried as the first.
    std::vector<std::size_t> firsts(metres.size() - 1);
    std::iota(firsts.begin(), firsts.end(), std::size_t{1});
    std::ranges::stable_sort(firsts, {}, [&](std::size_t stop) { return metres[0][stop]; });
    firsts.resize(std::min<std::size_t>(firsts.size(), 5));
    for (auto const first : firsts) {
        auto stops = nearest_next(metres, first);
        while (turn_one(metres, stops) || carry_one(metres, stops)) {
        }
        double const length = length_of(metres, stops);
        if (length >= best.length_m - shorter_by) continue;
        best.stops = std::move(stops);
        best.length_m = length;
    }
    return best;
}

Chain shortest_chain(Matrix const& metres) {
    return metres.size() <= most_stops_exact + 1 ? exact_chain(metres) : improved_chain(metres);
}

Cuts cut_into_lines(Matrix const& metres, std::vector<std::size_t> const& stops,
                    std::vector<StopLoad> const& loads, LineLimits const& limits) {
    // Fewest metres for the first k stops, the last line beginning at stop `from[k]`.
    std::vector<double> least(stops.size() + 1, infinite);
    std::vector<std::size_t> from(stops.size() + 1, 0);
    least[0] = 0.0;
    Cuts cuts;
    for (std::size_t first = 0; first < stops.size(); ++first) {
        StopLoad carried{.loads = 0.0, .devices = 0};
        double length = 0.0;
        for (std::size_t last = first; last < stops.size(); ++last) {
            auto const& here = loads[stops[last]];
            carried = {carried.loads + here.loads, carried.devices + here.devices,
                       std::min(carried.most_devices, here.most_devices)};
            length += metres[last == first ? 0 : stops[last - 1]][stops[last]];
            bool const within = carried.loads <= limits.most_load + shorter_by && length <= limits.most_m &&
                                carried.devices <= carried.most_devices;
            if (!within && last > first) break;
            if (!within) cuts.possible = false;
            if (least[first] + length < least[last + 1] - shorter_by) {
                least[last + 1] = least[first] + length;
                from[last + 1] = first;
            }
            if (!within) break;
        }
    }
    for (std::size_t end = stops.size(); end > 0; end = from[end])
        cuts.lines.emplace_back(stops.begin() + static_cast<std::ptrdiff_t>(from[end]),
                                stops.begin() + static_cast<std::ptrdiff_t>(end));
    std::ranges::reverse(cuts.lines);
    cuts.length_m = stops.empty() ? 0.0 : least[stops.size()];
    return cuts;
}

}  // namespace phasewright::design
