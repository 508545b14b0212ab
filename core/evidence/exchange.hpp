// A meter is exchanged: one period of consumption, two meters, two sets of registers, and a time between
// without any.
//   total = (old_end - old_begin) + (new_end - new_begin) + P_gap t_gap
// All three parts are shown; the last is an estimate with its bound. Both meters' serials, the seals that
// came off and went on with their numbers, and the last pulses are written down at once: afterwards nobody
// can read them.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/plan/words.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::evidence {

enum class SealState { fitted, found_whole, found_broken, found_missing, removed };
[[nodiscard]] constexpr auto word_table(SealState) {
    return plan::Words<SealState, 5>{{{SealState::fitted, "fitted"},
                                      {SealState::found_whole, "found-whole"},
                                      {SealState::found_broken, "found-broken"},
                                      {SealState::found_missing, "found-missing"},
                                      {SealState::removed, "removed"}}};
}
struct Seal {
    std::string place;   // "terminal cover", "test block"
    std::string number;  // as stamped; empty only where it is missing
    SealState state = SealState::fitted;
    std::string time, by;  // ISO 8601; who saw or did it
};
// What does not fit in a history of seals, oldest first: a number in two places, one fitted over another that
// nobody removed, another number found than was fitted, broken, missing. Empty: nothing was seen; that is no
// proof.
[[nodiscard]] std::vector<std::string> seal_findings(std::vector<Seal> const& history);
// What is on now, by place.
[[nodiscard]] std::vector<Seal> seals_now(std::vector<Seal> const& history);

struct MeterAtExchange {
    std::string serial;
    std::string time;  // of the readings
    std::optional<double> import_wh, export_wh;
    std::optional<double> last_place_wh;
    std::optional<long long> pulses;  // of the counter behind its output
    std::string settings;             // digest or note of what it was programmed with
};
struct MeterExchange {
    MeterAtExchange removed, fitted;
    std::vector<Seal> seals;        // off and on
    std::optional<double> gap_w;    // mean power while no meter was in place
    std::optional<double> gap_w_u;  // standard uncertainty of it
};
struct ExchangeCheck {
    double gap_s = 0.0;
    std::optional<double> gap_wh, gap_wh_u;  // estimate
    std::vector<std::string> missing;        // what should have been written down
    std::vector<std::string> findings;       // what contradicts itself
};
[[nodiscard]] std::expected<ExchangeCheck, quantity::Fault> exchange_checked(MeterExchange const& exchange);

struct BridgedEnergy {
    double old_wh = 0.0, new_wh = 0.0;
    std::optional<double> gap_wh, gap_wh_u;
    double total_wh = 0.0;      // with the estimate where there is one
    bool gap_left_out = false;  // there was a gap, and nothing to estimate it by
};
// `old_begin_wh` and `new_end_wh`: import at the begin and end of the period.
[[nodiscard]] std::expected<BridgedEnergy, quantity::Fault> bridged(MeterExchange const& exchange,
                                                                    double old_begin_wh, double new_end_wh);

}  // namespace phasewright::evidence
