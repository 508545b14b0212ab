// Every test that a person can make at a meter, as data: what it costs, who may do it, what to mind, how its
// answer is sent. Minutes are common practice, no source; they only rank one test against another. Whether
// somebody may do the work on this site, and how, is decided by the local code and the person in charge,
// never by this table. docs/reference/tests.md carries the same table for people; a test compares the two.
#pragma once
#include <span>
#include <string>
#include <string_view>

namespace phasewright::diagnosis {

// What the answer to a test looks like.
enum class AnswerForm {
    volts,           // one number, V
    amperes,         // one number, A
    amperes_pair,    // before and during, A
    volts_pair,      // before and during, V
    power_pair,      // before and during: the meter's total, or one number an element, W
    yes_or_pair,     // yes or no; or before and during, W
    power,           // one number, W or var, or what this meter shows as a fraction of it
    sequence,        // abc or acb
    primary_rating,  // one number, A: the rated primary on the plate
    turns,           // a count
    cables,          // so many of so many
    power_factor,    // one number from 0 to 1
    touch,           // a b c n lost, or dead for a CT
};

struct TestKind {
    std::string_view kind;  // the contract's word
    std::string_view purpose;
    std::string_view who;
    double minutes = 0.0;
    bool live = false;    // a hand comes near live parts, or a tester touches them
    bool outage = false;  // something goes off for a moment
    AnswerForm answer = AnswerForm::volts;
    std::string_view answer_in_words;
    std::span<std::string_view const> cautions;
};

// In the order of the contract.
[[nodiscard]] std::span<TestKind const> test_catalogue();
[[nodiscard]] TestKind const& catalogued(std::string_view kind);  // `kind` is one of the contract's words

// What a test costs beside its minutes: setting up, work near live parts, an outage.
[[nodiscard]] double cost_of(TestKind const& kind, double minutes);

// The catalogue as a table of Markdown, with the cautions below it.
[[nodiscard]] std::string catalogue_in_markdown();

}  // namespace phasewright::diagnosis
