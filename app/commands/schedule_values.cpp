#include "app/commands/schedule_values.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace phasewright::commands {

namespace {
bool is_digit(char c) { return c >= '0' && c <= '9'; }

std::string without(std::string text, std::string_view part) {
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part)) text.erase(at, part.size());
    return text;
}

// Blanks of every kind and the apostrophe stand between thousands.
std::string joined_digits(std::string_view text) {
    std::string all = trimmed(text);
    for (std::string_view const blank : {" ", "\xC2\xA0", "\xE2\x80\xAF", "'"}) all = without(all, blank);
    return all;
}

std::optional<double> plain_number(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    double value = 0.0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
    return value;
}

// Digits, the mark, exactly three digits: thousands or thousandths.
bool reads_both_ways(std::string_view text, std::size_t mark) {
    auto const before = text.substr(0, mark);
    bool const has_thousands = !before.empty() && before.size() <= 3 && before.front() != '0' && std::ranges::all_of(before, is_digit);
    return has_thousands && text.size() - mark == 4;
}

std::string with_point(std::string_view text, char decimal) {
    std::string all;
    for (char const c : text)
        if (c == decimal) all += '.';
        else if (c != ',' && c != '.') all += c;
    return all;
}

// Behind the number.
struct NumberAndRest {
    std::string number;
    std::string rest;
};
NumberAndRest split(std::string_view text) {
    auto const whole = trimmed(text);
    std::size_t end = 0;
    while (end < whole.size()) {
        bool const between_thousands = (whole[end] == ' ' || whole[end] == '\'') && end > 0 && end + 1 < whole.size() && is_digit(whole[end + 1]);
        bool const power_of_ten = (whole[end] == 'e' || whole[end] == 'E') && end > 0 && end + 1 < whole.size() &&
                                  (is_digit(whole[end + 1]) || whole[end + 1] == '-' || whole[end + 1] == '+');
        bool const belongs = is_digit(whole[end]) || std::string_view{".,+-"}.find(whole[end]) != std::string_view::npos;
        if (!belongs && !between_thousands && !power_of_ten) break;
        ++end;
    }
    return {whole.substr(0, end), trimmed(whole.substr(end))};
}

struct ServiceWords {
    std::string_view words;
    plan::Service service;
};
using enum plan::Service;
constexpr std::array service_words{
    ServiceWords{"1 phase 2 wire", one_phase_two_wire},       ServiceWords{"1 phase", one_phase_two_wire},
    ServiceWords{"single phase", one_phase_two_wire},         ServiceWords{"one phase", one_phase_two_wire},
    ServiceWords{"einphasig", one_phase_two_wire},            ServiceWords{"monophase", one_phase_two_wire},
    ServiceWords{"monofasico", one_phase_two_wire},           ServiceWords{"monofase", one_phase_two_wire},
    ServiceWords{"1 phase 3 wire", split_phase_three_wire},   ServiceWords{"split phase", split_phase_three_wire},
    ServiceWords{"2 phase 3 wire", two_phases_of_wye},        ServiceWords{"2 phase and neutral", two_phases_of_wye},
    ServiceWords{"3 phase 4 wire", four_wire_wye},            ServiceWords{"3 phase 4 wire wye", four_wire_wye},
    ServiceWords{"3 phase and neutral", four_wire_wye},       ServiceWords{"wye", four_wire_wye},
    ServiceWords{"208y 120", four_wire_wye},                  ServiceWords{"480y 277", four_wire_wye},
    ServiceWords{"3 phase 4 wire high leg", high_leg_delta},  ServiceWords{"3 phase 4 wire delta", high_leg_delta},
    ServiceWords{"high leg", high_leg_delta},                 ServiceWords{"high leg delta", high_leg_delta},
    ServiceWords{"corner earthed delta", corner_earthed_delta}, ServiceWords{"corner grounded delta", corner_earthed_delta}};

// "3ph4w", "3-phase, 4-wire", "3P+N": one way of saying it.
std::string plain_service(std::string_view text) {
    auto const plain = plain_header(text);
    std::string said;
    for (std::size_t at = 0; at < plain.size();) {
        auto const end = std::min(plain.find(' ', at), plain.size());
        auto word = plain.substr(at, end - at);
        at = end + 1;
        // A number that is written together with its word, and several of them in one.
        for (std::size_t k = 0; k + 1 < word.size(); ++k)
            if (is_digit(word[k]) != is_digit(word[k + 1]) && word != "208y" && word != "480y") word.insert(++k, " ");
        for (std::size_t from = 0; from < word.size();) {
            auto const to = std::min(word.find(' ', from), word.size());
            auto one = word.substr(from, to - from);
            from = to + 1;
            if (one == "ph" || one == "p" || one == "phases" || one == "phasig" || one == "phasen") one = "phase";
            if (one == "w" || one == "wires" || one == "leiter") one = "wire";
            if (one == "star" || one == "y") one = "wye";
            if (one == "n" || one == "neutral") one = "and neutral";
            said += (said.empty() ? "" : " ") + one;
        }
    }
    if (said.ends_with("and and neutral")) said.replace(said.size() - 15, 15, "and neutral");
    return said;
}
}  // namespace

std::string trimmed(std::string_view text) {
    constexpr std::string_view no_break = "\xC2\xA0";
    constexpr std::string_view blanks = " \t\r\n";
    for (bool more = true; more;) {
        more = false;
        while (!text.empty() && blanks.find(text.front()) != std::string_view::npos) text.remove_prefix(1);
        while (!text.empty() && blanks.find(text.back()) != std::string_view::npos) text.remove_suffix(1);
        if (text.starts_with(no_break)) more = (text.remove_prefix(no_break.size()), true);
        if (text.ends_with(no_break)) more = (text.remove_suffix(no_break.size()), true);
    }
    return std::string{text};
}

std::string id_from(std::string_view text) {
    auto id = plain_header(text);
    std::erase(id, '%');
    std::ranges::replace(id, ' ', '-');
    if (id.size() > 40) id.resize(40);
    while (id.starts_with('-')) id.erase(0, 1);
    while (id.ends_with('-')) id.pop_back();
    return id;
}

DecimalSign sign_shown_by(std::string_view text) {
    for (std::size_t at = 1; at + 1 < text.size(); ++at) {
        if ((text[at] != ',' && text[at] != '.') || !is_digit(text[at - 1]) || !is_digit(text[at + 1])) continue;
        std::size_t from = at;
        while (from > 0 && is_digit(text[from - 1])) --from;
        std::size_t to = at + 1;
        while (to < text.size() && is_digit(text[to])) ++to;
        bool const one_of_many = (to < text.size() && (text[to] == ',' || text[to] == '.')) || (from > 0 && text[from - 1] == text[at]);
        if (one_of_many || reads_both_ways(text.substr(from, to - from), at - from)) continue;
        return text[at] == ',' ? DecimalSign::comma : DecimalSign::point;
    }
    return DecimalSign::unknown;
}

Told<double> number_in(std::string_view text, DecimalSign sign) {
    auto const digits = joined_digits(text);
    auto const refused = std::unexpected(std::string{"this is no number"});
    auto const commas = std::ranges::count(digits, ',');
    auto const points = std::ranges::count(digits, '.');
    char decimal = '.';
    if (commas > 0 && points > 0) {
        decimal = digits.rfind(',') > digits.rfind('.') ? ',' : '.';
        if ((decimal == ',' ? commas : points) > 1) return refused;
    } else if (commas + points > 1) {
        decimal = commas > 0 ? '.' : ',';  // thousands more than once
    } else if (commas + points == 1) {
        char const mark = commas > 0 ? ',' : '.';
        bool const both = reads_both_ways(digits, digits.find(mark));
        if (both && sign == DecimalSign::unknown)
            return std::unexpected("this can be read in two ways, as thousands or with decimals, and no other cell settles it");
        bool const is_decimal = !both || mark == (sign == DecimalSign::comma ? ',' : '.');
        decimal = is_decimal ? mark : mark == ',' ? '.' : ',';
    }
    // What stands between thousands stands before the last three digits.
    char const thousands = decimal == ',' ? '.' : ',';
    auto const whole_part = digits.substr(0, std::min(digits.find(decimal), digits.size()));
    for (auto at = whole_part.find(thousands); at != std::string::npos; at = whole_part.find(thousands, at + 1)) {
        auto const next = std::min(whole_part.find(thousands, at + 1), whole_part.size());
        if (next - at != 4 || at == 0) return refused;
    }
    auto const value = plain_number(with_point(digits, decimal));
    if (!value) return refused;
    return *value;
}

Told<double> quantity_in(std::string_view text, DecimalSign sign, ColumnHead const& head, Unit const& of_header) {
    auto const parts = split(text);
    auto const value = number_in(parts.number, sign);
    if (!value) return value;
    if (parts.rest.empty()) return *value * of_header.factor;
    auto const unit = unit_of(parts.rest, head);
    if (!unit)
        return std::unexpected(head.unit.empty() ? std::string{"something stands behind the number"}
                                                 : "the unit is none of this column's, which is in " + std::string{head.unit});
    return *value * unit->factor;
}

Told<RatioInCell> ratio_in(std::string_view text, DecimalSign sign) {
    auto const whole = trimmed(text);
    auto const mark = whole.find_first_of("/:");
    if (mark == std::string::npos || whole.find_first_of("/:", mark + 1) != std::string::npos)
        return std::unexpected("this is no ratio: 200/5, 200:5 or 200A:333mV");
    auto const first = split(whole.substr(0, mark));
    auto const second = split(whole.substr(mark + 1));
    auto const primary = number_in(first.number, sign);
    auto secondary = number_in(second.number, sign);
    if (!primary || !secondary) return std::unexpected("one side of the ratio is no number");
    auto const unit_1 = plain_header(first.rest);
    auto const unit_2 = plain_header(second.rest);
    if (!unit_1.empty() && unit_1 != "a" && unit_1 != "ka") return std::unexpected("the primary is not in A");
    RatioInCell cell{.ratio = {*primary * (unit_1 == "ka" ? 1000.0 : 1.0), *secondary}};
    bool const thousandths = unit_2 == "mv" || unit_2 == "ma";
    if (thousandths) cell.ratio.secondary /= 1000.0;
    if (unit_2 == "mv" || unit_2 == "v") cell.output = plan::CtOutput::millivolts;
    else if (unit_2 == "ma") cell.output = plan::CtOutput::milliamperes;
    else if (!unit_2.empty() && unit_2 != "a") return std::unexpected("the secondary is in none of A, mA, V, mV");
    else if (cell.ratio.secondary == 5.0) cell.output = plan::CtOutput::five_amperes;
    else if (cell.ratio.secondary == 1.0) cell.output = plan::CtOutput::one_ampere;
    if (cell.ratio.secondary <= 0.0 || cell.ratio.primary <= cell.ratio.secondary)
        return std::unexpected("the primary is not greater than the secondary");
    return cell;
}

Told<SizeInCell> size_in(std::string_view text, DecimalSign sign, Unit const& of_header, bool count_is_known) {
    auto rest = trimmed(text);
    SizeInCell cell;
    auto mark = rest.find_first_of("xX*");
    std::size_t length = 1;
    if (auto const times = rest.find("\xC3\x97"); times != std::string::npos) {  // U+00D7
        mark = times;
        length = 2;
    }
    auto const before = mark == std::string::npos ? std::string{} : trimmed(rest.substr(0, mark));
    if (!before.empty() && before.size() <= 2 && std::ranges::all_of(before, is_digit)) {
        cell.count = std::stoi(before);
        rest = trimmed(rest.substr(mark + length));
    }
    if (cell.count && (*cell.count < 1 || *cell.count > 12)) return std::unexpected("so many cables beside each other are not known");
    if (cell.count && *cell.count > 2 && !count_is_known)
        return std::unexpected("this can be read in two ways, as cables beside each other or as the cores of one; "
                               R"(say it in a column "cables per phase")");
    if (sign == DecimalSign::point) rest = without(rest, ",");
    auto const size = plan::conductor_size_of(rest, of_header.size);
    if (!size) return std::unexpected("this is no conductor size with its unit: 2.5 mm2, 12 AWG, 4/0 AWG, 250 kcmil");
    cell.size = *size;
    return cell;
}

Told<plan::Service> service_in(std::string_view text) {
    auto code = trimmed(text);
    for (auto& c : code)
        if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    if (auto const service = plan::service_of(code)) return *service;
    auto const plain = plain_service(text);
    for (auto const& words : service_words)
        if (plain_service(words.words) == plain) return words.service;
    for (auto const service : plan::all_services)
        if (plain_header(plan::words_of(service)) == plain_header(text)) return service;
    return std::unexpected(R"(the service is not known, or its wires are not said: 3P4W, "3ph 4w", "split phase")");
}

Told<bool> yes_or_no_in(std::string_view text) {
    auto const word = plain_header(text);
    for (std::string_view const yes : {"yes", "y", "true", "1", "x", "ja", "oui", "si"})
        if (word == yes) return true;
    for (std::string_view const no : {"no", "n", "false", "0", "nein", "non"})
        if (word == no) return false;
    return std::unexpected("this is neither yes nor no");
}

bool means_to_choose(std::string_view text) {
    auto const word = plain_header(text);
    return word.empty() || word == "to choose" || word == "tbd" || word == "tba" || word == "later";
}

}  // namespace phasewright::commands
