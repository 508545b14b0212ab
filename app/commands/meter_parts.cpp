#include "app/commands/meter_parts.hpp"

#include <algorithm>
#include <utility>

#include <nlohmann/json.hpp>

#include "app/commands/reading_parts.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

using nlohmann::json;

namespace {
std::optional<double> ratio_number(json const& value) {
    if (!value.is_number()) return std::nullopt;
    auto const number = value.get<double>();
    return number > 0.0 && number <= 1e6 ? std::optional{number} : std::nullopt;
}
std::optional<quantity::TransformerRatio> ratio_of(json const& pair) {
    if (!pair.is_array() || pair.size() != 2) return std::nullopt;
    auto const primary = ratio_number(pair[0]);
    auto const secondary = ratio_number(pair[1]);
    if (!primary || !secondary) return std::nullopt;
    return quantity::TransformerRatio{*primary, *secondary};
}
}  // namespace

// One pair for all, or one an element; one a current input is spread over the elements that use it.
std::vector<quantity::TransformerRatio> read_ratios(FieldReader const& line, std::string_view name,
                                                    plan::ServiceModel const& model) {
    auto const* const list = line.array(name);
    if (list == nullptr) return {};
    if (auto const one = ratio_of(*list)) return {*one};
    std::vector<quantity::TransformerRatio> ratios;
    for (auto const& pair : *list)
        if (auto const one = ratio_of(pair)) ratios.push_back(*one);
    bool const all_read = ratios.size() == list->size();
    if (all_read && ratios.size() == model.elements.size()) return ratios;
    if (all_read && ratios.size() == model.current_inputs.size()) {
        std::vector<quantity::TransformerRatio> spread;
        for (auto const& element : model.elements)
            spread.push_back(ratios[static_cast<std::size_t>(std::max(element.current_input, 0))]);
        return spread;
    }
    line.refuse(
        name, "this is not a transformer ratio", as_found(*list),
        "[primary, secondary] with both above 0, or " + std::to_string(model.elements.size()) + " such pairs",
        "send the ratio as on the nameplate: [200, 5]");
    return {};
}

void read_branches(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    auto const* const list = line.array("branches");
    if (list == nullptr) return;
    if (set.service != plan::Service::one_phase_two_wire)
        return line.refuse("branches", "only a one-phase service has branches",
                           std::string{plan::code_of(set.service)}, "1P2W",
                           "leave the branches out, or say service 1P2W");
    if (list->empty() || list->size() > 3)
        return line.refuse("branches", "this many branches do not fit on one meter",
                           std::to_string(list->size()), "1 to 3", "send one reading set a meter");
    for (std::size_t k = 0; k < list->size(); ++k) {
        FieldReader const from((*list)[k], place("branches", k), {"id", "phase"}, fault);
        from.require("phase", "a b c");
        auto const phase = from.word<plan::Conductor>("phase", plan::conductor_of, {"a", "b", "c"});
        if (phase == plan::Conductor::n) from.refuse_word("phase", "n", {"a", "b", "c"});
        auto const id = from.text("id").value_or("k" + std::to_string(k + 1));
        set.model_options.branches.push_back({id, phase.value_or(plan::Conductor::a)});
    }
}

namespace {
// "CT2" -> 2; nothing when it is not such a name.
std::optional<std::size_t> number_of_ct(std::string_view name) {
    if (name.size() != 3 || !name.starts_with("CT") || name[2] < '1' || name[2] > '9') return std::nullopt;
    return static_cast<std::size_t>(name[2] - '0');
}

struct SentElement {
    std::size_t plus = 0;
    int minus = plan::to_neutral_terminal;
    std::optional<std::size_t> ct;  // its number; none when the current is derived
};

// Which conductor each CT number is meant to embrace: the service's own inputs in order, or, where a number
// goes beyond them, the live conductors in order.
std::optional<std::vector<plan::Conductor>> conductors_of_cts(std::vector<std::size_t> const& numbers,
                                                              plan::ServiceModel const& service) {
    bool const own = numbers.empty() || numbers.back() <= service.current_inputs.size();
    auto const& conductors = own ? service.current_inputs : service.live;
    std::vector<plan::Conductor> embraced;
    for (auto const number : numbers) {
        if (number > conductors.size()) return std::nullopt;
        embraced.push_back(conductors[number - 1]);
    }
    return embraced;
}

std::optional<std::size_t> terminal_named(std::string const& name, std::vector<std::string> const& names) {
    auto const at = std::ranges::find(names, name);
    if (at == names.end()) return std::nullopt;
    return static_cast<std::size_t>(at - names.begin());
}

std::optional<SentElement> read_element(FieldReader const& from, readings::ReadingSet const& set) {
    from.require("v", R"(two voltage terminals: ["V1","N"])");
    auto const names = from.texts("v");
    auto allowed = set.terminals.voltage;
    allowed.push_back(set.terminals.neutral);
    SentElement element;
    if (names.empty() || names.size() > 2) {
        if (from.child("v") != nullptr)
            from.refuse("v", "an element has two voltage terminals", std::to_string(names.size()) + " names",
                        "two names, or one for a voltage to the mean of the live taps",
                        "name both terminals");
        return std::nullopt;
    }
    auto const plus = terminal_named(names.front(), set.terminals.voltage);
    if (!plus) {
        from.refuse_word("v", names.front(), set.terminals.voltage);
        return std::nullopt;
    }
    element.plus = *plus;
    element.minus = plan::to_star_point;
    if (names.size() == 2 && names.back() == set.terminals.neutral) {
        element.minus = plan::to_neutral_terminal;
    } else if (names.size() == 2) {
        auto const minus = terminal_named(names.back(), set.terminals.voltage);
        if (!minus || *minus == *plus) {
            from.refuse_word("v", names.back(), allowed);
            return std::nullopt;
        }
        element.minus = static_cast<int>(*minus);
    }
    if (auto const ct = from.text("ct")) {
        element.ct = number_of_ct(*ct);
        if (!element.ct) from.refuse_word("ct", *ct, {"CT1", "CT2", "CT3"});
    }
    return element;
}

// The names of the voltage terminals; a last one beyond the live conductors, or one called N, is the neutral.
void read_terminal_names(FieldReader const& line, readings::ReadingSet& set, std::size_t most_live) {
    auto names = line.texts("voltage_terminals");
    if (names.empty()) return;
    if (names.size() > 1 && (names.size() > most_live || names.back() == "N" || names.back() == "n")) {
        set.terminals.neutral = names.back();
        names.pop_back();
    }
    bool const elements_follow = line.child("elements") != nullptr;
    if (names.size() > most_live || (names.size() < most_live && !elements_follow))
        return line.refuse("voltage_terminals", "the length of this list does not fit the service",
                           std::to_string(names.size()) + " besides the neutral",
                           std::to_string(most_live) + " names, and one for the neutral",
                           "name every voltage terminal in the meter's order, or send elements as well");
    set.terminals.voltage = std::move(names);
}
}  // namespace

void read_elements(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault) {
    auto const service = plan::model_of(set.service, set.model_options);
    set.terminals = plan::default_terminals(service);
    read_terminal_names(line, set, service.terminals.size());
    auto const* const list = line.array("elements");
    if (list == nullptr || fault.any()) return;
    if (list->empty() || list->size() > 3)
        return line.refuse("elements", "a meter has one to three elements", std::to_string(list->size()),
                           "1 to 3", "name each element once");
    std::vector<SentElement> sent;
    std::vector<std::size_t> numbers;
    for (std::size_t k = 0; k < list->size(); ++k) {
        auto const element =
            read_element(FieldReader((*list)[k], place("elements", k), {"v", "ct"}, fault), set);
        if (!element || fault.any()) return;
        sent.push_back(*element);
        if (element->ct) numbers.push_back(*element->ct);
    }
    std::ranges::sort(numbers);
    numbers.erase(std::unique(numbers.begin(), numbers.end()), numbers.end());
    auto const embraced = conductors_of_cts(numbers, service);
    auto const derived = std::ranges::count_if(sent, [](auto const& element) { return !element.ct; });
    if (!embraced || derived > 1 || (derived == 1 && sent.size() != 3))
        return line.refuse(
            "elements", "these currents do not fit the service", as_found(*list),
            "CT1 to CT" + std::to_string(service.live.size()) + "; null for one of three elements at most",
            "number the CTs in the order of the conductors");
    auto model = service;
    model.elements.clear();
    model.terminals.resize(set.terminals.voltage.size(), plan::Conductor::a);
    model.current_inputs = *embraced;
    model.has_neutral = false;
    for (auto const& element : sent) {
        auto const input = element.ct
                               ? static_cast<int>(std::ranges::find(numbers, *element.ct) - numbers.begin())
                               : plan::derived_current;
        model.elements.push_back({static_cast<int>(element.plus), element.minus, input});
        model.has_neutral = model.has_neutral || element.minus == plan::to_neutral_terminal;
    }
    auto const terminals = static_cast<int>(model.terminals.size());
    std::erase_if(model.line_pairs,
                  [&](auto const& pair) { return pair[0] >= terminals || pair[1] >= terminals; });
    model.has_neutral = model.has_neutral || service.has_neutral;
    set.terminals.current = plan::default_terminals(model).current;
    set.own_model = std::move(model);
}

}  // namespace phasewright::commands
