#include "app/commands/decode_words.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "bus/decoder/layout.hpp"
#include "bus/decoder/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {

using nlohmann::ordered_json;

std::string places(decoder::Placed const& placed) {
    std::vector<std::string> texts;
    for (auto const address : placed.addresses) texts.push_back(std::to_string(address));
    return fmt::format("{}:{}", static_cast<int>(placed.function), quantity::joined(texts, ","));
}

std::string kept(decoder::Placed const& placed) {
    auto text = decoder::words_of(placed.format);
    if (placed.exponent != 0) text += " x " + quantity::shortest(decoder::power_of_ten(placed.exponent));
    return text;
}

std::string shown(decoder::FoundField const& field) {
    std::vector<std::string> texts;
    for (std::size_t at = 0; at < field.placed.addresses.size(); ++at) {
        auto const& one = field.shown.back().at(at);
        texts.push_back(one.state == decoder::Shown::State::number ? decoder::number_words(one.value, one.step) : "no value");
    }
    auto const unit = decoder::unit_of(field.placed.quantity);
    return quantity::joined(texts, "  ") + (unit.empty() ? "" : " ") + std::string(unit);
}

// A paragraph of at most 80 columns, every line after the first indented.
std::string paragraph(std::string const& text, std::size_t indent) {
    std::string made(indent, ' ');
    std::size_t column = indent;
    std::size_t at = 0;
    while (at < text.size()) {
        auto const end = std::min(text.find(' ', at), text.size());
        if (column > indent && column + (end - at) >= 80) {
            made += "\n" + std::string(indent, ' ');
            column = indent;
        }
        if (column > indent) {
            made += ' ';
            ++column;
        }
        made += text.substr(at, end - at);
        column += end - at;
        at = end + 1;
    }
    return made + "\n";
}

ordered_json of(decoder::Placed const& placed) {
    auto const number = decoder::power_of_ten(placed.exponent);
    return {{"function", static_cast<int>(placed.function)},
            {"registers", placed.addresses},
            {"kept", decoder::words_of(placed.format)},
            {"scale", number}};
}

}  // namespace

std::string words_of(decoder::Decoding const& decoding, std::vector<decoder::Dump> const& dumps) {
    auto text = fmt::format("{} registers{}, {} of them have a meaning here.\n", decoding.registers,
                            dumps.size() > 1 ? fmt::format(" in {} dumps", dumps.size()) : "", decoding.explained);
    for (auto const& field : decoding.fields) {
        text += fmt::format("\n{:<16} {:<36} {:>9}\n", decoder::name_of(field.placed.quantity), shown(field),
                            decoder::percent_words(field.probability));
        text += fmt::format("  {}  {}\n", places(field.placed), kept(field.placed));
        text += paragraph(field.why, 2);
        for (std::size_t at = 0; at < field.rivals.size() && at < 3; ++at)
            text += fmt::format("  or {}  {}  {}\n", places(field.rivals[at].placed), kept(field.rivals[at].placed),
                                decoder::percent_words(field.rivals[at].probability));
    }
    if (!decoding.doubts.empty()) text += "\nIn doubt\n";
    for (auto const& doubt : decoding.doubts) text += paragraph(doubt + ".", 2);
    return text;
}

std::string words_of(decoder::ProfileFit const& fit, std::string const& profile) {
    auto text = fmt::format("{}: {} numbers judged, {} not in the dump.\n", profile, fit.judged, fit.missing);
    if (fit.judged == 0) {
        text += "Nothing to judge.\n";
    } else if (fit.fits) {
        text += fmt::format("It fits as it is ({}).\n", decoder::percent_words(fit.changes.front().probability));
    } else if (fit.changes.front().kind == decoder::ChangeKind::none) {
        text += "It does not fit, and no single change of it would.\n";
    } else {
        text += "It does not fit as it is. What would:\n";
        for (std::size_t at = 0; at < fit.changes.size() && at < 3; ++at) {
            auto const& change = fit.changes[at];
            if (at > 0 && change.probability < 0.01) break;
            text += fmt::format("  {:>9}  {}\n", decoder::percent_words(change.probability), change.in_words);
            if (!change.toml.empty()) text += fmt::format("             {}\n", change.toml);
        }
    }
    if (!fit.misfits.empty()) text += "\nOf the profile as it is\n";
    for (auto const& misfit : fit.misfits) text += paragraph(misfit + ".", 2);
    if (!fit.doubts.empty()) text += "\nIn doubt\n";
    for (auto const& doubt : fit.doubts) text += paragraph(doubt + ".", 2);
    return text;
}

std::string json_line_of(decoder::Decoding const& decoding) {
    ordered_json line{{"registers", decoding.registers}, {"explained", decoding.explained}};
    line["fields"] = ordered_json::array();
    for (auto const& field : decoding.fields) {
        ordered_json one{{"quantity", std::string{decoder::name_of(field.placed.quantity)}}};
        one.update(of(field.placed));
        one["unit"] = std::string{decoder::unit_of(field.placed.quantity)};
        one["shows"] = ordered_json::array();
        for (std::size_t at = 0; at < field.placed.addresses.size(); ++at) {
            auto const& cell = field.shown.back().at(at);
            one["shows"].push_back(cell.state == decoder::Shown::State::number && std::isfinite(cell.value)
                                       ? ordered_json(cell.value)
                                       : ordered_json(nullptr));
        }
        one["probability"] = field.probability;
        one["why"] = field.why;
        one["rivals"] = ordered_json::array();
        for (auto const& rival : field.rivals) {
            auto other = of(rival.placed);
            other["probability"] = rival.probability;
            one["rivals"].push_back(other);
        }
        line["fields"].push_back(one);
    }
    line["doubts"] = decoding.doubts;
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

std::string json_line_of(decoder::ProfileFit const& fit) {
    ordered_json line{{"fits", fit.fits}, {"judged", fit.judged}, {"missing", fit.missing}};
    line["changes"] = ordered_json::array();
    for (auto const& change : fit.changes) {
        if (change.probability < 1e-6) break;
        line["changes"].push_back(ordered_json{{"kind", std::string{decoder::name_of(change.kind)}},
                                               {"in_words", change.in_words},
                                               {"toml", change.toml},
                                               {"probability", change.probability}});
    }
    line["misfits"] = fit.misfits;
    line["doubts"] = fit.doubts;
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

}  // namespace phasewright::commands
