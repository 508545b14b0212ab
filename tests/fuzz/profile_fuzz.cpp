// Profiles that people write (docs/reference/profile.md); one that loads can be planned, encoded and decoded.
#include "bus/profile/decode.hpp"
#include "bus/profile/encode.hpp"
#include "tests/fuzz/fuzz_target.hpp"

using namespace phasewright;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
    auto const text = fuzz::text_of(data, size);
    auto const read = profile::read_profile(text, "fuzz");
    if (!read) {
        fuzz::must(!read.error().what.empty());
        return 0;
    }
    (void)profile::read_plan(*read);
    readings::Snapshot const shown{.v = {230.0, 231.0, 229.0}, .i = {5.0, 6.0, 7.0}, .p = {1000.0, -1.0, 1e9}, .hz = 50.0};
    auto const image = profile::encode(*read, shown, {.vendor = "V", .model = "M", .serial = "12345678"});
    (void)profile::decode(*read, image);
    (void)profile::identity_in(*read, image);
    (void)profile::energies_in(*read, image);
    return 0;
}
