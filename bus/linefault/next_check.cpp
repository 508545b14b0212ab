#include "bus/linefault/next_check.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include <fmt/format.h>

#include "bus/linefault/check_outcomes.hpp"

namespace phasewright::linefault {

namespace {

constexpr std::size_t worlds_drawn = 1500;
constexpr std::uint32_t seed = 485;
constexpr double least_bits = 0.03;
constexpr std::size_t most_checks = 3;

constexpr auto near_live = "Terminals of the bus stand beside terminals at mains voltage. Opening the panel is for the "
                           "person qualified and permitted to do so; de-energise it first wherever that can be done.";
constexpr auto probes = "Use a voltmeter and probes rated for the category of the panel; measure at a terminal block away "
                        "from the voltage terminals where there is one.";
constexpr auto no_supply = "Ohms are measured with the supply off on every device of this line, on the adapter and on the "
                           "master, and only after the pair itself has been measured to carry no voltage.";
constexpr auto together = "Move both conductors of the pair together, and note how they were.";

struct Candidate {
    NextCheck check;
    std::function<Chances(World const&)> chances;
    // What the chances depend on, where they are costly: worlds with the same key are computed once.
    bool by_trunk_and_dress = false;
    int device = -1;
};

double entropy(Chances const& chances) {
    double bits = 0.0;
    for (double const p : chances)
        if (p > 0.0) bits -= p * std::log2(p);
    return bits;
}

class Proposer {
public:
    Proposer(Evidence const& evidence, bool ordered, Posterior const& posterior)
        : evidence_(evidence), ordered_(ordered), posterior_(posterior), worlds_(posterior.draw(worlds_drawn, seed)) {}

    std::vector<NextCheck> best() {
        ask();
        measure();
        touch();
        std::vector<NextCheck> checks;
        for (auto& candidate : candidates_) {
            weigh(candidate);
            if (candidate.check.bits >= least_bits) checks.push_back(candidate.check);
        }
        std::stable_sort(checks.begin(), checks.end(), [](NextCheck const& a, NextCheck const& b) {
            return a.bits / (a.minutes + 1.0) > b.bits / (b.minutes + 1.0);
        });
        if (checks.size() > most_checks) checks.resize(most_checks);
        return checks;
    }

private:
    void add(std::string kind, std::string what, double minutes, std::vector<std::string> cautions,
             std::vector<std::string> outcomes, std::function<Chances(World const&)> chances, int position = -2) {
        NextCheck check{.kind = std::move(kind), .what = std::move(what), .minutes = minutes, .cautions = std::move(cautions),
                        .outcomes = {}};
        for (auto& outcome : outcomes) check.outcomes.push_back({.if_seen = std::move(outcome), .then = {}});
        candidates_.push_back({std::move(check), std::move(chances), position > -2, position - 1});
    }

    // The likeliest fault of these kinds, where it has at least this probability.
    std::optional<NamedFault> likeliest(std::initializer_list<LineFault> kinds, double least) const {
        std::optional<NamedFault> best;
        double most = least;
        for (auto const& [fault, probability] : posterior_.marginals())
            if (probability > most && std::find(kinds.begin(), kinds.end(), fault.kind) != kinds.end()) {
                best = fault;
                most = probability;
            }
        return best;
    }
    std::string unit(int device) const {
        auto const& one = evidence_.devices[static_cast<std::size_t>(device)];
        return one.name.empty() ? fmt::format("unit {}", one.unit) : fmt::format("unit {} ({})", one.unit, one.name);
    }
    bool tried_elsewhere() const {
        return std::any_of(evidence_.tries.begin(), evidence_.tries.end(), [](Try const& one) { return one.other_format; });
    }

    void ask() {
        if (auto const doubt = likeliest({LineFault::duplicate_address, LineFault::device_something_else, LineFault::device_slow,
                                          LineFault::device_dead, LineFault::half_broken}, 0.03)) {
            int const device = std::clamp(doubt->device >= 0 ? doubt->device : doubt->after, 0,
                                          static_cast<int>(evidence_.devices.size()) - 1);
            auto const tries = std::count_if(evidence_.tries.begin(), evidence_.tries.end(), [&](Try const& one) {
                return one.device == static_cast<std::size_t>(device);
            });
            if (tries < 20)
                add("ask_again", "ask " + unit(device) + " twenty times more (bus check --tries 20)", 0.5, {},
                    {"nearly all good", "some good", "silence", "bytes that make no frame"},
                    [device](World const& world) { return again_chances(world, device); });
        }
        if (!tried_elsewhere())
            add("ask_other_formats", "ask the silent units at other speeds and parities (bus find --plan)", 1.0, {},
                {"one answers in another format", "none answers"}, other_format_chances);
        if (!evidence_.strangers)
            add("search_addresses", "search all addresses of the line (bus find --plan)", 2.0, {},
                {"a device answers that is not planned", "none does"}, search_chances);
        add("listen", "listen for a minute without asking (bus find --listen-s 60)", 1.0, {}, {"bytes are heard", "silence"},
            listen_chances);
    }

    void measure() {
        auto const& by_hand = evidence_.by_hand;
        auto const devices = evidence_.devices.size();
        auto const measured_at = [&](int position) {
            return std::any_of(by_hand.idle.begin(), by_hand.idle.end(),
                               [&](IdleVolts const& one) { return one.position == position; });
        };
        std::vector<std::string> const volts{"below -0.05 V: there D0 and D1 are exchanged", "about 0 V",
                                             "0.05 to 0.2 V", "0.2 to 0.4 V", "above 0.4 V"};
        auto const idle = [&](int position, std::string const& where, double minutes) {
            if (measured_at(position)) return;
            add("idle_volts", "measure D1 - D0 " + where + ", line powered, nothing asked", minutes, {near_live, probes}, volts,
                [position, devices](World const& world) { return idle_chances(world, position, devices); }, position);
        };
        idle(0, "at the head", 12.0);
        auto const cut = likeliest({LineFault::crossed, LineFault::broken, LineFault::half_broken}, 0.03);
        if (cut && ordered_ && cut->after < static_cast<int>(devices))
            idle(cut->after + 1, "at the terminals of " + unit(cut->after), 12.0);
        if (auto const drop = likeliest({LineFault::drop_crossed}, 0.03); drop && ordered_)
            idle(drop->device + 1, "at the terminals of " + unit(drop->device), 12.0);
        if (!by_hand.ohms)
            add("ohms", "measure ohms across the pair at the head, with nothing on the line powered", 20.0,
                {near_live, no_supply}, {"below 50 ohm", "50 to 95 ohm", "95 to 170 ohm", "170 to 500 ohm", "open"},
                [this, devices](World const& world) { return ohms_chances(world, devices, evidence_.length_m); }, -1);
        if (!by_hand.common_v)
            add("common_volts", "measure volts between the commons of the first and the last device", 12.0, {near_live, probes},
                {"below 1 V", "1 to 7 V", "above 7 V"}, common_chances, -1);
    }

    void touch() {
        if (auto const crossed = likeliest({LineFault::crossed}, 0.03); crossed && (ordered_ || crossed->after == 0)) {
            int const after = crossed->after;
            auto const where = after == 0 ? std::string("at the head") : "where the cable comes to " + unit(after);
            add("swap_pair", "exchange D0 and D1 " + where + ", once, and ask again", 15.0, {near_live, together},
                {"those behind answer", "nothing changes: put it back"},
                [after](World const& world) { return swap_chances(world, after); });
        }
        if (auto const silent = likeliest({LineFault::device_dead, LineFault::wrong_address, LineFault::device_wrong_format,
                                           LineFault::wrong_format, LineFault::supply_off}, 0.03)) {
            int const device = std::max(0, silent->device);
            add("look", "look at the display of " + unit(device) + ": supply, address, speed, parity", 10.0, {near_live},
                {"it is dark", "lit and set as planned", "another address", "another speed or parity"},
                [device](World const& world) { return look_chances(world, device); });
        }
        if (auto const shared = likeliest({LineFault::duplicate_address}, 0.03)) {
            int const device = shared->device;
            add("unplug", "take " + unit(device) + " off the pair and ask its address again", 15.0, {near_live, together},
                {"something still answers", "silence"},
                [device](World const& world) { return unplug_chances(world, device); });
        }
        int const half = static_cast<int>(evidence_.devices.size()) / 2;
        if (half > 0)
            add("halve", "open the pair behind " + unit(half - 1) + " and ask those before it again", 20.0,
                {near_live, together}, {"those before it answer cleanly", "they do not"},
                [half](World const& world) { return halve_chances(world, half); });
    }

    void weigh(Candidate& candidate) {
        std::vector<Chances> all;
        std::map<std::tuple<LineFault, int, int, LineFault, bool>, Chances> known;
        for (auto const& world : worlds_) {
            if (!candidate.by_trunk_and_dress) {
                all.push_back(candidate.chances(world));
                continue;
            }
            bool const drop = candidate.device >= 0 &&
                              world.devices[static_cast<std::size_t>(candidate.device)] == DeviceState::drop_crossed;
            auto const key = std::tuple{world.trunk.kind, world.trunk.after, world.trunk.until, world.electrical, drop};
            auto const at = known.find(key);
            all.push_back(at != known.end() ? at->second : known[key] = candidate.chances(world));
        }
        Chances mean(candidate.check.outcomes.size(), 0.0);
        double inside = 0.0;
        for (auto const& chances : all) {
            for (std::size_t i = 0; i < mean.size(); ++i) mean[i] += chances[i] / static_cast<double>(all.size());
            inside += entropy(chances) / static_cast<double>(all.size());
        }
        candidate.check.bits = entropy(mean) - inside;
        if (candidate.check.bits < least_bits) return;
        for (std::size_t i = 0; i < mean.size(); ++i) {
            candidate.check.outcomes[i].probability = mean[i];
            candidate.check.outcomes[i].then = after(i, all);
        }
    }

    // What would be most probable after that outcome.
    std::string after(std::size_t outcome, std::vector<Chances> const& all) const {
        std::map<NamedFault, double> faults;
        double sum = 0.0, none = 0.0;
        for (std::size_t i = 0; i < worlds_.size(); ++i) {
            double const weight = all[i][outcome];
            sum += weight;
            auto const present = faults_of(worlds_[i]);
            if (present.empty()) none += weight;
            for (auto const& fault : present) faults[fault] += weight;
        }
        if (sum <= 0.0) return "nothing here expects it";
        auto const best = std::max_element(faults.begin(), faults.end(),
                                           [](auto const& a, auto const& b) { return a.second < b.second; });
        if (best == faults.end() || none > best->second) return fmt::format("no fault: {:.0f} %", 100.0 * none / sum);
        return fmt::format("{}: {:.0f} %", words_of(best->first, evidence_.devices, ordered_), 100.0 * best->second / sum);
    }

    Evidence const& evidence_;
    bool ordered_;
    Posterior const& posterior_;
    std::vector<World> worlds_;
    std::vector<Candidate> candidates_;
};
}  // namespace

std::vector<NextCheck> next_checks(Evidence const& evidence, bool ordered, Posterior const& posterior) {
    if (evidence.devices.empty()) return {};
    return Proposer(evidence, ordered, posterior).best();
}

}  // namespace phasewright::linefault
