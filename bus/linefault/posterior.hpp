// Bayes over a serial line: every trunk fault at every joint, times every fault of the line as a whole, times every
// electrical fault, times one pair at one address, and in each of these cases every state of every device, which are
// independent there and are summed one by one. So any number of faults may be present together, and nothing is left out
// but a second broken joint.
//   P(case | tries) ~ P(case) * product over devices of sum over states P(state) P(tries of that device | state, case)
// Whether an electrical fault shows (not at all, mildly, strongly) has the same chances for all of them, and what it
// does to bytes is the same: so bytes leave their odds against each other as they were before the first question. Only
// volts and ohms (by_hand.hpp) move them.
#pragma once
#include <cstdint>
#include <map>
#include <random>
#include <vector>

#include "bus/linefault/behaviour.hpp"
#include "bus/linefault/by_hand.hpp"
#include "bus/linefault/evidence.hpp"
#include "bus/linefault/line_fault.hpp"

namespace phasewright::linefault {

enum class DeviceState { ok, dead, wrong_address, wrong_format, drop_crossed, slow, shared_address, something_else };
inline constexpr std::size_t kinds_of_device_state = 8;

// One way in which the whole line could be.
struct World {
    TrunkState trunk;
    LineFault line = LineFault::device_dead;        // device_dead stands for "nothing of the line as a whole"
    LineFault electrical = LineFault::device_dead;  // likewise
    int shared = -1, moved = -1;                    // the device `moved` answers at the address of `shared`
    std::vector<DeviceState> devices;
};
[[nodiscard]] bool has_line_fault(World const& world);
[[nodiscard]] bool has_electrical_fault(World const& world);
[[nodiscard]] std::vector<NamedFault> faults_of(World const& world);
// What this device does in that world.
[[nodiscard]] bool is_cut_off(World const& world, std::size_t device);

class Posterior {
public:
    // Devices stand in the order of their positions; `ordered`: that order is known.
    Posterior(Evidence const& evidence, bool ordered, Priors const& priors);

    [[nodiscard]] std::map<NamedFault, double> const& marginals() const { return marginals_; }
    [[nodiscard]] double healthy() const { return healthy_; }
    [[nodiscard]] double electrical() const { return electrical_; }  // any of the electrical faults
    // Which device it is that answers at the shared address: P(moved = device), over all pairs.
    [[nodiscard]] std::vector<double> const& moved() const { return moved_; }

    // Worlds drawn from the posterior; the same for the same seed on every machine.
    [[nodiscard]] std::vector<World> draw(std::size_t count, std::uint32_t seed) const;

private:
    struct Case {
        std::size_t trunk = 0, line = 0, severity = 0, electrical = 0;
        double weight = 0.0;
    };
    struct Mix {  // one line fault at one severity: what each device's tries say
        std::vector<double> log_free;                       // summed over the device's states
        std::vector<std::array<double, kinds_of_device_state>> log_state;  // prior included
        std::vector<double> shared, moved;                  // likelihoods against log_free
        std::vector<double> sum_free, sum_shared, sum_moved, sum_both;  // prefix sums
        double log_line = 0.0;                              // prior and what concerns no device
        bool pairs = false;                                 // a shared address is considered
    };
    struct Trunk {
        TrunkState state;
        double log_prior = 0.0;
    };

    void list_trunks(Priors const& priors, bool ordered);
    void make_mixes(Evidence const& evidence, Priors const& priors);
    void weigh(Evidence const& evidence, Priors const& priors);
    void sum_marginals(Priors const& priors);
    void sum_devices(std::vector<double> const& weights);
    [[nodiscard]] double log_bytes(std::size_t trunk, std::size_t mix) const;
    struct PairSums {
        double shared = 0.0, moved = 0.0, both = 0.0;
        [[nodiscard]] double pairs() const { return shared * moved - both; }
    };
    [[nodiscard]] PairSums pair_sums(std::size_t trunk, Mix const& mix) const;
    [[nodiscard]] std::size_t mix_of(Case const& one) const;
    template <class Sums>
    [[nodiscard]] double over_free(TrunkState const& trunk, Sums const& sums) const;

    std::size_t count_ = 0;
    double pair_prior_ = 0.0;  // of one ordered pair
    double no_pair_prior_ = 1.0;
    std::vector<Trunk> trunks_;
    std::vector<Mix> mixes_;  // by line fault and severity
    std::array<std::vector<double>, 3> sum_cut_;  // prefix sums behind a crossing, a break, a half break
    std::vector<Case> cases_;
    std::map<NamedFault, double> marginals_;
    std::vector<double> moved_;
    double healthy_ = 0.0, electrical_ = 0.0;
};

}  // namespace phasewright::linefault
