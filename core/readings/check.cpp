#include "core/readings/check.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::readings {

using quantity::Fault;

namespace {
std::string place(std::size_t snapshot, std::string_view field) {
    return "snapshots[" + std::to_string(snapshot) + "]." + std::string{field};
}
std::string words(Column const& column) {
    std::vector<std::string> parts;
    for (auto const& value : column) parts.push_back(value ? quantity::shortest(*value) : "null");
    return "[" + quantity::joined(parts, ", ") + "]";
}
std::optional<double> at(Column const& column, std::size_t element) {
    return element < column.size() ? column[element] : std::nullopt;
}

// One element that carries enough for its watts to be compared with its V times I.
struct Loaded {
    double vi = 0.0;
    std::optional<double> p, q, s, pf;
};

// `least`: below so many volt-amperes the display's last digit decides the quotient.
std::vector<Loaded> loaded_elements(Snapshot const& snapshot, double least) {
    std::vector<Loaded> loaded;
    for (std::size_t k = 0; k < snapshot.v.size(); ++k) {
        auto const v = at(snapshot.v, k);
        auto const i = at(snapshot.i, k);
        if (!v || !i || *v * *i < least) continue;
        loaded.push_back(
            {*v * *i, at(snapshot.p, k), at(snapshot.q, k), at(snapshot.s, k), at(snapshot.pf, k)});
    }
    return loaded;
}

// Apparent power of the registers against V times I, from whatever of s, (p, q) and (p, pf) was sent.
std::optional<double> apparent_quotient(Loaded const& element) {
    if (element.s && *element.s > 0.0) return *element.s / element.vi;
    if (element.p && element.q) return std::hypot(*element.p, *element.q) / element.vi;
    if (element.p && element.pf && std::abs(*element.pf) > 0.1)
        return std::abs(*element.p / *element.pf) / element.vi;
    return std::nullopt;
}

bool near(double value, double wanted, double share) { return std::abs(value - wanted) <= share * wanted; }

// --- the frequency of the other system ---

std::optional<Fault> other_frequency(ReadingSet const& set) {
    for (std::size_t k = 0; k < set.snapshots.size(); ++k) {
        auto const& hz = set.snapshots[k].hz;
        if (!hz) continue;
        bool const found_60 = std::abs(set.nominal.hz - 50.0) < 2.0 && *hz > 55.0 && *hz < 65.0;
        bool const found_50 = std::abs(set.nominal.hz - 60.0) < 2.0 && *hz > 45.0 && *hz < 55.0;
        if (found_60 || found_50)
            return Fault{"the frequency belongs to the other system", place(k, "hz"),
                         quantity::shortest(*hz) + " Hz",
                         "within 5 Hz of the nominal " + quantity::shortest(set.nominal.hz) + " Hz",
                         "set nominal.hz to the system's frequency; if that is right, this is another "
                         "meter's reading"};
    }
    return std::nullopt;
}

// --- secondary amperes marked primary ---

std::vector<double> ratio_factors(ReadingSet const& set) {
    std::vector<double> factors;
    if (set.ct_output == plan::CtOutput::millivolts || set.ct_output == plan::CtOutput::coil) return factors;
    for (auto const* const ratios : {&set.ct_programmed, &set.ct_planned})
        for (auto const& ratio : *ratios)
            if (ratio.factor() >= 4.0) factors.push_back(ratio.factor());
    return factors;
}

// Watts that carry the ratio beside amperes that do not.
bool carries_ratio(std::vector<Loaded> const& loaded, double factor) {
    std::size_t beyond = 0;
    for (auto const& element : loaded) {
        if (auto const quotient = apparent_quotient(element)) {
            if (!near(*quotient, factor, 0.10)) return false;
            ++beyond;
        } else if (element.p) {
            double const quotient_p = std::abs(*element.p) / element.vi;
            if (quotient_p > 1.1 * factor) return false;
            if (quotient_p > 3.0) ++beyond;
        }
    }
    return !loaded.empty() && 2 * beyond > loaded.size();
}

std::optional<Fault> secondary_amperes(ReadingSet const& set) {
    if (set.side != quantity::Side::primary) return std::nullopt;
    auto const factors = ratio_factors(set);
    for (std::size_t k = 0; k < set.snapshots.size(); ++k) {
        auto const& snapshot = set.snapshots[k];
        auto const loaded = loaded_elements(snapshot, 15.0);  // 65 mA at 230 V
        for (auto const factor : factors) {
            if (!carries_ratio(loaded, factor)) continue;
            return Fault{"the amperes are the secondary's, the power is the primary's", place(k, "i"),
                         words(snapshot.i) + " A where the power asks for " + quantity::shortest(factor) +
                             " times as much",
                         "amperes on the primary side, as `side` says",
                         "multiply i by the CT ratio, or read the meter's primary registers"};
        }
    }
    return std::nullopt;
}

// --- kW sent as W ---

constexpr double least_plausible_factor = 0.2;

// A lone p near a thousandth of V I could be a capacitor's loss or a wiring at a right angle: p alone is
// believed only when every loaded element of several shows a usual power factor, and the load is not called
// capacitive.
bool is_in_thousands(ReadingSet const& set, Snapshot const& snapshot, std::vector<Loaded> const& loaded) {
    std::size_t proved = 0;
    std::size_t likely = 0;
    for (auto const& element : loaded) {
        if (!element.p && !element.s) return false;
        if (auto const quotient = apparent_quotient(element)) {
            if (!near(*quotient, 1e-3, 0.15)) return false;
            ++proved;
        } else {
            double const factor = std::abs(element.p.value_or(0.0)) / element.vi * 1e3;
            if (factor < least_plausible_factor || factor > 1.05) return false;
            ++likely;
        }
    }
    auto const kind = snapshot.load_kind.whole ? snapshot.load_kind.whole : set.load_kind.whole;
    return proved > 0 || (likely > 0 && kind != plan::LoadKind::capacitive);
}

// The meter's total against the sum of its own elements: no wiring comes between the two.
std::optional<Fault> total_in_thousands(std::size_t k, std::string_view field, Column const& parts,
                                        std::optional<double> total) {
    double sum = 0.0;
    for (auto const& part : parts) {
        if (!part) return std::nullopt;
        sum += *part;
    }
    if (parts.empty() || !total || std::abs(sum) < 100.0 || !near(*total / sum, 1e-3, 0.05))
        return std::nullopt;
    return Fault{"the total is a thousandth of the sum of its elements", place(k, field),
                 quantity::shortest(*total),
                 "about " + quantity::shortest(std::round(sum)) + ", the sum of the elements",
                 "multiply by 1000: the contract is in W, var and VA"};
}

std::optional<Fault> thousands(ReadingSet const& set) {
    for (std::size_t k = 0; k < set.snapshots.size(); ++k) {
        auto const& snapshot = set.snapshots[k];
        auto const loaded = loaded_elements(snapshot, set.side == quantity::Side::primary ? 100.0 : 2.0);
        if (!loaded.empty() && is_in_thousands(set, snapshot, loaded)) {
            bool const watts = !snapshot.p.empty();
            return Fault{"the power is a thousandth of volts times amperes on every loaded element",
                         place(k, watts ? "p" : "s"),
                         words(watts ? snapshot.p : snapshot.s) + ", a thousandth of V times I: kW, not W",
                         "watts, vars and volt-amperes", "multiply p, q and s by 1000"};
        }
        if (auto fault = total_in_thousands(k, "p_total", snapshot.p, snapshot.p_total)) return fault;
        if (auto fault = total_in_thousands(k, "q_total", snapshot.q, snapshot.q_total)) return fault;
    }
    return std::nullopt;
}

// --- frozen registers ---

std::vector<std::optional<double>> all_measured(Snapshot const& snapshot) {
    std::vector<std::optional<double>> all;
    for (auto const* const column :
         {&snapshot.v, &snapshot.i, &snapshot.p, &snapshot.q, &snapshot.s, &snapshot.pf, &snapshot.v_ll,
          &snapshot.v_angle, &snapshot.i_angle, &snapshot.thd_i}) {
        all.insert(all.end(), column->begin(), column->end());
        all.push_back(std::nullopt);  // so that a value cannot slip from one column into the next
    }
    for (auto const& value :
         {snapshot.i_n, snapshot.hz, snapshot.p_total, snapshot.q_total, snapshot.s_total, snapshot.pf_total})
        all.push_back(value);
    return all;
}

// How many numbers are fine enough that a live load would have moved them.
std::size_t telling_numbers(ReadingSet const& set, Snapshot const& snapshot) {
    constexpr double finest_share = 0.003;
    std::size_t count = 0;
    auto const add = [&](Column const& column, std::optional<double> resolution) {
        for (auto const& value : column)
            if (value && *value != 0.0 && resolution.value_or(0.0) <= finest_share * std::abs(*value))
                ++count;
    };
    add(snapshot.v, set.resolution.v);
    add(snapshot.i, set.resolution.i);
    add(snapshot.p, set.resolution.p);
    add(snapshot.q, set.resolution.q);
    return count;
}

std::optional<Fault> frozen(ReadingSet const& set) {
    auto const count = set.snapshots.size();
    if (count < 2) return std::nullopt;
    auto const first = all_measured(set.snapshots.front());
    for (auto const& snapshot : set.snapshots)
        if (all_measured(snapshot) != first) return std::nullopt;
    auto const& begin = set.snapshots.front().time;
    auto const& end = set.snapshots.back().time;
    bool const times_differ = begin && end && *begin != *end;
    auto const telling = telling_numbers(set, set.snapshots.front());
    bool const proved = count >= 3 ? telling >= 2 : times_differ && telling >= 6;
    if (!proved) return std::nullopt;
    return Fault{
        "nothing moved between the snapshots", "snapshots",
        std::to_string(count) + " snapshots that are equal to the last digit",
        "snapshots in which volts, amperes or watts move, as a live load's do",
        "look whether the meter still updates its registers, or whether one answer was read again and again; "
        "send a single snapshot if only one was taken"};
}

// --- readings older than the last test ---

constexpr double tolerated_age_s = 15.0 * 60.0;

bool is_timeless(std::string_view kind) {
    return kind == "nameplate" || kind == "turns_in_window" || kind == "cables_in_window" ||
           kind == "bill_pf";
}
bool moves_something(std::string_view kind) {
    return kind == "ct_shorted" || kind == "fuse_opened" || kind == "load_switched" ||
           kind == "generation_stopped";
}

std::optional<Fault> stale(ReadingSet const& set) {
    std::optional<double> newest;
    std::size_t newest_at = 0;
    for (std::size_t k = 0; k < set.snapshots.size(); ++k) {
        auto const& time = set.snapshots[k].time;
        auto const seconds = time ? seconds_of(*time) : std::nullopt;
        if (!seconds) return std::nullopt;  // a snapshot without a time may be the newest
        if (!newest || *seconds > *newest) {
            newest = seconds;
            newest_at = k;
        }
    }
    for (auto const& test : set.tests) {
        auto const made = test.time ? seconds_of(*test.time) : std::nullopt;
        if (!made || !newest || is_timeless(test.kind)) continue;
        if (*made - *newest <= (moves_something(test.kind) ? 0.0 : tolerated_age_s)) continue;
        return Fault{"the readings are older than the last test", place(newest_at, "time"),
                     *set.snapshots[newest_at].time + ", before " + test.kind + " at " + *test.time,
                     "a snapshot newer than every test",
                     "read the meter again: an old reading confirms nothing"};
    }
    return std::nullopt;
}
}  // namespace

std::optional<Fault> check(ReadingSet const& set) {
    for (auto const ask : {other_frequency, secondary_amperes, thousands, frozen, stale})
        if (auto fault = ask(set)) return fault;
    return std::nullopt;
}

}  // namespace phasewright::readings
