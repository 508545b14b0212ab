#include "core/report/digest.hpp"

#include <array>
#include <bit>
#include <cstdint>

#include "core/quantity/text.hpp"

namespace phasewright::report {

namespace {

// The first 32 bits of the fractional parts of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2).
constexpr std::array<std::uint32_t, 64> round_constants{
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

using State = std::array<std::uint32_t, 8>;

void take_block(State& state, std::string_view block) {
    std::array<std::uint32_t, 64> w{};
    for (std::size_t t = 0; t < 16; ++t)
        for (std::size_t k = 0; k < 4; ++k) w[t] = (w[t] << 8) | static_cast<unsigned char>(block[4 * t + k]);
    for (std::size_t t = 16; t < 64; ++t) {
        auto const s0 = std::rotr(w[t - 15], 7) ^ std::rotr(w[t - 15], 18) ^ (w[t - 15] >> 3);
        auto const s1 = std::rotr(w[t - 2], 17) ^ std::rotr(w[t - 2], 19) ^ (w[t - 2] >> 10);
        w[t] = w[t - 16] + s0 + w[t - 7] + s1;
    }
    auto [a, b, c, d, e, f, g, h] = state;
    for (std::size_t t = 0; t < 64; ++t) {
        auto const s1 = std::rotr(e, 6) ^ std::rotr(e, 11) ^ std::rotr(e, 25);
        auto const t1 = h + s1 + ((e & f) ^ (~e & g)) + round_constants[t] + w[t];
        auto const s0 = std::rotr(a, 2) ^ std::rotr(a, 13) ^ std::rotr(a, 22);
        auto const t2 = s0 + ((a & b) ^ (a & c) ^ (b & c));
        h = g;
        g = f;
        f = e;
        e = d + t1;
        d = c;
        c = b;
        b = a;
        a = t1 + t2;
    }
    State const step{a, b, c, d, e, f, g, h};
    for (std::size_t k = 0; k < state.size(); ++k) state[k] += step[k];
}

std::string rounded(std::optional<double> value, int decimals) {
    return value ? quantity::fixed(*value, decimals) : "-";
}

void write_elements(std::string& text, std::string_view key,
                    std::vector<diagnosis::ElementValues> const& values) {
    for (std::size_t k = 0; k < values.size(); ++k) {
        auto const& e = values[k];
        text += std::string(key) + " " + std::to_string(k + 1) + " " + rounded(e.v, 1) + " " +
                rounded(e.i, 2) + " " + rounded(e.lag_deg, 0) + " " + rounded(e.p, 0) + " " +
                rounded(e.q, 0) + "\n";
    }
}

}  // namespace

std::string sha256_hex(std::string_view bytes) {
    State state{0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
    std::string padded(bytes);
    padded += '\x80';
    while (padded.size() % 64 != 56) padded += '\0';
    std::uint64_t const bits = static_cast<std::uint64_t>(bytes.size()) * 8U;
    for (int shift = 56; shift >= 0; shift -= 8) padded += static_cast<char>((bits >> shift) & 0xffU);
    for (std::size_t at = 0; at < padded.size(); at += 64)
        take_block(state, std::string_view(padded).substr(at, 64));
    std::string hex;
    for (auto const word : state)
        for (int shift = 28; shift >= 0; shift -= 4) hex += "0123456789abcdef"[(word >> shift) & 0xfU];
    return hex;
}

std::string canonical_text(JobReport const& report, PointSheet const& sheet) {
    std::string text = "sheet 1\n";
    text +=
        "site " + report.site.name + "\nmade_at " + report.made_at + "\nrevision " + report.revision + "\n";
    text += "point " + sheet.point.id + "\nplace " + place_line(report, sheet) + "\n";
    text += "service " + std::string(plan::code_of(sheet.point.service)) + "\n";
    text += "ct " + quantity::shortest(sheet.point.ct.ratio.primary) + "/" +
            quantity::shortest(sheet.point.ct.ratio.secondary) + "\n";
    text += "state " + std::string(word_of(state_of(sheet))) + "\n";
    text += "says " + headline(sheet) + " " + certainty(sheet) + "\n";
    for (auto const& words : {given_words(sheet), rivals(sheet), registered(sheet), foot_line(sheet)})
        text += "and " + words + "\n";
    for (auto const& note : sheet.notes) text += "note " + note + "\n";
    if (sheet.verdict && sheet.verdict->next_test)
        text += "test " + sheet.verdict->next_test->kind + " | " + sheet.verdict->next_test->what + "\n";
    for (auto const& finding : findings_of(sheet))
        text += "finding " + std::string(diagnosis::name_of(finding.severity)) + " " + finding.text + "\n";
    if (sheet.verdict) {
        write_elements(text, "read", sheet.verdict->as_read);
        write_elements(text, "after", sheet.verdict->after_repair);
    }
    for (auto const& move : repair_of(sheet))
        text += "move " + move.move + " | " + move.before + " | " + move.then + "\n";
    return text;
}

std::string digest_of(JobReport const& report, PointSheet const& sheet) {
    return sha256_hex(canonical_text(report, sheet));
}

std::string digest_of(JobReport const& report) {
    std::string all;
    for (auto const& sheet : report.sheets) all += digest_of(report, sheet) + "\n";
    return sha256_hex(all);
}

}  // namespace phasewright::report
