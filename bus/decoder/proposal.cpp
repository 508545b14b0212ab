#include "bus/decoder/proposal.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "bus/decoder/words.hpp"
#include "bus/profile/raw_number.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::decoder {

namespace {

using profile::Order;

FoundField const* field_of(Decoding const& decoding, Quantity quantity) {
    auto const found = std::ranges::find_if(
        decoding.fields, [&](FoundField const& field) { return field.placed.quantity == quantity; });
    return found == decoding.fields.end() ? nullptr : &*found;
}

std::string_view type_word(profile::ValueType type) {
    constexpr std::array<std::string_view, 8> words{"int16", "uint16", "int32",   "uint32",
                                                    "int64", "uint64", "float32", "float64"};
    return words.at(static_cast<std::size_t>(type));
}
std::string_view order_word(Order order) { return order == Order::high_first ? "high-first" : "low-first"; }

// The word order of the first field that has one; the profile's default.
Order word_order_of(Decoding const& decoding) {
    for (auto const& field : decoding.fields)
        if (profile::registers_of(field.placed.format.type) > 1) return field.placed.format.words;
    return Order::high_first;
}

// The raw patterns of "no value" that were met in this field.
std::set<std::uint64_t> nothings_in(Placed const& placed, std::span<Dump const> dumps) {
    std::set<std::uint64_t> met;
    auto const usual = usual_nothings(placed.format.type);
    for (auto const address : placed.addresses) {
        profile::Field const field{.function = placed.function, .address = address, .type = placed.format.type,
                                   .words = placed.format.words, .bytes = placed.format.bytes};
        for (auto const& dump : dumps) {
            auto const raw = profile::raw_of(field, dump.image);
            if (raw && std::ranges::find(usual, *raw) != usual.end()) met.insert(*raw);
        }
    }
    return met;
}

class Writer {
public:
    Writer(Decoding const& decoding, Expected const& expected, std::span<Dump const> dumps)
        : decoding_(decoding), expected_(expected), dumps_(dumps), usual_(field_of(decoding, Quantity::v)->placed) {}

    std::string text() {
        usual_.format.words = word_order_of(decoding_);
        text_ = fmt::format("# Proposed by phasewright decode from {} registers, {} of which have a meaning here.\n"
                            "# Read every comment; name the meter and its terminals as they are printed on it.\n"
                            "# Format: docs/reference/profile.md\n",
                            decoding_.registers, decoding_.explained);
        for (auto const& doubt : decoding_.doubts) text_ += "# In doubt: " + doubt + ".\n";
        text_ += fmt::format("name = \"not named yet\"\nmaker = \"not named yet\"\nfunction = {}\ntype = \"{}\"\n"
                             "word_order = \"{}\"\nbyte_order = \"{}\"\n",
                             static_cast<int>(usual_.function), type_word(usual_.format.type),
                             order_word(usual_.format.words), order_word(usual_.format.bytes));
        for (auto const& field : decoding_.fields) {
            if (is_counter(field.placed.quantity)) {
                counter(field);
            } else if (measure_of(field.placed.quantity)) {
                measurement(field);
            } else {
                text_ += fmt::format("\n# register {}: {}, {} ({})\n", field.placed.addresses.front(),
                                     words_of(field.placed.quantity), words_of(field.placed.format), field.why);
            }
        }
        services();
        return text_;
    }

private:
    void comment(FoundField const& field) {
        text_ += fmt::format("\n# {}, {}: {}\n", words_of(field.placed.quantity), percent_words(field.probability), field.why);
    }
    void place(Placed const& placed) {
        std::vector<std::string> addresses;
        for (auto const address : placed.addresses) addresses.push_back(std::to_string(address));
        bool const list = is_per_phase(placed.quantity);
        text_ += list ? fmt::format("registers = [{}]\n", quantity::joined(addresses, ", "))
                      : fmt::format("register = {}\n", addresses.front());
        if (placed.function != usual_.function) text_ += fmt::format("function = {}\n", static_cast<int>(placed.function));
        if (placed.format.type != usual_.format.type) text_ += fmt::format("type = \"{}\"\n", type_word(placed.format.type));
        if (profile::registers_of(placed.format.type) > 1 && placed.format.words != usual_.format.words)
            text_ += fmt::format("word_order = \"{}\"\n", order_word(placed.format.words));
        if (placed.exponent != 0)
            text_ += fmt::format("scale = {}\n", quantity::shortest(power_of_ten(placed.exponent)));
        std::vector<std::string> nothings;
        for (auto const raw : nothings_in(placed, dumps_))
            if (raw >> 63U == 0) nothings.push_back(std::to_string(raw));
        if (!nothings.empty()) text_ += fmt::format("not_available = [{}]\n", quantity::joined(nothings, ", "));
    }
    void measurement(FoundField const& field) {
        comment(field);
        text_ += fmt::format("[measurements.{}]\n", name_of(field.placed.quantity));
        place(field.placed);
    }
    void counter(FoundField const& field) {
        comment(field);
        switch (field.placed.quantity) {
            case Quantity::energy_import: text_ += "[energies.import]\nkind = \"import\"\n"; break;
            case Quantity::energy_export: text_ += "[energies.export]\nkind = \"export\"\n"; break;
            case Quantity::reactive_energy:
                text_ += "[energies.reactive]\nquantity = \"reactive\"\nkind = \"absolute\"\n";
                break;
            default: text_ += "[energies.apparent]\nquantity = \"apparent\"\nkind = \"absolute\"\n"; break;
        }
        place(field.placed);
    }
    void services() {
        bool const lines = field_of(decoding_, Quantity::v_ll) != nullptr;
        bool const opposite = expected_.nominal.v_ll > 1.9 * expected_.nominal.v_ln;
        if (expected_.phases == 3)
            text_ += fmt::format("\n[[services]]\nservice = \"3P4W\"\nelements = [1, 2, 3]\n{}",
                                 lines ? "lines = [1, 2, 3]\n" : "");
        if (expected_.phases == 2)
            text_ += fmt::format("\n[[services]]\nservice = \"{}\"\nelements = [1, 2]\n{}", opposite ? "1P3W" : "2P3W",
                                 lines ? "lines = [1]\n" : "");
        if (expected_.phases == 1) text_ += "\n[[services]]\nservice = \"1P2W\"\nelements = [1]\n";
        std::vector<std::string> voltage;
        std::vector<std::string> current;
        for (std::size_t phase = 1; phase <= expected_.phases; ++phase) {
            voltage.push_back(fmt::format(R"("voltage {}")", phase));
            current.push_back(fmt::format(R"({{ s1 = "current {0} S1", s2 = "current {0} S2" }})", phase));
        }
        text_ += fmt::format("\n# The words printed beside the terminals: put them here.\n[terminals]\nvoltage = [{}]\n"
                             "neutral = \"neutral\"\ncurrent = [{}]\n",
                             quantity::joined(voltage, ", "), quantity::joined(current, ", "));
    }

    Decoding const& decoding_;
    Expected const& expected_;
    std::span<Dump const> dumps_;
    Placed usual_;
    std::string text_;
};

}  // namespace

std::expected<std::string, quantity::Fault> proposed_profile(Decoding const& decoding, Expected const& expected,
                                                             std::span<Dump const> dumps) {
    for (auto const needed : {Quantity::v, Quantity::i}) {
        if (field_of(decoding, needed) == nullptr)
            return std::unexpected(quantity::Fault{
                "there is no profile to propose", {}, fmt::format("no {} among these registers", words_of(needed)),
                "phase voltages and currents that hang together",
                "dump more registers, or the same ones under load on every phase"});
    }
    return Writer(decoding, expected, dumps).text();
}

}  // namespace phasewright::decoder
