#include "core/plan/site.hpp"

namespace phasewright::plan {

namespace {
template <class Enum, std::size_t N>
using Names = std::array<std::pair<Enum, std::string_view>, N>;

constexpr Names<LoadKind, 6> load_kinds{{{LoadKind::resistive, "resistive"},
                                         {LoadKind::motor, "motor"},
                                         {LoadKind::electronic, "electronic"},
                                         {LoadKind::mixed, "mixed"},
                                         {LoadKind::generation, "generation"},
                                         {LoadKind::capacitive, "capacitive"}}};
constexpr Names<Flow, 3> flows{
    {{Flow::import_only, "import"}, {Flow::export_only, "export"}, {Flow::both, "both"}}};
constexpr Names<CtOutput, 5> outputs{{{CtOutput::five_amperes, "5A"},
                                      {CtOutput::one_ampere, "1A"},
                                      {CtOutput::millivolts, "mV"},
                                      {CtOutput::milliamperes, "mA"},
                                      {CtOutput::coil, "coil"}}};
constexpr Names<Sequence, 2> sequences{{{Sequence::abc, "abc"}, {Sequence::acb, "acb"}}};

template <class Enum, std::size_t N>
std::string_view text_of(Names<Enum, N> const& names, Enum value) {
    for (auto const& [known, name] : names)
        if (known == value) return name;
    return "unknown";
}
template <class Enum, std::size_t N>
std::optional<Enum> value_of(Names<Enum, N> const& names, std::string_view text) {
    for (auto const& [known, name] : names)
        if (name == text) return known;
    return std::nullopt;
}
}  // namespace

std::string_view name_of(LoadKind kind) { return text_of(load_kinds, kind); }
std::optional<LoadKind> load_kind_of(std::string_view name) { return value_of(load_kinds, name); }
std::string_view name_of(Flow flow) { return text_of(flows, flow); }
std::optional<Flow> flow_of(std::string_view name) { return value_of(flows, name); }
std::string_view name_of(CtOutput output) { return text_of(outputs, output); }
std::optional<CtOutput> ct_output_of(std::string_view name) { return value_of(outputs, name); }
std::string_view name_of(Sequence sequence) { return text_of(sequences, sequence); }
std::optional<Sequence> sequence_of(std::string_view name) { return value_of(sequences, name); }

std::optional<Region> region_of(std::string_view name) {
    if (name == "iec") return Region{};
    if (name == "north-america")
        return Region{"north-america", {"A", "B", "C", "N"}, {"H1", "H2"}, {"X1", "X2"}};
    return std::nullopt;
}

TerminalNames default_terminals(ServiceModel const& model) {
    TerminalNames names;
    for (std::size_t k = 0; k < model.terminals.size(); ++k) names.voltage.push_back("V" + std::to_string(k + 1));
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k) {
        auto const input = "I" + std::to_string(k + 1);
        names.current.push_back({input + " S1", input + " S2"});
    }
    return names;
}

}  // namespace phasewright::plan
