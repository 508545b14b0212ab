// What seals an entry: SHA-256 (FIPS 180-4) and ed25519 (RFC 8032), both by libsodium. A hash names what was
// hashed: nobody can find other bytes with the same one. A signature shows that the holder of a secret key
// had those bytes before them. Neither shows that what the bytes say is true.
#pragma once
#include <array>
#include <string>
#include <string_view>

namespace phasewright::schema {

using Hash = std::array<unsigned char, 32>;
using PublicKey = std::array<unsigned char, 32>;
using Seed = std::array<unsigned char, 32>;  // the secret; what the key pair is made from
using Signature = std::array<unsigned char, 64>;

struct KeyPair {
    PublicKey open{};
    Seed secret{};
};

[[nodiscard]] Hash sha256(std::string_view bytes);
[[nodiscard]] KeyPair key_pair_of(Seed const& seed);
[[nodiscard]] Signature signed_with(KeyPair const& key, std::string_view message);
[[nodiscard]] bool is_signed_by(PublicKey const& key, std::string_view message, Signature const& signature);

// From the system's source of randomness.
[[nodiscard]] Seed drawn_seed();
[[nodiscard]] std::string drawn_hex(std::size_t bytes);

}  // namespace phasewright::schema
