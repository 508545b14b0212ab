// The files of beliefs: the shipped ones say what is built in, number by number, and what somebody changes in
// a copy reaches the verdict.
#include "app/commands/priors_file.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>

#include "app/commands/diagnose_command.hpp"
#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/prior_numbers.hpp"

using namespace phasewright;
using nlohmann::json;

namespace {
std::filesystem::path shipped(std::string const& name) {
    return std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "priors" / name;
}

std::string text_of(std::filesystem::path const& file) {
    std::ifstream in(file);
    std::ostringstream text;
    text << in.rdbuf();
    REQUIRE(in.good());
    return text.str();
}

std::string with(std::string text, std::string const& was, std::string const& is) {
    auto const at = text.find(was);
    REQUIRE(at != std::string::npos);
    return text.replace(at, was.size(), is);
}

quantity::Fault fault_of(std::string const& text) {
    auto const read = commands::read_priors(text, "mine.toml");
    REQUIRE_FALSE(read.has_value());
    return read.error();
}

template <class Set, std::size_t count>
void check_same(Set const& a, Set const& b, std::array<diagnosis::PriorNumber<Set>, count> const& numbers) {
    for (auto const& number : numbers) CHECK_MESSAGE(a.*number.at == b.*number.at, std::string(number.name));
}

void check_same(diagnosis::AngleAtom const& a, diagnosis::AngleAtom const& b) {
    CHECK(a.weight == b.weight);
    CHECK(a.mean_deg == b.mean_deg);
    CHECK(a.sigma_deg == b.sigma_deg);
}

void check_same(diagnosis::PriorSet const& a, diagnosis::PriorSet const& b) {
    check_same(a.odds, b.odds, diagnosis::odds_numbers);
    check_same(a.spread, b.spread, diagnosis::spread_numbers);
    check_same(a.supply, b.supply, diagnosis::supply_numbers);
    check_same(a.thresholds, b.thresholds, diagnosis::threshold_numbers);
    check_same(a.load, b.load, diagnosis::load_numbers);
    check_same(a.load.exports, b.load.exports, diagnosis::export_numbers);
    for (auto const& kind : diagnosis::kinds_of_load) {
        INFO(std::string(kind.name));
        auto const &left = a.load.*kind.at, &right = b.load.*kind.at;
        check_same(left, right, diagnosis::kind_numbers);
        check_same(left.export_atom, right.export_atom);
        REQUIRE(left.atoms.size() == right.atoms.size());
        for (std::size_t k = 0; k < left.atoms.size(); ++k) check_same(left.atoms[k], right.atoms[k]);
    }
}

// Two CTs that nobody marked: reversed on L2, or the wiring is right and phase 2 exports; far from certain.
constexpr auto one_reversed =
    R"({"id":"t","service":"3P4W","nominal":{"v_ln":230,"v_ll":400,"hz":50},"snapshots":[{"v":[231,229,232],)"
    R"("i":[41.2,38.7,44.0],"p":[8756,-8153,9391],"q":[3730,-3473,4001]}]})";

json verdict_with(diagnosis::PriorSets const& priors, std::string const& line = one_reversed) {
    std::istringstream in(line);
    std::ostringstream out;
    CHECK(commands::diagnose_lines(in, out, priors) == commands::all_answered);
    return json::parse(out.str());
}
}  // namespace

TEST_CASE("the shipped files say what is built in, number by number") {
    using enum readings::Prior;
    auto const first = commands::read_priors(text_of(shipped("first-commissioning.toml")), "first");
    auto const later = commands::read_priors(text_of(shipped("in-service.toml")), "later");
    REQUIRE_MESSAGE(first.has_value(), quantity::to_sentence(first.error()));
    REQUIRE_MESSAGE(later.has_value(), quantity::to_sentence(later.error()));
    check_same(*first, diagnosis::built_in_priors(commissioning));
    check_same(*later, diagnosis::built_in_priors(in_service));
}

TEST_CASE("the shipped files leave no number out") {
    for (auto const* const name : {"first-commissioning.toml", "in-service.toml"}) {
        auto const text = text_of(shipped(name));
        // The other file's built-in stage would fill a number in that is missing; a wrong one everywhere
        // would not.
        auto const missing = [&](std::string_view key) {
            return text.find("\n" + std::string(key) + " = ") == std::string::npos;
        };
        for (auto const& n : diagnosis::odds_numbers) CHECK_MESSAGE(!missing(n.name), std::string(n.name));
        for (auto const& n : diagnosis::spread_numbers) CHECK_MESSAGE(!missing(n.name), std::string(n.name));
        for (auto const& n : diagnosis::supply_numbers) CHECK_MESSAGE(!missing(n.name), std::string(n.name));
        for (auto const& n : diagnosis::export_numbers) CHECK_MESSAGE(!missing(n.name), std::string(n.name));
        for (auto const& n : diagnosis::threshold_numbers)
            CHECK_MESSAGE(!missing(n.name), std::string(n.name));
        for (auto const& n : diagnosis::load_numbers) CHECK_MESSAGE(!missing(n.name), std::string(n.name));
        for (auto const& kind : diagnosis::kinds_of_load)
            CHECK_MESSAGE(text.find("\n[load." + std::string(kind.name) + "]\n") != std::string::npos,
                          std::string(kind.name));
    }
}

TEST_CASE("one changed number changes the verdict, and the verdict says which numbers it used") {
    auto const text = text_of(shipped("first-commissioning.toml"));
    auto const shipped_set = commands::read_priors(text, "first-commissioning.toml");
    auto const never =
        commands::read_priors(with(text, "\nct_reversed = 0.03 ", "\nct_reversed = 0.0 "), "mine.toml");
    REQUIRE(shipped_set.has_value());
    REQUIRE(never.has_value());
    auto const usual = verdict_with({*shipped_set, *shipped_set});
    auto const changed = verdict_with({*never, *never});
    CHECK(usual["classes"][0]["wirings"][0]["current"] == json({"+a", "-b", "+c"}));
    CHECK(usual["classes"][0]["probability"].get<double>() > 0.95);
    CHECK(changed["classes"][0]["probability"].get<double>() <
          usual["classes"][0]["probability"].get<double>());
    CHECK(usual["given"]["facts"]["priors"] == "first-commissioning.toml");
    CHECK(usual["given"]["numbers"]["odds.ct_reversed"] == 0.03);
    CHECK(changed["given"]["facts"]["priors"] == "mine.toml");
    CHECK(changed["given"]["numbers"]["odds.ct_reversed"] == 0.0);
}

TEST_CASE("a threshold of the file decides which word a verdict gets") {
    auto const strict =
        commands::read_priors("stage = \"first-commissioning\"\n[threshold]\nmistake = 1e-300\n", "s.toml");
    REQUIRE(strict.has_value());
    CHECK(verdict_with(diagnosis::built_in_sets())["state"] == "mistake");
    CHECK(verdict_with({*strict, *strict})["state"] == "undecided");
}

TEST_CASE("load angles, spreads and supply of the file reach the verdict too") {
    auto const usual = verdict_with(diagnosis::built_in_sets())["classes"][0]["probability"].get<double>();
    for (auto const* const table :
         {"[load.unknown]\nangles = [{weight = 1.0, mean_deg = 80.0, sigma_deg = 10.0}]\n",
          "[spread]\nphase_angle_deg = 60.0\n", "[supply]\noutlier_weight = 0.4\nphase_relative = 0.5\n"}) {
        auto const set =
            commands::read_priors(std::string("stage = \"first-commissioning\"\n") + table, "m.toml");
        REQUIRE_MESSAGE(set.has_value(), quantity::to_sentence(set.error()));
        CHECK_MESSAGE(verdict_with({*set, *set})["classes"][0]["probability"].get<double>() != usual, table);
    }
}

TEST_CASE("what a file leaves out keeps the number of its stage") {
    auto const set = commands::read_priors("stage = \"in-service\"\n[odds]\nct_reversed = 0.5\n", "m.toml");
    REQUIRE(set.has_value());
    CHECK(set->odds.ct_reversed == 0.5);
    CHECK(set->odds.cts_rotated == diagnosis::odds_for(readings::Prior::in_service).cts_rotated);
}

TEST_CASE("a mistake in the file is named with its line, its field and what is allowed") {
    std::string const stage = "stage = \"first-commissioning\"\n";
    auto const unknown = fault_of(stage + "[odds]\nct_reverse = 0.03\n");
    CHECK(unknown.where == "mine.toml:3 odds.ct_reverse");
    CHECK(unknown.remedy == "did you mean \"ct_reversed\"?");
    CHECK(fault_of(stage + "[odds]\nct_reversed = \"often\"\n").what == "the field is not a number");
    auto const negative = fault_of(stage + "[odds]\nct_reversed = -0.03\n");
    CHECK(negative.where == "mine.toml:3 odds.ct_reversed");
    CHECK(negative.what == "the number is out of range");
    CHECK(negative.found == "-0.03");
    auto const sum = fault_of(stage +
                              "[load.motor]\nangles = [{weight = 0.5, mean_deg = 30.0, sigma_deg = 10.0}, "
                              "{weight = 0.25, mean_deg = 5.0, sigma_deg = 10.0}]\n");
    CHECK(sum.where == "mine.toml:3 load.motor.angles");
    CHECK(sum.what == "the weights of the load angles sum to 0.75");
    CHECK(fault_of(stage + "[spread]\nphase_angle_deg = 0.0\n").where ==
          "mine.toml:3 spread.phase_angle_deg");
    CHECK(fault_of(stage + "[supply]\noutlier_weight = 1.5\n").where == "mine.toml:3 supply.outlier_weight");
    CHECK(fault_of(stage + "[load.pump]\n").remedy.starts_with("did you mean"));
    CHECK(fault_of(stage + "[threshold]\nmistake = 0.4\nas_planned = 0.3\n").where ==
          "mine.toml:3 threshold.mistake");
    CHECK(fault_of("[odds]\n").what == "the field is missing");
    CHECK(fault_of("stage = \"later\"\n").allowed == "first-commissioning, in-service");
    CHECK(fault_of("stage = ").what.starts_with("the text is not TOML"));
    CHECK(fault_of(stage + "[odds]\nct_reversed = nan\n").where == "mine.toml:3 odds.ct_reversed");
}

TEST_CASE("diagnose --priors refuses a file that cannot be read before it reads a line") {
    std::istringstream in(one_reversed);
    std::ostringstream out, err;
    CHECK(commands::diagnose_command("-", in, out, err, "/no/such/priors.toml") ==
          commands::some_not_answered);
    CHECK(out.str().empty());
    CHECK(err.str().find("/no/such/priors.toml") != std::string::npos);
}
