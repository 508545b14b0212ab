// Totals alone: S' = c S for a load whose phases share the energy in a known way. With vars the angle of
// every interval is in S' itself; without them the load angle must come from elsewhere, unless c is real.
#include <algorithm>
#include <cmath>

#include "core/correction/read_back.hpp"

namespace phasewright::correction {

namespace {
constexpr double real_enough = 1e-9;
constexpr double nothing_left = 0.02;  // |c| below it: what registers is unbalance, not load
constexpr std::size_t most_bins = 64;

bool counts_elements(RegisterKind kind) {
    return kind == RegisterKind::absolute || kind == RegisterKind::per_phase;
}

Refusal refused(std::string why, std::vector<std::string> help = what_gives_lost_energy()) {
    return {std::move(why), std::move(help)};
}

// All elements off by one and the same factor: totals tell as much as elements do.
bool is_common_factor(ElementLaw const& law, std::size_t elements) {
    if (!law.known[of_total]) return false;
    for (std::size_t l = 1; l < elements; ++l)
        if (std::abs(law.share[of_total][l] - law.share[of_total][0]) > 1e-6) return false;
    return true;
}

std::optional<Refusal> why_not(Question const& question, ReadBack const& read, IntervalData const& data,
                               PerElement const& parts) {
    auto const elements = read.both.seen.elements;
    bool const common = is_common_factor(read.central, elements);
    bool const by_shares = question.shares && shares_tell_angles(question.model);
    if (!read.central.known[of_total] && !by_shares)
        return refused("a phase left no trace in the readings, so the totals do not determine the energy");
    if (!common && question.model.service == plan::Service::high_leg_delta)
        return refused("the legs of a high-leg service are loaded too differently for totals to tell",
                       {"the kWh and kvarh of each element over the same intervals"});
    if (!common && !by_shares && !question.balanced_within)
        return refused(
            "the elements are wrong by different amounts, and totals do not say how the load was spread over "
            "them",
            {"the kWh and kvarh of each element over the same intervals",
             "the shares of the phases after the repair (--shares), for a meter with a neutral",
             "a statement that the load is balanced, and within what (--balanced-within)"});
    auto const c = sum_of(parts);
    if (!counts_elements(question.kind) && std::abs(c) < nothing_left)
        return refused(
            "of a balanced load such a wiring registers nothing at any power factor: no factor brings it "
            "back",
            {"the kWh and kvarh of each element over the same intervals",
             "a balance against another meter of the same energy",
             "the history of the same load before the mistake or after the repair"});
    bool const has_lag = question.lag.has_value() || !data.load_lag_rad.empty();
    if ((!data.vars_recorded || counts_elements(question.kind)) && !has_lag &&
        !registered_share(parts, question.kind, std::nullopt))
        return refused(
            "what is registered depends on the load's power factor, and these readings do not tell it",
            {"kvarh beside the kWh", "the load's power factor and how far it wanders (--pf)"});
    if (data.one_way && !counts_elements(question.kind) && std::abs(c.imag()) < real_enough && c.real() < 0.0)
        return refused(
            "a register that counts one direction alone stood still whenever the load went that way: what it "
            "shows is the other direction",
            what_gives_lost_energy());
    return std::nullopt;
}

struct Reader {
    Question const& question;
    IntervalData const& data;
    ReadBack& read;
    PerElement parts;
    Complex c;
    bool by_angle;  // from S', not from a load angle told

    [[nodiscard]] std::optional<double> lag(std::size_t row) const {
        if (!data.load_lag_rad.empty()) return data.load_lag_rad[row];
        if (question.lag) return question.lag->lag_rad;
        return std::nullopt;
    }
    // The register's sign: an export-only one shows a positive number for what flowed back.
    [[nodiscard]] double shown_sign() const {
        return data.one_way && question.kind == RegisterKind::export_only ? -1.0 : 1.0;
    }

    void undetermined(std::size_t row) const {
        ++read.undetermined_rows;
        read.undetermined_registered_wh += registered_wh(data, question.kind, row);
        read.series.emplace_back();
    }

    void take(std::size_t row) const {
        auto const shown = data.at(row, 0);
        if (data.one_way && !counts_elements(question.kind) && shown.real() == 0.0 &&
            (std::abs(c.imag()) > real_enough || c.real() < 0.0))
            return undetermined(
                row);  // it stood still: for want of load, or because it would have run backwards
        CorrectedRow out;
        double const wh = shown.real() * shown_sign();
        if (by_angle) {
            Complex s{wh, read.turned_vars ? -shown.imag() : shown.imag()};
            s /= c;
            out.wh = s.real();
            out.varh = s.imag();
        } else {
            auto const angle = lag(row);
            auto const tan_lag = angle ? std::optional{std::tan(*angle)} : std::nullopt;
            auto const share = registered_share(parts, question.kind, tan_lag);
            if (!share || std::abs(*share) < nothing_left) return undetermined(row);
            out.wh = wh / *share;
            if (tan_lag) out.varh = *out.wh * *tan_lag;
        }
        count(row, *out.wh, wh);
        read.series.push_back(out);
    }

    void count(std::size_t row, double true_wh, double shown_wh) const {
        double sign = 1.0;
        if (question.kind == RegisterKind::import_only) sign = true_wh > 0.0 ? 1.0 : 0.0;
        if (question.kind == RegisterKind::export_only) sign = true_wh < 0.0 ? -1.0 : 0.0;
        read.registered_wh += registered_wh(data, question.kind, row);
        read.true_wh += sign * true_wh;
        double const varh = read.turned_vars ? -data.at(row, 0).imag() : data.at(row, 0).imag();
        if (by_angle)
            read.weighted_total += sign * Energy{shown_wh, varh};
        else
            read.bins.push_back({lag(row).value_or(0.0), sign * shown_wh});
    }
};

// Rows of nearly the same load angle become one: a draw then costs a few terms, not one an interval.
void gather(std::vector<ReadBack::Bin>& bins) {
    if (bins.size() <= most_bins) return;
    auto const [least, most] = std::ranges::minmax(bins, {}, &ReadBack::Bin::lag_rad);
    double const width = (most.lag_rad - least.lag_rad) / most_bins;
    std::vector<ReadBack::Bin> few(width > 0.0 ? most_bins : 1);
    std::vector<double> amount(few.size(), 0.0);
    for (auto const& bin : bins) {
        auto const place =
            width > 0.0
                ? std::min(few.size() - 1, static_cast<std::size_t>((bin.lag_rad - least.lag_rad) / width))
                : 0;
        few[place].wh += bin.wh;
        few[place].lag_rad += std::abs(bin.wh) * bin.lag_rad;
        amount[place] += std::abs(bin.wh);
    }
    for (std::size_t k = 0; k < few.size(); ++k)
        few[k].lag_rad = amount[k] > 0.0 ? few[k].lag_rad / amount[k] : least.lag_rad;
    bins = std::move(few);
}
}  // namespace

ReadBack read_totals(Question const& question, Hypothesis const& hypothesis, IntervalData const& data) {
    ReadBack read{.both = seen_both(hypothesis.wiring, question.model),
                  .turned_vars = hypothesis.wiring.vars_turned,
                  .by_totals = true};
    auto const u = plan::source_phasors(question.model, question.nominal, question.rotation);
    auto const volts = volts_of(read.both, u);
    read.central = element_law(read.both, volts);
    read.by_shares = question.shares.has_value() && shares_tell_angles(question.model);
    auto const parts = parts_of_true(read.both, volts, load_currents(question, u, 0.0, nullptr));
    bool const by_angle = data.vars_recorded && !counts_elements(question.kind);
    read.refusal = why_not(question, read, data, parts);
    if (read.refusal) {
        read.law = diagnosis::EnergyLaw::lost;
        read.series.resize(data.rows());
        return read;
    }
    read.law = is_common_factor(read.central, read.both.seen.elements) ? diagnosis::EnergyLaw::factor
                                                                       : diagnosis::EnergyLaw::band;
    if (std::abs(sum_of(parts) - 1.0) < real_enough) read.law = diagnosis::EnergyLaw::exact;
    Reader const reader{question, data, read, parts, sum_of(parts), by_angle};
    read.series.reserve(data.rows());
    for (std::size_t row = 0; row < data.rows(); ++row) reader.take(row);
    gather(read.bins);
    return read;
}

}  // namespace phasewright::correction
