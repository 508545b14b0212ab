#include "app/commands/restate_inputs.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numbers>

#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

using correction::Question;
using quantity::Fault;

namespace {
constexpr double radians_a_minute = std::numbers::pi / 180.0 / 60.0;

std::vector<std::string> split(std::string_view text, char at) {
    std::vector<std::string> parts;
    if (text.empty()) return parts;
    while (true) {
        auto const end = text.find(at);
        auto part = text.substr(0, end);
        while (part.starts_with(' ')) part.remove_prefix(1);
        while (part.ends_with(' ')) part.remove_suffix(1);
        parts.emplace_back(part);
        if (end == std::string_view::npos) return parts;
        text.remove_prefix(end + 1);
    }
}

std::optional<double> number_of(std::string_view text) {
    double value = 0.0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

std::optional<std::vector<double>> numbers_of(std::string_view text) {
    std::vector<double> numbers;
    for (auto const& part : split(text, ',')) {
        auto const number = number_of(part);
        if (!number) return std::nullopt;
        numbers.push_back(*number);
    }
    return numbers;
}

// "0.85±0.03", "0.85+-0.03": what stands before and behind the sign.
struct WithSpread {
    std::string value;
    std::optional<double> spread;
};
WithSpread with_spread(std::string const& text) {
    for (std::string_view const sign : {"±", "+-", "+/-"})
        if (auto const at = text.find(sign); at != std::string::npos) {
            auto const behind = split(std::string_view{text}.substr(at + sign.size()), '\n');
            return {split(std::string_view{text}.substr(0, at), '\n').front(),
                    behind.empty() ? std::nullopt : number_of(behind.front())};
        }
    return {text, std::nullopt};
}

std::unexpected<Fault> wrong(std::string what, std::string where, std::string const& found,
                             std::string allowed, std::string remedy) {
    return std::unexpected(
        Fault{std::move(what), std::move(where), "\"" + found + "\"", std::move(allowed), std::move(remedy)});
}

std::expected<plan::ServiceModel, Fault> model_from(std::string const& code) {
    std::vector<std::string> codes;
    for (auto const service : plan::all_services) codes.emplace_back(plan::code_of(service));
    auto const service = plan::service_of(code);
    if (!service)
        return wrong("the service is not known", "--service", code, quantity::joined(codes, " "),
                     "did you mean " + quantity::nearest_word(code, codes) + "?");
    return plan::model_of(*service);
}

std::expected<plan::Nominal, Fault> nominal_from(std::string const& text, plan::ServiceModel const& model) {
    auto const parts = split(text, '/');
    constexpr double hertz = 50.0;  // no law here depends on it
    auto const in_range = [](std::optional<double> v) { return v && *v >= 1.0 && *v <= 1'000'000.0; };
    auto const first = parts.empty() ? std::nullopt : number_of(parts[0]);
    auto const second = parts.size() == 2 ? number_of(parts[1]) : first;
    bool const good = !parts.empty() && parts.size() <= 2 && in_range(first) && in_range(second);
    if (!good)
        return wrong("these are not the rated voltages", "--nominal", text,
                     "V_LN/V_LL in volts, such as 230/400, or one of them",
                     "write 230/400 for a wye, 120/240 for a split phase, 400 for three wires");
    if (parts.size() == 1) {
        if (!model.has_neutral) return plan::Nominal{0.0, *first, hertz};
        return plan::nominal_from_ln(model.service, *first, hertz);
    }
    if (*second < *first)
        return wrong("the line voltage is below the phase voltage", "--nominal", text, "V_LN/V_LL",
                     "write the smaller one first: 230/400");
    return plan::Nominal{*first, *second, hertz};
}

std::optional<Fault> read_wirings(RestateOptions const& options, std::string_view verdict_lines,
                                  Question& question) {
    bool const by_words = !options.wiring.empty() || !options.voltage.empty() || !options.neutral.empty() ||
                          !options.ratio.empty();
    if (by_words == !options.verdict_file.empty())
        return Fault{by_words ? "a wiring and a verdict were both given" : "no wiring was given",
                     "--wiring, --verdict",
                     {},
                     "--wiring (with --voltage, --neutral, --ratio), or --verdict",
                     "say which wiring the meter had: --wiring '+a,-b,+c'"};
    if (!by_words) {
        auto from = wirings_of_verdict(verdict_lines, options.id, options.verdict_file, question.model);
        if (!from) return from.error();
        question.hypotheses = std::move(from->hypotheses);
        question.left_out_probability = from->left_out_probability;
        return std::nullopt;
    }
    auto const ratio = numbers_of(options.ratio);
    if (!ratio)
        return Fault{"these are not ratios", "--ratio", "\"" + options.ratio + "\"",
                     "programmed / installed, one a current input: 1,1,2",
                     "write numbers with points and commas between them"};
    auto const wired =
        wiring_from({split(options.voltage, ','), split(options.wiring, ','), options.neutral, *ratio},
                    question.model, "--wiring");
    if (!wired) return wired.error();
    question.hypotheses.push_back({*wired, 1.0, {}});
    return std::nullopt;
}

std::optional<Fault> read_shares(std::string const& text, Question& question) {
    if (text.empty()) return std::nullopt;
    auto const elements = question.model.elements.size();
    auto const parts = with_spread(text);
    auto const shares = numbers_of(parts.value);
    double sum = 0.0;
    bool good =
        shares && shares->size() == elements && parts.spread && *parts.spread > 0.0 && *parts.spread < 0.5;
    if (shares)
        for (double const share : *shares) {
            sum += share;
            good = good && share >= 0.0 && share <= 1.0;
        }
    if (!good || std::abs(sum - 1.0) > 0.02)
        return Fault{
            parts.spread ? "these are not the shares of the elements"
                         : "the shares do not say how far they wander",
            "--shares", "\"" + text + "\"",
            std::to_string(elements) + " shares that sum to 1, and their spread: 0.33,0.31,0.36±0.02",
            "take them from some weeks after the repair; the spread is their standard deviation from week to "
            "week"};
    question.shares = correction::Shares{*shares, *parts.spread};
    for (auto& share : question.shares->of_element) share /= sum;
    return std::nullopt;
}

std::optional<Fault> read_power_factor(std::string text, Question& question) {
    if (text.empty()) return std::nullopt;
    auto const whole = text;
    double sign = 1.0;
    for (auto const& [word, its] : {std::pair<std::string_view, double>{" lagging", 1.0}, {" leading", -1.0}})
        if (text.ends_with(word)) {
            sign = its;
            text.resize(text.size() - word.size());
        }
    auto const parts = with_spread(text);
    auto const pf = number_of(parts.value);
    if (!pf || !parts.spread || *pf <= 0.1 || *pf > 1.0 || *parts.spread <= 0.0 || *parts.spread > 0.3)
        return Fault{"this is not a power factor with its spread", "--pf", "\"" + whole + "\"",
                     "0.1 to 1 and how far it wanders: 0.85±0.03, 0.95±0.02 leading",
                     "take it from a bill or another meter of the same load; without a spread the range "
                     "would be a pretence"};
    double const high = std::acos(std::max(*pf - *parts.spread, 0.05));
    double const low = std::acos(std::min(*pf + *parts.spread, 1.0));
    question.lag = correction::AssumedLag{sign * std::acos(*pf), 0.5 * (high - low)};
    return std::nullopt;
}

// Limits at rated current: CTs IEC 61869-2:2012 Tables 201 and 202, meters IEC 62053-21/-22:2003 at unity
// power factor (written down from memory: they widen the band and pass or fail nothing).
std::optional<Fault> read_classes(RestateOptions const& options, correction::Classes& classes) {
    struct Limit {
        std::string_view mark;
        double percent, minutes;
    };
    constexpr std::array cts{Limit{"0.1", 0.1, 5.0},  Limit{"0.2", 0.2, 10.0},  Limit{"0.2S", 0.2, 10.0},
                             Limit{"0.5", 0.5, 30.0}, Limit{"0.5S", 0.5, 30.0}, Limit{"1", 1.0, 60.0}};
    constexpr std::array meters{Limit{"0.2S", 0.2, 0.0}, Limit{"0.5S", 0.5, 0.0}, Limit{"1", 1.0, 0.0},
                                Limit{"2", 2.0, 0.0}};
    if (!options.ct_class.empty()) {
        auto const found = std::ranges::find(cts, options.ct_class, &Limit::mark);
        if (found == cts.end())
            return Fault{"the class of the CTs is not known", "--ct-class", options.ct_class,
                         "0.1 0.2 0.2S 0.5 0.5S 1", "read the plate"};
        classes.ct_size = found->percent / 100.0;
        classes.ct_angle_rad = found->minutes * radians_a_minute;
    }
    if (!options.meter_class.empty()) {
        auto const found = std::ranges::find(meters, options.meter_class, &Limit::mark);
        if (found == meters.end())
            return Fault{"the class of the meter is not known", "--meter-class", options.meter_class,
                         "0.2S 0.5S 1 2", "read the plate"};
        classes.meter_size = found->percent / 100.0;
    }
    return std::nullopt;
}

std::optional<Fault> read_words(RestateOptions const& options, Question& question) {
    if (!options.rotation.empty()) {
        auto const rotation = plan::sequence_of(options.rotation);
        if (!rotation)
            return Fault{"the rotation is not known", "--rotation", options.rotation, "abc or acb",
                         "measure it at the source"};
        question.rotation = *rotation;
    }
    if (!options.register_kind.empty()) {
        auto const kind = correction::register_kind_of(options.register_kind);
        if (!kind)
            return Fault{"the kind of register is not known", "--register", options.register_kind,
                         "net, import, export, absolute or per-phase",
                         "look up what the register of the bill counts: docs/reference/restate.md"};
        question.kind = *kind;
    }
    if (options.balanced_within) question.balanced_within = options.balanced_within;
    if (options.balanced_within && (!(*options.balanced_within > 0.0) || *options.balanced_within > 1.0))
        return Fault{"this is not how far a load is from balance", "--balanced-within",
                     quantity::shortest(*options.balanced_within), "above 0, up to 1", "0.05 is 5 %"};
    if (options.unbalance) question.unbalance = *options.unbalance;
    if (!(question.unbalance >= 0.0) || question.unbalance > 0.2)
        return Fault{"this is no unbalance of a supply", "--unbalance",
                     quantity::shortest(question.unbalance), "0 to 0.2", "0.01 is 1 %"};
    return std::nullopt;
}
}  // namespace

std::expected<Question, Fault> question_of(RestateOptions const& options, std::string_view verdict_lines) {
    auto model = model_from(options.service);
    if (!model) return std::unexpected(model.error());
    Question question{.model = *model};
    auto const nominal = nominal_from(options.nominal, question.model);
    if (!nominal) return std::unexpected(nominal.error());
    question.nominal = *nominal;
    question.seed = options.seed;
    if (auto fault = read_words(options, question)) return std::unexpected(*fault);
    if (auto fault = read_wirings(options, verdict_lines, question)) return std::unexpected(*fault);
    if (auto fault = read_shares(options.shares, question)) return std::unexpected(*fault);
    if (auto fault = read_power_factor(options.power_factor, question)) return std::unexpected(*fault);
    if (auto fault = read_classes(options, question.classes)) return std::unexpected(*fault);
    return question;
}

}  // namespace phasewright::commands
