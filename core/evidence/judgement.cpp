#include "core/evidence/judgement.hpp"

#include <cmath>
#include <limits>

#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
constexpr double endless = std::numeric_limits<double>::infinity();

std::string figure(double value) {
    bool const whole = std::abs(value) < 1e9 && value == std::round(value);
    return whole ? quantity::fixed(value, 0) : quantity::shortest(std::round(value * 1e6) / 1e6);
}

std::string in_unit(std::string const& number, std::string const& unit) {
    return unit.empty() ? number : number + " " + unit;
}

std::optional<double> share_within(double value, double u, double low, double high) {
    if (u <= 0.0) return std::nullopt;
    return below((high - value) / u) - below((low - value) / u);
}
}  // namespace

std::string words_of(AcceptanceLimit const& limit) {
    if (limit.low && limit.high) {
        if (*limit.low == -*limit.high) return in_unit("±" + figure(*limit.high), limit.unit);
        return in_unit(figure(*limit.low), limit.unit) + " to " + in_unit(figure(*limit.high), limit.unit);
    }
    if (limit.low) return "at least " + in_unit(figure(*limit.low), limit.unit);
    if (limit.high) return "at most " + in_unit(figure(*limit.high), limit.unit);
    return "no limit";
}

Judgement judged(double value, Uncertainty const& uncertainty, AcceptanceLimit const& limit,
                 double guard_share) {
    Judgement judgement{.value = value, .uncertainty = uncertainty, .limit = limit};
    if (!limit.low && !limit.high) {
        judgement.reason = "no limit was given to hold it against";
        return judgement;
    }
    double const low = limit.low.value_or(-endless);
    double const high = limit.high.value_or(endless);
    double const w = guard_share * uncertainty.expanded;
    judgement.guard = w;
    judgement.within = share_within(value, uncertainty.standard, low, high);
    auto const number = in_unit(figure(std::round(value * 1e4) / 1e4), limit.unit) + " ± " +
                        in_unit(quantity::fixed(uncertainty.expanded, 3), limit.unit);
    if (value >= low + w && value <= high - w) {
        judgement.outcome = Outcome::pass;
        judgement.reason = number + " is within " + words_of(limit) + " with its uncertainty";
    } else if (value < low - w || value > high + w) {
        judgement.outcome = Outcome::fail;
        judgement.reason = number + " is outside of " + words_of(limit) + " by more than its uncertainty";
    } else {
        judgement.reason = number + " lies so near to the limit (" + words_of(limit) +
                           ") that the true value may be on either side";
    }
    if (judgement.outcome != Outcome::not_provable && !chain::may_judge(limit.source))
        return taken_back(std::move(judgement), "the limit (" + words_of(limit) + ", " +
                                                    chain::words_of(limit.source) +
                                                    ") is written from memory: hold it against the "
                                                    "edition in force and confirm it");
    return judgement;
}

Judgement taken_back(Judgement judgement, std::string reason) {
    if (!judgement.by_the_numbers) judgement.by_the_numbers = judgement.outcome;
    judgement.outcome = Outcome::not_provable;
    judgement.reason = std::move(reason);
    return judgement;
}

}  // namespace phasewright::evidence
