#include <doctest/doctest.h>

#include <chrono>
#include <iostream>

#include "bus/decoder/bench.hpp"
#include "bus/decoder/words.hpp"
#include "bus/profile/encode.hpp"

namespace phasewright::decoder {

TEST_CASE("draft") {
    for (auto const* name : {"hollowick-h1", "tarnfell-t3", "wexby-w2"}) {
        auto const profile = profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles/" + name + ".toml").value();
        readings::Snapshot shown;
        shown.v = {231.0, 229.0, 232.0};
        shown.i = {41.2, 38.7, 44.0};
        shown.p = {8760, 8150, 9390};
        shown.q = {3730, 3474, 4001};
        shown.s = {9517, 8862, 10208};
        shown.pf = {0.92, .92, .92};
        shown.v_ll = {398.4, 399.2, 401.0};
        shown.hz = 50.02;
        shown.p_total = 26300;
        shown.q_total = 11205;
        shown.s_total = 28587;
        shown.pf_total = .92;
        std::vector<Dump> dumps{{profile::encode(profile, shown, {}), std::nullopt}};
        auto const t0 = std::chrono::steady_clock::now();
        auto const d = decode_dumps(dumps, {.nominal = {230, 400, 50}});
        std::cout << name << ' ' << std::chrono::duration<double>(std::chrono::steady_clock::now() - t0).count() << " s\n";
        for (auto const& f : d.fields) {
            std::cout << name_of(f.placed.quantity) << ' ' << int(f.placed.function) << ' ' << f.placed.addresses.front() << ' ' << words_of(f.placed.format) << " e" << f.placed.exponent << " p=" << f.probability << " gain " << f.placed.gain << "  " << f.why << '\n';
            for (auto const& r : f.rivals) std::cout << "      or " << r.placed.addresses.front() << ' ' << words_of(r.placed.format) << " e" << r.placed.exponent << " p=" << r.probability << '\n';
        }
        for (auto const& s : d.doubts) std::cout << "  ? " << s << '\n';
    }
}

}
