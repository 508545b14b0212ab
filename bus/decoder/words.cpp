#include "bus/decoder/words.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/quantity/text.hpp"

namespace phasewright::decoder {

namespace {

using enum Quantity;
using profile::Order;
using profile::ValueType;

std::string_view word_of(ValueType type) {
    constexpr std::array<std::string_view, 8> words{"int16", "uint16", "int32",   "uint32",
                                                    "int64", "uint64", "float32", "float64"};
    return words.at(static_cast<std::size_t>(type));
}

double most_of(Picture const& picture, Quantity quantity, std::size_t phase) {
    return told_by_others(quantity, picture, 0, phase).value_or(0.0);
}

// "0.92, 0.90, 0.93 of V x I"
std::string shares(Placed const& placed, Picture const& picture) {
    std::vector<std::string> texts;
    for (std::size_t at = 0; at < placed.addresses.size(); ++at) {
        auto const watts = number_in(picture, placed.quantity, 0, at);
        double const most = most_of(picture, s, at);
        texts.push_back(watts && most > 0.0 ? quantity::fixed(*watts / most, 3) : "-");
    }
    return quantity::joined(texts, ", ");
}

std::string why_reactive(Picture const& picture) {
    double worst = 0.0;
    for (std::size_t phase = 0; phase < picture.expected.phases; ++phase) {
        auto const watts = number_in(picture, p, 0, phase);
        auto const vars = number_in(picture, q, 0, phase);
        double const most = most_of(picture, s, phase);
        if (watts && vars && most > 0.0) worst = std::max(worst, std::abs(std::hypot(*watts, *vars) / most - 1.0));
    }
    return fmt::format("with the active power it makes V x I in every phase, to {} %", quantity::fixed(100.0 * worst, 2));
}

std::string why_counter(Placed const& placed, Picture const& picture) {
    auto const& dumps = picture.rows.at(index_of(placed.quantity))->dumps;
    auto const& first = dumps.front().front();
    auto const& last = dumps.back().front();
    auto const& t0 = picture.time_s.front();
    auto const& t1 = picture.time_s.back();
    auto const unit = unit_of(placed.quantity);
    if (dumps.size() < 2 || !t0 || !t1)
        return fmt::format("{} {} is a size that a counter beside this power reaches; one dump shows no rise",
                           number_words(first.value, first.step), unit);
    double const rise = last.value - first.value;
    return fmt::format("rises by {} {} in {} s, an average of {} {}", number_words(rise, last.step), unit,
                       quantity::shortest(*t1 - *t0), quantity::fixed(rise * 3600.0 / (*t1 - *t0), 0),
                       unit.substr(0, unit.size() - 1));
}

std::string why_told(Placed const& placed, Picture const& picture, std::string_view relation) {
    auto const told = told_by_others(placed.quantity, picture, 0, 0);
    auto const step = picture.rows.at(index_of(placed.quantity))->dumps.front().front().step;
    if (!told) return "fits beside the numbers around it";
    return fmt::format("{}: {} is due", relation, number_words(*told, std::max(step, 1e-3 * std::abs(*told))));
}

}  // namespace

std::string words_of(Format const& format) {
    std::string text{word_of(format.type)};
    if (profile::registers_of(format.type) > 1)
        text += format.words == Order::high_first ? ", high word first" : ", low word first";
    if (format.bytes == Order::low_first) text += ", bytes exchanged";
    return text;
}

std::string percent_words(double share) {
    if (share > 0.999) return "> 99.9 %";
    if (share < 0.001) return "< 0.1 %";
    return quantity::fixed(100.0 * share, 1) + " %";
}

std::string number_words(double value, double step) {
    if (!(step > 0.0)) return quantity::shortest(value);
    double const shown = std::max(step, std::abs(value) * 1e-5);  // floating point shows more than anybody reads
    return quantity::fixed(value, std::clamp(static_cast<int>(std::ceil(-std::log10(shown) - 1e-9)), 0, 6));
}

std::string why(Placed const& placed, Picture const& picture) {
    auto const& nominal = picture.expected.nominal;
    switch (placed.quantity) {
        case v: return fmt::format("near {} V", quantity::shortest(nominal.v_ln));
        case v_ll: return why_told(placed, picture, "the voltage between two of these phases");
        case i: return picture.rows.at(index_of(p)) ? "with the voltages they allow the powers" : "of a size that a panel draws, beside the voltages";
        case p: return fmt::format("{} of V x I", shares(placed, picture));
        case q: return picture.rows.at(index_of(p)) ? why_reactive(picture) : "no larger than V x I";
        case s: return why_told(placed, picture, "V x I");
        case pf: return why_told(placed, picture, "P / S");
        case hz: return fmt::format("near {} Hz", quantity::shortest(nominal.hz));
        case v_mean: return why_told(placed, picture, "the mean of the phase voltages");
        case v_ll_mean: return why_told(placed, picture, "the mean of the line voltages");
        case i_mean: return why_told(placed, picture, "the mean of the currents");
        case i_sum: return why_told(placed, picture, "the sum of the currents");
        case i_n: return "no larger than the phases' sum, beside the currents";
        case p_total:
        case q_total:
        case s_total: return why_told(placed, picture, "the sum over the phases");
        case pf_total: return why_told(placed, picture, "P / S of the whole");
        case energy_import:
        case energy_export:
        case reactive_energy:
        case apparent_energy: return why_counter(placed, picture);
    }
    return {};
}

namespace {

std::string place_words(Placed const& placed) {
    return fmt::format("{} {} x 10^{}", placed.addresses.front(), words_of(placed.format), placed.exponent);
}

bool other_scale_only(FoundField const& field, Rival const& rival) {
    return rival.placed.addresses == field.placed.addresses && rival.placed.format.words == field.placed.format.words &&
           rival.placed.exponent != field.placed.exponent;
}

std::string doubt_about(FoundField const& field) {
    auto const quantity = field.placed.quantity;
    auto const& rival = field.rivals.front();
    auto const percent = [](double share) { return quantity::fixed(100.0 * share, 0) + " %"; };
    auto const heading = fmt::format("{}: {} ({}) or {} ({})", words_of(quantity), place_words(field.placed),
                                     percent(field.probability), place_words(rival.placed), percent(rival.probability));
    if (is_counter(quantity))
        return heading + ". Dump again under load once the counter must have risen by ten steps";
    if (other_scale_only(field, rival) && quantity != v && quantity != v_ll)
        return heading + ". Read one phase with a clamp, and give --current around it";
    if (quantity == v || quantity == i || quantity == p || quantity == q)
        return heading + ". Switch a known one-phase load on the first phase and dump again: only that phase's current "
                         "and power may move";
    return heading + ". Dump again under another load: only one of the two will still fit";
}

}  // namespace

std::vector<std::string> doubts_of(Decoding const& decoding, Picture const& picture) {
    std::vector<std::string> doubts;
    if (decoding.fields.empty()) {
        doubts.push_back("No voltages near the nominal stand in these registers in any format. Give the other of --nominal, "
                         "read other addresses, or the other function");
        return doubts;
    }
    double known = 0.0;
    for (auto const& layout : decoding.layouts) known += layout.probability;
    if (known < 0.8)
        doubts.push_back(fmt::format("All of it ({}): these numbers hang together hardly better than chance brings about. "
                                     "Dump more registers, under load on every phase",
                                     percent_words(1.0 - known)));
    for (auto const& field : decoding.fields) {
        bool const weighty = is_per_phase(field.placed.quantity) || is_counter(field.placed.quantity) ||
                             field.placed.quantity == p_total;
        if (weighty && field.probability < 0.9 && !field.rivals.empty()) doubts.push_back(doubt_about(field));
    }
    bool const has_current = picture.rows.at(index_of(i)).has_value();
    if (!has_current)
        doubts.push_back("No currents hang together with these voltages. Dump again under load on every phase");
    bool const one_word = profile::registers_of(decoding.fields.front().placed.format.type) == 1;
    bool const all_one_word = std::ranges::all_of(decoding.fields, [](FoundField const& field) {
        return profile::registers_of(field.placed.format.type) == 1;
    });
    if (one_word && all_one_word)
        doubts.push_back("No number longer than one register was found, so the word order of long ones is not known");
    return doubts;
}

}  // namespace phasewright::decoder
