#include "core/plan/site.hpp"

namespace phasewright::plan {

// As functions for those who name one enum only.
std::string_view name_of(LoadKind kind) { return name_of<LoadKind>(kind); }
std::optional<LoadKind> load_kind_of(std::string_view name) { return meant_by<LoadKind>(name); }
std::string_view name_of(Flow flow) { return name_of<Flow>(flow); }
std::optional<Flow> flow_of(std::string_view name) { return meant_by<Flow>(name); }
std::string_view name_of(CtOutput output) { return name_of<CtOutput>(output); }
std::optional<CtOutput> ct_output_of(std::string_view name) { return meant_by<CtOutput>(name); }
std::string_view name_of(Sequence sequence) { return name_of<Sequence>(sequence); }
std::optional<Sequence> sequence_of(std::string_view name) { return meant_by<Sequence>(name); }

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
