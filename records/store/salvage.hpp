// Rows of a damaged file, as many as can be reached: from the front until it breaks, from the back until it
// breaks, and between the two one by one.
#pragma once
#include <cstdint>
#include <functional>
#include <string>

#include "records/store/sqlite.hpp"

namespace phasewright::store {

// `columns` of `table` into `take`, a row of a torn file perhaps twice. Returns what could not be read, in
// words; empty when everything was.
[[nodiscard]] std::string salvage_rows(Database const& database, std::string const& table,
                                       std::string const& columns,
                                       std::function<void(Statement const&)> const& take);

}  // namespace phasewright::store
