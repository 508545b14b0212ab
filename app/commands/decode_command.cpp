#include "app/commands/decode_command.hpp"

#include <charconv>
#include <cmath>
#include <ostream>

#include "app/commands/decode_reading.hpp"
#include "app/commands/decode_words.hpp"
#include "app/commands/diagnose_command.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/decoder/proposal.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {

std::optional<double> number_in(std::string_view text) {
    double value = 0.0;
    auto const parsed = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || parsed.ec != std::errc{} || parsed.ptr != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

std::expected<decoder::Expected, Fault> expected_from(DecodeOptions const& options) {
    decoder::Expected expected;
    auto const wrong = [&](std::string where, std::string const& found, std::string allowed) {
        return std::unexpected(Fault{"this is not what is expected of a supply", std::move(where), found,
                                     std::move(allowed), {}});
    };
    auto const slash = options.nominal.find('/');
    auto const phase_v = number_in(std::string_view(options.nominal).substr(0, slash));
    if (!phase_v || *phase_v < 10.0 || *phase_v > 1000.0)
        return wrong("--nominal", options.nominal, "V_LN/V_LL as the meter is meant to show them: 230/400");
    expected.nominal.v_ln = *phase_v;
    expected.nominal.v_ll = quantity::line_from_phase_v(*phase_v);
    if (slash != std::string::npos) {
        auto const line_v = number_in(std::string_view(options.nominal).substr(slash + 1));
        if (!line_v || *line_v < *phase_v || *line_v > 2.1 * *phase_v)
            return wrong("--nominal", options.nominal, "a line voltage of up to twice the phase voltage: 230/400");
        expected.nominal.v_ll = *line_v;
    }
    if (!(options.hz >= 10.0) || !(options.hz <= 100.0)) return wrong("--hz", std::to_string(options.hz), "50 or 60");
    expected.nominal.hz = options.hz;
    if (options.phases < 1 || options.phases > 3) return wrong("--phases", std::to_string(options.phases), "1, 2 or 3");
    expected.phases = static_cast<std::size_t>(options.phases);
    if (!options.current.empty()) {
        auto const dash = options.current.find('-');
        auto const least = number_in(std::string_view(options.current).substr(0, dash));
        auto const most =
            dash == std::string::npos ? std::nullopt : number_in(std::string_view(options.current).substr(dash + 1));
        if (!least || !most || *least < 0.0 || *most <= *least)
            return wrong("--current", options.current, "between which currents, in A: 5-60");
        expected.current_a = {*least, *most};
    }
    return expected;
}

std::expected<std::vector<decoder::Dump>, Fault> dumps_of(DecodeOptions const& options, std::ostream& err) {
    if (!options.read_from.empty()) {
        auto dumps = read_dumps_live(options, err);
        if (!dumps) return dumps;
        if (options.save_file.empty()) return dumps;
        auto const written = write_whole(options.save_file, decoder::to_text(*dumps), "register dump",
                                         "name another file with --save");
        if (!written) return std::unexpected(written.error());
        return dumps;
    }
    std::vector<decoder::Dump> all;
    for (auto const& file : options.dump_files) {
        auto const text = text_of(file, "register dump");
        if (!text) return std::unexpected(text.error());
        auto dumps = decoder::read_dumps(*text, file);
        if (!dumps) return std::unexpected(dumps.error());
        all.insert(all.end(), dumps->begin(), dumps->end());
    }
    if (all.empty())
        return std::unexpected(Fault{"there is nothing to decode", "--dump", {}, "a register dump, or --read",
                                     "docs/reference/register-dump.md shows how to make one"});
    return all;
}

std::expected<void, Fault> judged(DecodeOptions const& options, std::vector<decoder::Dump> const& dumps,
                                  decoder::Expected const& expected, std::ostream& out) {
    auto const profile = profile::read_profile_file(options.profile_file);
    if (!profile) return std::unexpected(profile.error());
    auto const fit = decoder::fit_of(*profile, dumps, expected);
    out << (options.json ? json_line_of(fit) + "\n" : words_of(fit, profile->name));
    return {};
}

std::expected<void, Fault> decoded(DecodeOptions const& options, std::vector<decoder::Dump> const& dumps,
                                   decoder::Expected const& expected, std::ostream& out) {
    auto const decoding = decoder::decode_dumps(dumps, expected);
    out << (options.json ? json_line_of(decoding) + "\n" : words_of(decoding, dumps));
    if (options.propose_file.empty()) return {};
    auto const text = decoder::proposed_profile(decoding, expected, dumps);
    if (!text) return std::unexpected(text.error());
    auto const written =
        write_whole(options.propose_file, *text, "proposed profile", "name another file with --propose");
    if (!written) return std::unexpected(written.error());
    if (!options.json) out << "\nThe proposed profile is in " << options.propose_file << ": read its comments first.\n";
    return {};
}

std::expected<void, Fault> done(DecodeOptions const& options, std::ostream& out, std::ostream& err) {
    std::expected<decoder::Expected, Fault> expected{};
    bool const only_read = !options.read_from.empty() && options.nominal.empty() && options.profile_file.empty();
    if (!only_read) {
        expected = expected_from(options);
        if (!expected) return std::unexpected(expected.error());
    }
    auto const dumps = dumps_of(options, err);
    if (!dumps) return std::unexpected(dumps.error());
    if (!options.save_file.empty() && !options.json)
        out << decoder::registers_in(dumps->front()) << " registers are in " << options.save_file << ".\n";
    if (only_read) {
        if (options.save_file.empty()) out << decoder::to_text(*dumps);
        return {};
    }
    return options.profile_file.empty() ? decoded(options, *dumps, *expected, out)
                                        : judged(options, *dumps, *expected, out);
}

}  // namespace

int decode_command(DecodeOptions const& options, std::ostream& out, std::ostream& err) {
    auto const status = done(options, out, err);
    if (status) return all_answered;
    err << "phasewright decode: " << to_sentence(status.error()) << '\n';
    return some_not_answered;
}

}  // namespace phasewright::commands
