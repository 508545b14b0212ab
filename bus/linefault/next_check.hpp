// Which check tells most for its minutes. Worlds drawn from the posterior say what each check would show in each of
// them; what an outcome is worth is the information that it is expected to bring:
//   bits = H(outcome) - mean over worlds of H(outcome | world)
// and the order is bits / (minutes + 1). Cautions are part of a check and are shown before it.
// Minutes, and how surely a check shows what is there, are common practice, no source.
#pragma once
#include "bus/linefault/posterior.hpp"
#include "bus/linefault/verdict.hpp"

namespace phasewright::linefault {

[[nodiscard]] std::vector<NextCheck> next_checks(Evidence const& evidence, bool ordered, Posterior const& posterior);

}  // namespace phasewright::linefault
