// How often the decoder is right, on meters whose map is known and hidden from it.
#include <doctest/doctest.h>

#include <cstdlib>
#include <iostream>
#include <map>

#include <fmt/format.h>

#include "bus/decoder/meters_in_tests.hpp"
#include "bus/decoder/words.hpp"

namespace phasewright::decoder {

TEST_CASE("share") {
    auto const* const trials = std::getenv("PHASEWRIGHT_DECODER_TRIALS");
    unsigned const count = trials == nullptr ? 24 : static_cast<unsigned>(std::atoi(trials));
    bool const verbose = std::getenv("PHASEWRIGHT_DECODER_VERBOSE") != nullptr;
    for (std::size_t const dumps : {1, 3}) for (bool const clamp : {false, true}) {
        std::map<Quantity, std::array<unsigned, 3>> marks;
        std::array<double, 2> claimed{}; std::array<unsigned,2> claims{};
        std::map<std::string, std::array<unsigned,2>> kinds;
        for (unsigned seed = 1; seed <= count; ++seed) {
            auto meter = drawn_meter(seed, dumps, dumps > 1 ? 300.0 : 0.0);
            if (clamp) meter.expected.current_a = {meter.largest_a * 0.4, meter.largest_a * 1.6};
            auto const d = decode_dumps(meter.dumps, meter.expected);
            bool all = true;
            for (auto const& truth : meter.truths) {
                auto const mark = mark_of(truth, meter, d);
                ++marks[truth.quantity].at(static_cast<std::size_t>(mark));
                if (mark == Mark::wrong && !is_counter(truth.quantity)) all = false;
                for (auto const& f : d.fields) if (f.placed.quantity == truth.quantity) { claimed[0] += f.probability; ++claims[0]; if (mark == Mark::right) ++claims[1]; }
                if (verbose && mark != Mark::right) {
                    std::cout << seed << ' ' << meter.kind << (clamp ? " clamp" : "") << ' ' << dumps << ' ' << name_of(truth.quantity) << " true " << truth.fields.front().address << ' ' << words_of(Format{truth.fields.front().type, truth.fields.front().words, truth.fields.front().bytes}) << " x" << truth.fields.front().scale * truth.fields.front().unit_factor;
                    for (auto const& f : d.fields) if (f.placed.quantity == truth.quantity) std::cout << " found " << f.placed.addresses.front() << ' ' << words_of(f.placed.format) << " e" << f.placed.exponent << " p " << f.probability << ' ' << f.why;
                    std::cout << '\n';
                }
            }
            ++kinds[meter.kind][0]; if (all) ++kinds[meter.kind][1];
        }
        std::cout << dumps << " dumps, clamp " << clamp << " claimed " << claimed[0] / claims[0] << " true " << double(claims[1]) / claims[0] << '\n';
        for (auto const& [q, m] : marks) std::cout << "   " << name_of(q) << ' ' << m[0] << ' ' << m[1] << ' ' << m[2] << '\n';
        for (auto const& [q, m] : kinds) std::cout << "   " << q << ' ' << m[0] << ' ' << m[1] << '\n';
    }
}

}
