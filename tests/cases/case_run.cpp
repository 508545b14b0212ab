#include "tests/cases/case_run.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "core/diagnosis/diagnose.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"
#include "tests/cases/case_lines.hpp"
#include "tests/cases/case_pulses.hpp"
#include "tests/cases/case_words.hpp"

namespace phasewright::cases {

namespace {
using Answer = std::optional<std::string>;  // what came instead of what was expected

bool near(double value, double wanted, double within) { return std::abs(value - wanted) <= within; }
std::string text(double value) { return quantity::fixed(value, 6); }
double lag_deg(std::complex<double> power) { return quantity::to_degrees({std::arg(power)}).value; }
bool near_deg(double value, double wanted, double within) {
    return near(quantity::wrapped_deg(value - wanted), 0.0, within);
}

class Run {
public:
    explicit Run(CaseFile const& file) : file_(file) {}

    Outcome whole() {
        for (auto const& statement : file_.statements) {
            auto const wrong = one(statement);
            if (!wrong) continue;
            outcome_.failures.push_back(file_.name + ":" + std::to_string(statement.line) + " " +
                                        statement.keyword + " " + statement.rest + ": " + *wrong);
            if (statement.keyword != "expect") break;  // nothing below it can mean what it says
        }
        return outcome_;
    }

private:
    template <class Value>
    Answer keep(std::expected<Value, std::string> read, Value& into) {
        if (!read) return read.error();
        into = std::move(*read);
        return std::nullopt;
    }

    Answer one(Statement const& statement) {
        auto const& rest = statement.rest;
        if (statement.keyword == "plan") {
            auto const wrong = keep(read_plan(rest), plan_);
            wiring_ = wiring::as_planned(plan_.model);
            return wrong;
        }
        if (statement.keyword == "wiring") return keep(read_wiring(rest, plan_.model), wiring_);
        if (statement.keyword == "load") return keep(read_load(rest, plan_), load_);
        if (statement.keyword == "readings") return add_snapshot(rest);
        if (statement.keyword == "line") lines_.push_back(rest);
        if (statement.keyword != "expect") return std::nullopt;
        ++outcome_.expectations;
        return expect(rest);
    }

    Answer add_snapshot(std::string_view rest) {
        constexpr std::string_view as_wired = "as wired";
        auto read = rest.starts_with(as_wired)
                        ? snapshot_as_wired(rest.substr(as_wired.size()), plan_, wiring_, load_)
                        : read_readings(rest, plan_.model.elements.size());
        if (!read) return read.error();
        plan_.set.id = file_.name;
        plan_.set.snapshots.push_back(std::move(*read));
        verdict_.reset();
        return std::nullopt;
    }

    Answer expect(std::string_view rest) {
        if (rest == "answered" || rest.starts_with("answered ") || rest.starts_with("refused ")) {
            auto wrong = wrong_answer(lines_, rest);
            return wrong.empty() ? std::nullopt : Answer{std::move(wrong)};
        }
        Words words(rest);
        Answer answer;
        if (words.take("registered/true"))
            answer = share(words);
        else if (words.take("total"))
            answer = power(words, registered());
        else if (words.take("true"))
            answer = power(words, wiring::true_power(plan_.source, load_));
        else if (words.take("element"))
            answer = element(words);
        else if (words.take("pulses"))
            answer = wrong_pulses(words);
        else if (words.take("pulse"))
            answer = wrong_pulse(words);
        else if (words.take("vector power factor"))
            answer = factor(words, std::abs(registered()));
        else if (words.take("arithmetic power factor"))
            answer = factor(words, arithmetic());
        else
            return of_verdict(rest);
        words.end();
        return words.fault() ? words.fault() : answer;
    }

    // --- of the wiring and the load ---

    [[nodiscard]] std::vector<wiring::ElementSeen> seen() const {
        return elements_of(seen_by(wiring_, plan_.model), plan_.source, load_);
    }
    [[nodiscard]] std::complex<double> registered() const {
        std::complex<double> sum;
        for (auto const& each : seen()) sum += each.s;
        return sum;
    }
    [[nodiscard]] double arithmetic() const {
        double sum = 0.0;
        for (auto const& each : seen()) sum += std::abs(each.s);
        return sum;
    }

    Answer number(Words& words, double value) { return within_of(words, value, words.number()); }
    Answer within_of(Words& words, double value, double wanted) {
        words.must("within");
        double const within = words.number();
        if (words.fault() || near(value, wanted, within)) return std::nullopt;
        return text(value);
    }
    Answer share(Words& words) {
        if (plan_.set.snapshots.empty())
            return number(words, registered().real() / wiring::true_power(plan_.source, load_).real());
        auto const& classes = verdict().classes;
        if (classes.empty() || !classes.front().registered_share) return "the verdict states no share";
        return number(words, *classes.front().registered_share);
    }
    Answer factor(Words& words, double apparent) { return number(words, registered().real() / apparent); }

    Answer power(Words& words, std::complex<double> value) {
        double const watts = words.number_in("W");
        double const vars = words.number_in("var");
        words.must("within");
        double const within = words.number();
        if (words.fault() || (near(value.real(), watts, within) && near(value.imag(), vars, within)))
            return std::nullopt;
        return text(value.real()) + " W " + text(value.imag()) + " var";
    }

    Answer element(Words& words) {
        auto const elements = seen();
        auto const place = words.number();
        if (place < 1.0 || place > static_cast<double>(elements.size())) return "there is no such element";
        auto const& each = elements[static_cast<std::size_t>(place) - 1];
        if (words.take("dead")) {
            double const least = 1e-9 * plan_.set.nominal.v_ln;
            bool const dead = std::abs(each.v) < least || std::abs(each.i) < 1e-9;
            return dead ? std::nullopt
                        : Answer{text(std::abs(each.v)) + " V " + text(std::abs(each.i)) + " A"};
        }
        double const value = words.number();
        bool const volts = words.take("V");
        bool const amperes = !volts && words.take("A");
        if (!volts && !amperes) words.must("W");
        if (amperes) return within_of(words, std::abs(each.i), value);
        std::optional<double> angle;
        if (words.take("at")) angle = words.number_in("deg");
        words.must("within");
        double const within = words.number();
        if (angle) words.must(volts ? "V" : "W");
        double const within_deg = angle ? words.number_in("deg") : 0.0;
        double const found = volts ? std::abs(each.v) : each.s.real();
        double const found_deg = volts ? lag_deg(each.v / first_volts(elements)) : lag_deg(each.s);
        bool const right = near(found, value, within) && (!angle || near_deg(found_deg, *angle, within_deg));
        if (words.fault() || right) return std::nullopt;
        return text(found) + (volts ? " V at " : " W at ") + text(found_deg) + " deg";
    }
    static std::complex<double> first_volts(std::vector<wiring::ElementSeen> const& elements) {
        for (auto const& each : elements)
            if (std::abs(each.v) > 0.0) return each.v;
        return 1.0;
    }

    // --- of the verdict ---

    diagnosis::Verdict const& verdict() {
        if (!verdict_) verdict_ = diagnosis::diagnose(plan_.set);
        return *verdict_;
    }

    Answer of_verdict(std::string_view rest) {
        if (plan_.set.snapshots.empty()) return "there are no readings, or the expectation is not known";
        auto const& said = verdict();
        if (rest.starts_with("diagnosis ")) return holds(rest.substr(10), 1);
        if (rest.starts_with("in the set ")) return holds(rest.substr(11), set_size(said));
        Words words(rest);
        Answer answer;
        if (words.take("first at least")) {
            double const wanted = words.number();
            if (said.classes.empty() || said.classes.front().probability < wanted) answer = summary();
        } else if (words.take("state")) {
            if (words.next() != name_of(said.state)) answer = summary();
        } else if (words.take("finding")) {
            auto const severity = words.next();
            if (!has_finding(severity)) answer = summary();
        } else if (words.take("no finding")) {
            auto const severity = words.next();
            if (has_finding(severity)) answer = summary();
        } else if (words.take("disagreement")) {
            auto const field = words.next();
            if (!disagrees(field)) answer = summary();
        } else if (words.take("corrected")) {
            double const watts = words.number_in("W");
            words.must("within");
            double const within = words.number();
            auto const found = said.true_power.p_w;
            if (!found || !near(*found, watts, within))
                answer = found ? text(*found) + " W" : "nothing: " + summary();
        } else {
            words.wrong("an expectation of docs/reference/cases.md");
        }
        words.end();
        return words.fault() ? words.fault() : answer;
    }

    bool has_finding(std::string const& severity) {
        return std::ranges::any_of(
            verdict().findings, [&](auto const& finding) { return name_of(finding.severity) == severity; });
    }
    bool disagrees(std::string const& field) {
        return std::ranges::any_of(verdict().disagreements, [&](auto const& one) { return one.field == field; });
    }
    static std::size_t set_size(diagnosis::Verdict const& verdict) {
        double sum = 0.0;
        std::size_t size = 0;
        while (size < verdict.classes.size() && sum < 0.95) sum += verdict.classes[size++].probability;
        return size;
    }
    // What a dead input would carry, were it alive, is nobody's to say.
    static wiring::Wiring comparable(wiring::Wiring wiring) {
        for (auto& feed : wiring.current)
            if (feed.dead) feed = {.dead = true};
        return wiring;
    }
    Answer holds(std::string_view words, std::size_t classes) {
        auto const wanted = read_wiring(words, plan_.model);
        if (!wanted) return wanted.error();
        for (std::size_t k = 0; k < std::min(classes, verdict().classes.size()); ++k)
            for (auto const& member : verdict().classes[k].wirings)
                if (comparable(member.wiring) == comparable(*wanted)) return std::nullopt;
        return summary();
    }
    std::string summary() {
        std::string said{name_of(verdict().state)};
        for (std::size_t k = 0; k < std::min<std::size_t>(3, verdict().classes.size()); ++k)
            said += "; " + text(verdict().classes[k].probability) + " " + verdict().classes[k].in_words;
        for (auto const& one : verdict().disagreements) said += "; " + one.field + " " + one.found + ", not " + one.expected;
        for (auto const& finding : verdict().findings)
            said += "; " + std::string{name_of(finding.severity)} + ": " + finding.text;
        return said;
    }

    CaseFile const& file_;
    Outcome outcome_;
    Plan plan_;
    wiring::Wiring wiring_;
    wiring::Currents load_{};
    std::vector<std::string> lines_;
    std::optional<diagnosis::Verdict> verdict_;
};
}  // namespace

Outcome run_case(CaseFile const& file) { return Run(file).whole(); }

}  // namespace phasewright::cases
