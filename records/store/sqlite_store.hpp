// A job as one file of SQLite (docs/reference/records.md, "The file").
#pragma once
#include <expected>
#include <memory>
#include <string>

#include "core/quantity/fault.hpp"
#include "records/store/store.hpp"

namespace phasewright::store {

struct JobPlace {
    std::string file;
    std::string vfs;  // of SQLite, for tests; empty: the system's
};

// Refuses a file that is there. The file has its name only once it is whole.
[[nodiscard]] std::expected<std::unique_ptr<Store>, quantity::Fault> create_job(
    JobPlace const& place, schema::JobFacts const& facts);

// An older schema is brought up to date; a newer one is refused. A damaged job is opened read-only, and so is
// one that lies where nobody can write.
[[nodiscard]] std::expected<std::unique_ptr<Store>, quantity::Fault> open_job(JobPlace const& place);

// A whole copy at any time. Refuses a file that is there.
[[nodiscard]] std::expected<void, quantity::Fault> copy_job(std::string const& file, std::string const& copy);

}  // namespace phasewright::store
