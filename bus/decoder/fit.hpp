// Does a profile fit what its meter holds? And if it does not: which single change of it would? Each candidate is the
// profile with one change, weighed by a prior for that slip and by how well its numbers hang together in the dumps.
#pragma once
#include <span>
#include <string>
#include <vector>

#include "bus/decoder/likelihood.hpp"
#include "bus/decoder/register_dump.hpp"
#include "bus/profile/profile.hpp"

namespace phasewright::decoder {

enum class ChangeKind {
    none,           // the profile as it is
    base,           // every address one higher or lower: a table that counts from one
    word_order,     // long numbers the other way round
    byte_order,     // the bytes of a register the other way round
    function,       // the other of input and holding registers
    scale,          // a power of ten
    energy_unit,    // Wh for kWh or the other way round
    sign,           // counts the other way
    not_available,  // a value that means "no value" and is not listed
};
[[nodiscard]] std::string_view name_of(ChangeKind kind);

struct ProfileChange {
    ChangeKind kind = ChangeKind::none;
    std::string in_words;  // "every address one lower"
    std::string toml;      // what to write where; empty for none
    double log_odds = 0.0;
    double probability = 0.0;  // among all changes and none
};
struct ProfileFit {
    bool fits = false;  // no change is clearly likelier, and few of its numbers are odd
    std::vector<ProfileChange> changes;  // likeliest first, `none` among them
    std::vector<std::string> misfits;    // of the profile as it is, one sentence a number
    std::vector<std::string> doubts;     // what cannot be told, and what to switch or measure
    std::size_t judged = 0;              // numbers of the profile that the dumps hold
    std::size_t missing = 0;             // numbers that they do not hold
};

[[nodiscard]] ProfileFit fit_of(profile::Profile const& profile, std::span<Dump const> dumps, Expected const& expected);

}  // namespace phasewright::decoder
