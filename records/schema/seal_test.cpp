#include "records/schema/seal.hpp"

#include <doctest/doctest.h>

#include <string>

#include "records/schema/text_form.hpp"

using namespace phasewright::schema;

namespace {
template <class Bytes>
Bytes from(std::string_view hex) {
    Bytes bytes{};
    REQUIRE(bytes_of(hex, bytes));
    return bytes;
}
}  // namespace

// FIPS 180-4's examples as RFC 6234, section 8.5 prints them, and the hash of nothing.
TEST_CASE("SHA-256 gives the published hashes") {
    CHECK(hex_of(sha256("abc")) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(hex_of(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq")) ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(hex_of(sha256(std::string(1000000, 'a'))) ==
          "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    CHECK(hex_of(sha256("")) == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

// RFC 8032, section 7.1, TEST 1 to TEST 3.
TEST_CASE("ed25519 gives the published keys and signatures, and refuses a letter changed") {
    struct Vector {
        std::string_view seed, open, message, signature;
    };
    for (auto const& vector :
         {Vector{"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
                 "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
                 "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf"
                 "9b46bd25bf5f0595bbe"
                 "24655141438e7a100b"},
          Vector{"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
                 "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "\x72",
                 "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f"
                 "11d8c387b2eaeb4302ae"
                 "eb00d291612bb0c00"},
          Vector{"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
                 "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "\xaf\x82",
                 "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984"
                 "dc6594a7c15e9716ed2"
                 "8dc027beceea1ec40a"}}) {
        auto const pair = key_pair_of(from<Seed>(vector.seed));
        CHECK(hex_of(pair.open) == vector.open);
        auto const signature = signed_with(pair, vector.message);
        CHECK(hex_of(signature) == vector.signature);
        CHECK(is_signed_by(pair.open, vector.message, signature));
        CHECK(!is_signed_by(pair.open, std::string(vector.message) + "x", signature));
        auto other = signature;
        other[5] ^= 1U;
        CHECK(!is_signed_by(pair.open, vector.message, other));
    }
}
