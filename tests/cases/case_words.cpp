#include "tests/cases/case_words.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "tests/cases/case_file.hpp"

namespace phasewright::cases {

using plan::Service;
using wiring::Wiring;

namespace {
constexpr double to_rad = std::numbers::pi / 180.0;

// "l2" or "b" -> b
std::optional<plan::Conductor> conductor_named(std::string_view name) {
    if (name == "l1") return plan::Conductor::a;
    if (name == "l2") return plan::Conductor::b;
    if (name == "l3") return plan::Conductor::c;
    return plan::conductor_of(name);
}

plan::Nominal usual_nominal(Service service) {
    switch (service) {
        case Service::split_phase_three_wire:
        case Service::high_leg_delta:
        case Service::two_phases_of_wye: return plan::nominal_from_ln(service, 120.0, 60.0);
        default: return plan::nominal_from_ln(service, 230.0, 50.0);
    }
}

// "V1-V2 with CT1"
void read_element(Words& words, plan::ServiceModel& model) {
    auto const pair = split(words.next(), "-");
    words.must("with");
    auto const ct = words.next();
    auto const index_of = [&](std::string const& name, char head) {
        int const number = name.size() == 2 && name[0] == head ? name[1] - '0' : 0;
        if (number < 1 || number > 3) words.wrong("V1 to V3, CT1 to CT3");
        return number - 1;
    };
    if (pair.size() != 2 || ct.size() != 3 || !ct.starts_with("CT")) return words.wrong("V1-V2 with CT1");
    plan::ElementPlan element{.plus = index_of(pair[0], 'V')};
    element.minus = pair[1] == "N" ? plan::to_neutral_terminal : index_of(pair[1], 'V');
    element.current_input = index_of(ct.substr(1), 'T');
    model.elements.push_back(element);
}

void read_nominal(Words& words, Plan& plan, bool line) {
    double const unit_ll = plan::nominal_from_ln(plan.set.service, 1.0, 0.0).v_ll;
    double const value = words.number_in("V");
    plan.set.nominal =
        plan::nominal_from_ln(plan.set.service, line ? value / unit_ll : value, plan.set.nominal.hz);
}

void read_ct(Words& words, Plan& plan) {
    auto const ratio = split(words.next(), "/");
    words.must("A");
    if (ratio.size() != 2) return words.wrong("CT 200/5 A");
    Words primary(ratio[0]);
    Words secondary(ratio[1]);
    plan.set.ct_planned = {{primary.number(), secondary.number()}};
    if (primary.fault() || secondary.fault()) words.wrong("CT 200/5 A");
}

void read_fact(Words& words, Plan& plan, plan::ServiceModel& own) {
    auto& set = plan.set;
    if (words.take("V_LN")) return read_nominal(words, plan, false);
    if (words.take("V_LL")) return read_nominal(words, plan, true);
    if (words.take("50 Hz"))
        set.nominal.hz = 50.0;
    else if (words.take("60 Hz"))
        set.nominal.hz = 60.0;
    else if (words.take("sequence acb"))
        plan.sequence = plan::Sequence::acb;
    else if (words.take("sequence abc"))
        plan.sequence = plan::Sequence::abc;
    else if (words.take("rotation known"))
        set.rotation = plan.sequence;
    else if (words.take("high leg"))
        set.model_options.high_leg = conductor_named(words.next()).value_or(plan::Conductor::b);
    else if (words.take("load only"))
        set.flow = plan::Flow::import_only;
    else if (words.take("export only"))
        set.flow = plan::Flow::export_only;
    else if (words.take("import or export"))
        set.flow = plan::Flow::both;
    else if (words.take("in service"))
        set.prior = readings::Prior::in_service;
    else if (words.take("first commissioning"))
        set.prior = readings::Prior::commissioning;
    else if (words.take("breaker"))
        set.breaker_a = words.number_in("A");
    else if (words.take("CT"))
        read_ct(words, plan);
    else if (words.take("element"))
        read_element(words, own);
    else {
        set.load_kind.whole = plan::load_kind_of(words.next());
        if (!set.load_kind.whole) words.wrong("a fact of the plan");
        words.must("load");
    }
}
}  // namespace

std::expected<Plan, std::string> read_plan(std::string_view rest) {
    auto const facts = split(rest, ",");
    if (facts.empty()) return std::unexpected("wanted a service");
    auto const service = plan::service_of(facts.front() == "four-wire" ? "3P4W" : facts.front());
    if (!service) return std::unexpected("wanted the code of a service, not " + facts.front());
    Plan plan;
    plan.set.service = *service;
    plan.set.nominal = usual_nominal(*service);
    plan::ServiceModel own;
    for (std::size_t k = 1; k < facts.size(); ++k) {
        Words words(facts[k]);
        read_fact(words, plan, own);
        words.end();
        if (words.fault()) return std::unexpected(*words.fault() + " in \"" + facts[k] + "\"");
    }
    if (plan.set.rotation) plan.set.rotation = plan.sequence;
    plan.model = plan::model_of(*service, plan.set.model_options);
    if (!own.elements.empty()) {
        plan.model.elements = own.elements;
        int inputs = 0;
        for (auto const& element : own.elements) inputs = std::max(inputs, element.current_input + 1);
        plan.model.current_inputs.resize(static_cast<std::size_t>(inputs), plan::Conductor::a);
        plan.set.own_model = plan.model;
    }
    plan.set.terminals = plan::default_terminals(plan.model);
    plan.source = plan::source_phasors(plan.model, plan.set.nominal, plan.sequence);
    return plan;
}

namespace {
// The place of the input or terminal that is meant for a conductor: "ct.l2" -> 1.
std::optional<std::size_t> place_meant_for(std::string_view name, std::vector<plan::Conductor> const& meant) {
    auto const conductor = conductor_named(name);
    auto const at = conductor ? std::ranges::find(meant, *conductor) : meant.end();
    if (at == meant.end()) return std::nullopt;
    return static_cast<std::size_t>(at - meant.begin());
}

struct Editor {
    Words& words;
    Wiring& wiring;
    plan::ServiceModel const& model;

    std::size_t input(std::string_view word) const {
        auto const at =
            word.starts_with("ct.") ? place_meant_for(word.substr(3), model.current_inputs) : std::nullopt;
        if (!at) words.wrong("a current input such as ct.l2");
        return at.value_or(0);
    }
    // A voltage terminal, or the neutral's.
    wiring::Touch& terminal(std::string_view word) const {
        if (word == "neutral" && wiring.neutral) return *wiring.neutral;
        auto const at =
            word.starts_with("voltage.") ? place_meant_for(word.substr(8), model.terminals) : std::nullopt;
        if (!at) words.wrong("a voltage terminal such as voltage.l2");
        return wiring.voltage[at.value_or(0)];
    }
    plan::Conductor conductor() const {
        auto const named = conductor_named(words.next());
        if (!named) words.wrong("a conductor");
        return named.value_or(plan::Conductor::a);
    }

    void all_inputs() const {
        if (words.take("reversed")) {
            for (auto& feed : wiring.current) feed.sign = static_cast<std::int8_t>(-feed.sign);
        } else if (words.take("ratio")) {
            double const ratio = words.number();
            for (auto& each : wiring.ratio) each *= ratio;
        } else {
            words.wrong("reversed or ratio");
        }
    }
    void one_input(std::string const& word) const {
        auto const k = input(word);
        if (words.take("reversed")) {
            wiring.current[k].sign = static_cast<std::int8_t>(-wiring.current[k].sign);
        } else if (words.take("dead")) {
            wiring.current[k].dead = true;
        } else if (words.take("on")) {
            wiring.current[k].conductor = conductor();
        } else if (words.take("ratio")) {
            wiring.ratio[k] *= words.number();
        } else {
            auto const other = input(words.next());
            words.must("exchanged");
            std::swap(wiring.current[k], wiring.current[other]);
        }
    }
    void one_terminal(std::string const& word) const {
        auto& touch = terminal(word);
        if (words.take("lost")) {
            touch = wiring::Touch::lost;
        } else if (words.take("on")) {
            touch = wiring::touch_of(conductor());
        } else {
            auto& other = terminal(words.next());
            words.must("exchanged");
            std::swap(touch, other);
        }
    }
    void edit() const {
        if (words.take("as planned")) return;
        if (words.take("all ct")) return all_inputs();
        if (words.take("ct get")) {
            for (auto& feed : wiring.current) feed.conductor = conductor();
            return;
        }
        if (words.take("voltage get")) {
            for (auto& touch : wiring.voltage) touch = wiring::touch_of(conductor());
            return;
        }
        auto const word = words.next();
        if (word.starts_with("ct.")) return one_input(word);
        one_terminal(word);
    }
};
}  // namespace

std::expected<Wiring, std::string> read_wiring(std::string_view rest, plan::ServiceModel const& model) {
    auto wiring = wiring::as_planned(model);
    for (auto const& part : split(rest, " and ")) {
        Words words(part);
        Editor{words, wiring, model}.edit();
        words.end();
        if (words.fault()) return std::unexpected(*words.fault() + " in \"" + part + "\"");
    }
    return wiring;
}

namespace {
// "1 A at 20 deg", "1 A at PF 0.9 lagging": the current's phasor against a voltage of angle zero.
std::complex<double> read_current(Words& words) {
    double const amperes = words.number_in("A");
    words.must("at");
    if (!words.take("PF")) return std::polar(amperes, -words.number_in("deg") * to_rad);
    double const factor = words.number();
    if (factor < -1.0 || factor > 1.0) words.wrong("a power factor");
    double const lag = std::acos(std::clamp(factor, -1.0, 1.0));
    if (words.take("leading")) return std::polar(amperes, lag);
    words.must("lagging");
    return std::polar(amperes, -lag);
}
std::complex<double> direction_of(std::complex<double> phasor) { return phasor / std::abs(phasor); }
std::size_t index_of(plan::Conductor conductor) { return static_cast<std::size_t>(conductor); }
}  // namespace

std::expected<wiring::Currents, std::string> read_load(std::string_view rest, Plan const& plan) {
    wiring::Currents load{};
    auto const& u = plan.source;
    auto const parts = split(rest, ",");
    std::size_t listed = 0;
    for (auto const& part : parts) {
        Words words(part);
        if (words.take("balanced")) {
            auto const centre =
                plan.model.live.size() == 3 ? (u[0] + u[1] + u[2]) / 3.0 : std::complex<double>{};
            auto const current = read_current(words);
            for (auto const live : plan.model.live)
                load[index_of(live)] += current * direction_of(u[index_of(live)] - centre);
        } else if (words.take("between")) {
            auto const from = conductor_named(words.next()).value_or(plan::Conductor::n);
            words.must("and");
            auto const to = conductor_named(words.next()).value_or(plan::Conductor::n);
            if (from == to) return std::unexpected("wanted two conductors in \"" + part + "\"");
            auto const current = read_current(words) * direction_of(u[index_of(from)] - u[index_of(to)]);
            if (from != plan::Conductor::n) load[index_of(from)] += current;
            if (to != plan::Conductor::n) load[index_of(to)] -= current;
        } else if (listed < plan.model.live.size()) {
            auto const live = index_of(plan.model.live[listed++]);
            load[live] += read_current(words) * direction_of(u[live]);
        } else {
            words.wrong("no more currents than live conductors");
        }
        words.end();
        if (words.fault()) return std::unexpected(*words.fault() + " in \"" + part + "\"");
    }
    return load;
}

}  // namespace phasewright::cases
