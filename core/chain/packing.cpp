#include "core/chain/packing.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <functional>
#include <optional>
#include <vector>

namespace phasewright::chain {

namespace {
using Point = std::complex<double>;

struct Disc {
    Point at;
    double radius = 0.0;
};

// The largest slack in a comparison, in shares of the hole.
constexpr double slack = 1e-9;
// Orders tried: all of six different things.
constexpr int most_orders = 720;

// Where a disc of radius r touches both; the second circle's `reach` is the distance that its centre must
// keep.
void add_meetings(Point one, double reach_one, Point other, double reach_other, std::vector<Point>& into) {
    double const apart = std::abs(other - one);
    if (apart <= 0.0 || apart > reach_one + reach_other || apart < std::abs(reach_one - reach_other)) return;
    double const along = (apart * apart + reach_one * reach_one - reach_other * reach_other) / (2.0 * apart);
    double const across = std::sqrt(std::max(0.0, reach_one * reach_one - along * along));
    Point const unit = (other - one) / apart;
    into.push_back(one + unit * Point{along, across});
    into.push_back(one + unit * Point{along, -across});
}

// Points at a distance from `centre` on the line x = at, or y = at.
void add_on_line(Point centre, double reach, double at, bool upright, std::vector<Point>& into) {
    double const off = at - (upright ? centre.real() : centre.imag());
    if (std::abs(off) > reach) return;
    double const along = std::sqrt(reach * reach - off * off);
    for (double const way : {along, -along})
        into.push_back(upright ? Point{at, centre.imag() + way} : Point{centre.real() + way, at});
}

class Filling {
public:
    explicit Filling(Hole const& hole) : hole_{hole} {}

    bool lay(double radius) {
        auto const places = places_for(radius);
        std::optional<Point> best;
        for (auto const& place : places)
            if (is_free(place, radius) && (!best || std::abs(place) > std::abs(*best) + slack * hole_.width))
                best = place;
        if (!best) return false;
        laid_.push_back({*best, radius});
        return true;
    }

private:
    [[nodiscard]] double right(double radius) const { return hole_.width / 2.0 - radius; }
    [[nodiscard]] double top(double radius) const { return hole_.height / 2.0 - radius; }

    [[nodiscard]] std::vector<Point> places_for(double radius) const {
        std::vector<Point> places;
        double const x = right(radius);
        double const y = top(radius);
        if (hole_.round && laid_.empty()) places.emplace_back(x, 0.0);
        if (!hole_.round) places.insert(places.end(), {{-x, -y}, {x, -y}, {-x, y}, {x, y}});
        for (std::size_t one = 0; one < laid_.size(); ++one) {
            double const reach = laid_[one].radius + radius;
            if (hole_.round) {
                add_meetings(laid_[one].at, reach, 0.0, x, places);
            } else {
                for (double const side : {-1.0, 1.0}) {
                    add_on_line(laid_[one].at, reach, side * x, true, places);
                    add_on_line(laid_[one].at, reach, side * y, false, places);
                }
            }
            for (std::size_t other = 0; other < one; ++other)
                add_meetings(laid_[one].at, reach, laid_[other].at, laid_[other].radius + radius, places);
        }
        return places;
    }

    [[nodiscard]] bool is_free(Point place, double radius) const {
        double const near = slack * hole_.width;
        bool const inside = hole_.round ? std::abs(place) <= right(radius) + near
                                        : std::abs(place.real()) <= right(radius) + near &&
                                              std::abs(place.imag()) <= top(radius) + near;
        return inside && right(radius) >= -near && top(radius) >= -near &&
               std::ranges::all_of(laid_, [&](Disc const& disc) {
                   return std::abs(disc.at - place) >= disc.radius + radius - near;
               });
    }

    Hole hole_;
    std::vector<Disc> laid_;
};
}  // namespace

bool lies_in(Hole const& hole, std::span<double const> diameters) {
    std::vector<double> order(diameters.begin(), diameters.end());
    std::ranges::sort(order, std::greater{});
    for (int tried = 0; tried < most_orders; ++tried) {
        Filling filling{hole};
        if (std::ranges::all_of(order, [&](double diameter) { return filling.lay(diameter / 2.0); }))
            return true;
        if (!std::ranges::prev_permutation(order).found) return false;
    }
    return false;
}

}  // namespace phasewright::chain
