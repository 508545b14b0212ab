#include "records/schema/seal.hpp"

#include <cstdlib>

#include <sodium.h>

#include "records/schema/text_form.hpp"

namespace phasewright::schema {

namespace {

// Without its source of randomness libsodium must not be used for anything.
void ready() {
    static bool const is_ready = sodium_init() >= 0;
    if (!is_ready) std::abort();
}

unsigned char const* bytes_in(std::string_view text) {
    return reinterpret_cast<unsigned char const*>(text.data());
}

}  // namespace

Hash sha256(std::string_view bytes) {
    ready();
    Hash hash{};
    static_assert(sizeof(Hash) == crypto_hash_sha256_BYTES);
    crypto_hash_sha256(hash.data(), bytes_in(bytes), bytes.size());
    return hash;
}

KeyPair key_pair_of(Seed const& seed) {
    ready();
    KeyPair pair{.secret = seed};
    std::array<unsigned char, crypto_sign_SECRETKEYBYTES> expanded{};
    crypto_sign_seed_keypair(pair.open.data(), expanded.data(), seed.data());
    sodium_memzero(expanded.data(), expanded.size());
    return pair;
}

Signature signed_with(KeyPair const& key, std::string_view message) {
    ready();
    PublicKey open{};
    std::array<unsigned char, crypto_sign_SECRETKEYBYTES> expanded{};
    crypto_sign_seed_keypair(open.data(), expanded.data(), key.secret.data());
    Signature signature{};
    crypto_sign_detached(signature.data(), nullptr, bytes_in(message), message.size(), expanded.data());
    sodium_memzero(expanded.data(), expanded.size());
    return signature;
}

bool is_signed_by(PublicKey const& key, std::string_view message, Signature const& signature) {
    ready();
    return crypto_sign_verify_detached(signature.data(), bytes_in(message), message.size(), key.data()) == 0;
}

Seed drawn_seed() {
    ready();
    Seed seed{};
    randombytes_buf(seed.data(), seed.size());
    return seed;
}

std::string drawn_hex(std::size_t bytes) {
    ready();
    std::string drawn(bytes, '\0');
    randombytes_buf(drawn.data(), drawn.size());
    return hex_of({bytes_in(drawn), drawn.size()});
}

}  // namespace phasewright::schema
