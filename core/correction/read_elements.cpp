// Elements that were recorded one by one: S_true = sum K_k S'_k in every interval, no power factor assumed.
#include <algorithm>
#include <cmath>

#include "core/correction/read_back.hpp"

namespace phasewright::correction {

namespace {
constexpr double failing_volts = 0.2;  // of what it should see: below it the angle of an element says nothing
constexpr double real_enough = 1e-9;

// The share of its nominal voltage that each element saw in one interval, and the supply that follows from
// it.
struct VoltsNow {
    bool usable = true;
    ElementVolts volts;
};

// Which conductor an element stands on against the neutral, if it stands on one alone.
std::optional<std::size_t> stands_on(SeenBoth const& both, std::size_t k) {
    std::optional<std::size_t> conductor;
    for (std::size_t c = 0; c < 3; ++c) {
        auto const entry = both.seen.voltage[k][c];
        if (std::abs(entry) < real_enough) continue;
        if (conductor || std::abs(entry - 1.0) > real_enough) return std::nullopt;
        conductor = c;
    }
    if (std::abs(both.seen.voltage[k][3] + 1.0) > real_enough) return std::nullopt;
    return conductor;
}

VoltsNow volts_now(SeenBoth const& both, plan::SourcePhasors u, IntervalData const& data, std::size_t row) {
    auto const nominal = volts_of(both, u);
    VoltsNow now;
    PerElement size{};
    std::array<double, 3> own{};
    double sum = 0.0;
    double count = 0.0;
    for (std::size_t k = 0; k < data.columns; ++k) {
        size[k] = 1.0;
        double const expected = std::abs(nominal.wired[k]);
        if (both.blind[k] || expected <= 0.0) continue;
        double const share = data.volts[row * data.columns + k] / expected;
        now.usable = now.usable && share > failing_volts;
        size[k] = share;
        sum += share;
        count += 1.0;
        if (auto const conductor = stands_on(both, k)) own[*conductor] = share;
    }
    double const mean = count > 0.0 ? sum / count : 1.0;
    for (std::size_t c = 0; c < 3; ++c) u[c] *= own[c] > 0.0 ? own[c] : mean;
    now.volts.planned = volts_of(both, u).planned;
    for (std::size_t k = 0; k < data.columns; ++k) now.volts.wired[k] = nominal.wired[k] * size[k];
    return now;
}

bool uses_volts(ElementLaw const& law, std::size_t elements) {
    // Turning a current by 180 degrees or dividing by a ratio borrows no other element's volts.
    for (std::size_t k = 0; k < elements; ++k)
        for (std::size_t l = 0; l < elements; ++l)
            if (law.known[k] &&
                (k != l ? std::abs(law.share[k][l]) : std::abs(law.share[k][l].imag())) > real_enough)
                return true;
    return false;
}

bool needs_vars(ElementLaw const& law) {
    for (std::size_t k = 0; k <= wiring::most_elements; ++k)
        for (auto const& share : law.share[k])
            if (law.known[k] && std::abs(share.imag()) > real_enough) return true;
    return false;
}

// A per-phase register that never moved counted nothing because it was turned, or because there was nothing:
// its zero tells no energy.
void blind_standing_registers(Question const& question, IntervalData const& data, SeenBoth& both,
                              ElementVolts const& volts) {
    if (question.kind != RegisterKind::per_phase) return;
    auto const law = element_law(both, volts);
    for (std::size_t l = 0; l < data.columns; ++l) {
        bool moved = false;
        for (std::size_t row = 0; row < data.rows(); ++row) moved = moved || std::abs(data.at(row, l)) > 0.0;
        bool const kept = law.known[l] && std::abs(law.share[l][l] - 1.0) < real_enough;
        if (!moved && !kept) both.blind[l] = true;
    }
}

double sign_of(RegisterKind kind, double total, double element) {
    switch (kind) {
        case RegisterKind::net: return 1.0;
        case RegisterKind::import_only: return total > 0.0 ? 1.0 : 0.0;
        case RegisterKind::export_only: return total < 0.0 ? -1.0 : 0.0;
        case RegisterKind::absolute: return element < 0.0 ? -1.0 : 1.0;
        case RegisterKind::per_phase: return element > 0.0 ? 1.0 : 0.0;
    }
    return 1.0;
}

struct Reader {
    Question const& question;
    IntervalData const& data;
    ReadBack& read;
    plan::SourcePhasors u;
    double shared = 1.0;  // the share of the whole that the targets make up

    [[nodiscard]] Energy seen(std::size_t row, std::size_t l) const {
        auto const s = data.at(row, l);
        return read.turned_vars ? std::conj(s) : s;
    }

    void undetermined(std::size_t row) const {
        ++read.undetermined_rows;
        read.undetermined_registered_wh += registered_wh(data, question.kind, row);
        read.series.emplace_back(std::vector<std::optional<Energy>>(data.columns));
    }

    void take(std::size_t row) const {
        auto law = read.central;
        if (read.used_volts) {
            auto const now = volts_now(read.both, u, data, row);
            if (!now.usable) return undetermined(row);
            law = element_law(read.both, now.volts);
        }
        CorrectedRow out{.of_element = std::vector<std::optional<Energy>>(data.columns)};
        for (std::size_t k = 0; k < data.columns; ++k) {
            if (!law.known[k]) continue;
            Energy e{};
            for (std::size_t l = 0; l < data.columns; ++l) e += law.share[k][l] * seen(row, l);
            out.of_element[k] = e;
            read.known_wh[k] += e.real();
        }
        total_of(row, law, out);
        read.series.push_back(std::move(out));
    }

    void total_of(std::size_t row, ElementLaw const& law, CorrectedRow& out) const {
        Energy total{};
        if (read.by_shares) {
            for (auto const k : read.targets) total += *out.of_element[k] / shared;
        } else {
            for (std::size_t l = 0; l < data.columns; ++l) total += law.share[of_total][l] * seen(row, l);
        }
        if (read.refusal) return;
        out.wh = total.real();
        bool const angles = !read.by_shares || shares_tell_angles(read.both.model);
        if (data.vars_recorded && angles) out.varh = total.imag();
        read.registered_wh += registered_wh(data, question.kind, row);
        for (auto const k : read.targets) {
            double const element = k == of_total ? total.real() : out.of_element[k]->real();
            double const sign = sign_of(question.kind, total.real(), element);
            read.true_wh += sign * element / shared;
            for (std::size_t l = 0; l < data.columns; ++l) read.weighted[k][l] += sign * seen(row, l);
        }
    }
};

void choose_targets(Question const& question, ReadBack& read, std::size_t elements) {
    bool const each = question.kind == RegisterKind::absolute || question.kind == RegisterKind::per_phase;
    auto const& known = read.central.known;
    std::size_t count = 0;
    for (std::size_t k = 0; k < elements; ++k) count += known[k] ? 1 : 0;
    bool const whole = each ? count == elements : known[of_total];
    read.by_shares = !whole && question.shares.has_value() && count > 0;
    if (each || read.by_shares) {
        for (std::size_t k = 0; k < elements; ++k)
            if (known[k]) read.targets.push_back(k);
    } else if (whole) {
        read.targets.push_back(of_total);
    }
    if (whole || read.by_shares) return;
    read.law = diagnosis::EnergyLaw::lost;
    read.refusal = Refusal{count == 0 ? "no current of the load reached the meter with a voltage that is "
                                        "known: nothing of the energy is left in its readings"
                                      : "a phase left no trace in the readings, so the whole is not "
                                        "determined; what is known of the others stands beside",
                           what_gives_lost_energy()};
}

diagnosis::EnergyLaw law_of(ReadBack const& read, std::size_t elements) {
    using enum diagnosis::EnergyLaw;
    if (read.by_shares) return band;
    if (read.central.by_sum && read.both.model.current_inputs.size() == elements)
        return elements == 2 ? exact : band;
    auto const& whole = read.central.share[of_total];
    bool one_number = std::abs(whole[0].imag()) < real_enough && std::abs(whole[0] - 1.0) > real_enough &&
                      whole[0].real() > 0.0;
    for (std::size_t l = 0; l < elements; ++l)
        one_number = one_number && std::abs(whole[l] - whole[0]) < real_enough;
    return one_number ? factor : exact;
}
}  // namespace

ReadBack read_elements(Question const& question, Hypothesis const& hypothesis, IntervalData const& data) {
    ReadBack read{.both = seen_both(hypothesis.wiring, question.model),
                  .turned_vars = hypothesis.wiring.vars_turned};
    auto const u = plan::source_phasors(question.model, question.nominal, question.rotation);
    auto const volts = volts_of(read.both, u);
    blind_standing_registers(question, data, read.both, volts);
    read.central = element_law(read.both, volts);
    choose_targets(question, read, data.columns);
    if (!read.refusal) read.law = law_of(read, data.columns);
    if (!data.vars_recorded && needs_vars(read.central)) {
        read.law = diagnosis::EnergyLaw::lost;
        read.refusal =
            Refusal{"the wiring mixed vars into the watts, and the vars of the elements were not recorded",
                    {"the kvarh of each element over the same intervals",
                     "the totals alone, with the load's power factor and how far it wanders (--pf)"}};
        read.central.known.fill(false);
    }
    if (read.refusal) read.targets.clear();
    read.used_volts = !data.volts.empty() && uses_volts(read.central, data.columns);
    for (std::size_t k = 0; k < data.columns; ++k) read.element_known.push_back(read.central.known[k]);
    read.known_wh.assign(data.columns, 0.0);
    Reader reader{question, data, read, u};
    if (read.by_shares && !read.refusal) {
        reader.shared = 0.0;
        for (auto const k : read.targets) reader.shared += question.shares->of_element[k];
    }
    read.series.reserve(data.rows());
    for (std::size_t row = 0; row < data.rows(); ++row) reader.take(row);
    return read;
}

}  // namespace phasewright::correction
