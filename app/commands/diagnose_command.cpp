#include "app/commands/diagnose_command.hpp"

namespace phasewright::commands {}
