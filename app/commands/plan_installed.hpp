// A plan as far as it is built: what commands that read, serve or program meters work on.
#pragma once
#include "core/plan/site.hpp"

namespace phasewright::commands {

// Takes out the points that are planned for later. Nothing flows through them yet, so sums go on without them; a sum of
// nothing else goes too, and so does a comparison with one of them.
void keep_what_is_installed(plan::Site& site);

}  // namespace phasewright::commands
