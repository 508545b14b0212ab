// Catalogues as TOML and CSV (docs/reference/catalogue.md), and what their mistakes are told as.
#include "app/commands/catalogue_file.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

using namespace phasewright;
using commands::read_catalogue;
using commands::read_ct_list;

namespace {
bool contains(std::string const& text, std::string const& part) {
    return text.find(part) != std::string::npos;
}
std::string refused(std::string const& text) {
    auto const read = read_catalogue(text, "parts.toml");
    return read ? std::string{} : quantity::to_sentence(read.error());
}
std::string refused_list(std::string const& text) {
    auto const read = read_ct_list(text, "parts.csv");
    return read ? std::string{} : quantity::to_sentence(read.error());
}
std::string const ct = "[[ct]]\nmodel = \"r\"\nratio = [100, 5]\noutput = \"5A\"\n";
}  // namespace

TEST_CASE(
    "the catalogue that came along is whole: forty current transformers and more, of every output and both "
    "shapes of window") {
    auto const catalogue = commands::read_catalogue_file(commands::shipped_catalogue());
    REQUIRE(catalogue.has_value());
    CHECK(catalogue->cts.size() >= 40);
    CHECK(catalogue->vts.size() >= 4);
    CHECK(catalogue->fuses.size() >= 8);
    CHECK(catalogue->supplies.size() >= 6);
    CHECK(catalogue->wires.size() >= 10);
    std::set<plan::CtOutput> outputs;
    for (auto const& offer : catalogue->cts) {
        outputs.insert(offer.ct.output);
        CHECK(offer.ct.window.has_value());
        CHECK_FALSE(offer.ct.accuracy_class.empty());
    }
    CHECK(outputs.size() == 5);
    CHECK(std::ranges::all_of(catalogue->fuses,
                              [](auto const& fuse) { return fuse.let_through_a2s.has_value(); }));
}

TEST_CASE("a part with everything is read whole") {
    auto const read = read_catalogue(ct + R"(maker = "Nobody"
class = "0.5S"
burden_va = 2.5
most_percent = 150
window = { width_mm = 20, height_mm = 30 }
core = "split"
shorting = "built-in"
highest_v = 720
own_lead_m = 2
[[wire]]
size = "12 AWG"
strands = "solid"
uses = ["voltage", "current"]
volts = 600
k = 115
)",
                                     "parts.toml");
    REQUIRE(read.has_value());
    auto const& offer = read->cts.at(0);
    CHECK(offer.ct.ratio == quantity::TransformerRatio{100.0, 5.0});
    CHECK(offer.ct.window == plan::Window{20.0, 30.0, false});
    CHECK(offer.core == design::Core::split);
    CHECK(offer.ct.shorting == plan::Shorting::built_in);
    CHECK(read->wires.at(0).size == plan::ConductorSize{plan::SizeUnit::awg, 12.0});
    CHECK(read->wires.at(0).metal == plan::Metal::copper);
}

TEST_CASE("a mistake names line and field, and an unknown field its nearest neighbour") {
    CHECK(contains(refused(ct + "burden = 2.5\n"), "parts.toml:5 ct.burden: the field is not known"));
    CHECK(contains(refused(ct + "burden = 2.5\n"), "did you mean \"burden_va\"?"));
    CHECK(contains(refused("[[ct]]\nmodel = \"r\"\nratio = [5, 100]\noutput = \"5A\"\n"),
                   "parts.toml:3 ct.ratio"));
    CHECK(contains(refused("[[ct]]\nmodel = \"r\"\nratio = [100, 5]\n"), "ct.output: the field is missing"));
    CHECK(
        contains(refused(ct + ct), "parts.toml:6 ct.model: the model has been used before, in parts.toml:2"));
    CHECK(contains(refused("[[fuse]]\nmodel = \"f\"\nrated_a = 1\nvolts = 690\n"),
                   "fuse.breaking_ka: the field is missing"));
    CHECK(contains(refused("[[wire]]\nsize = \"2.5\"\nuses = [\"voltage\"]\nvolts = 600\n"),
                   "parts.toml:2 wire.size"));
    CHECK(contains(refused("[[wire]]\nsize = \"2.5 mm2\"\nuses = [\"volts\"]\nvolts = 600\n"),
                   "parts.toml:3 wire.uses"));
    CHECK(contains(
        refused(
            "[[supply]]\nmodel = \"s\"\nkind = \"dc\"\ninput_v = [264, 85]\nvolts = 24\navailable_va = 15\n"),
        "supply.input_v"));
    CHECK(contains(refused("[[ct"), "parts.toml:1: the text is not TOML"));
}

TEST_CASE("a list with semicolons and decimal commas, columns in any order, quoted text and empty lines") {
    auto const read = read_ct_list(
        "\xEF\xBB\xBFoutput;model;secondary;primary_a;class;burden_va;window_mm;maker\r\n"
        "5A;one;5;100;0,5S;2,5;21;\"Who; \"\"nobody\"\"\"\r\n;;;;;;;\r\nmV;two;0,333;200;1;;32x52;\r\n",
        "parts.csv");
    REQUIRE(read.has_value());
    REQUIRE(read->size() == 2);
    CHECK(read->at(0).ct.accuracy_class == "0.5S");
    CHECK(read->at(0).ct.burden_va == 2.5);
    CHECK(read->at(0).ct.window == plan::Window{21.0, 21.0, true});
    CHECK(read->at(0).maker == "Who; \"nobody\"");
    CHECK(read->at(1).ct.ratio.secondary == doctest::Approx(0.333));
    CHECK(read->at(1).ct.window == plan::Window{32.0, 52.0, false});
    CHECK_FALSE(read->at(1).ct.burden_va.has_value());
}

TEST_CASE("a row that cannot be understood names its line and column") {
    std::string const head = "model,primary_a,secondary,output\n";
    CHECK(contains(refused_list(head + "one,100,5,5A\ntwo,many,5,5A\n"),
                   "parts.csv:3 primary_a: this is no number that may stand here; found \"many\""));
    CHECK(contains(refused_list(head + "one,100,5,5 A\n"), "parts.csv:2 output: the word is not known"));
    CHECK(contains(refused_list(head + "one,5,100,5A\n"), "the primary is not greater"));
    CHECK(contains(refused_list(head + "one,100,5,5A\none,100,5,5A\n"),
                   "parts.csv:3 model: the model has been used before"));
    CHECK(contains(refused_list("model,primary,secondary,output\n"), "did you mean \"primary_a\"?"));
    CHECK(contains(refused_list("model,primary_a,secondary\n"), "a column is missing"));
    CHECK(contains(refused_list(head + "\"one,100,5,5A\n"), "a quotation mark is not closed"));
    CHECK(contains(refused_list(""), "the list is empty"));
}
