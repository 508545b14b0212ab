#include "tests/cases/case_lines.hpp"

#include <sstream>

#include <nlohmann/json.hpp>

#include "app/commands/diagnose_command.hpp"
#include "tests/cases/case_file.hpp"

namespace phasewright::cases {

std::string wrong_answer(std::vector<std::string> const& lines, std::string_view wanted) {
    std::string text;
    for (auto const& line : lines) text += line + "\n";
    std::istringstream in(text);
    std::ostringstream out;
    int const status = commands::diagnose_lines(in, out);
    auto const answers = split(out.str(), "\n");
    if (answers.size() != lines.size()) return "there are " + std::to_string(answers.size()) + " answers";
    auto const answer = nlohmann::json::parse(answers.back());
    bool const refused = answer.contains("error");
    constexpr std::string_view answered_state = "answered state ";
    if (wanted == "answered") return refused ? answers.back() : std::string{};
    if (wanted.starts_with(answered_state)) {
        bool const right = answer.value("state", std::string{}) == wanted.substr(answered_state.size());
        return right ? std::string{} : answers.back();
    }
    if (!refused || status != commands::some_not_answered) return "it was answered: " + answers.back();
    if (answer.at("line") != lines.size()) return "the error stands at another line: " + answers.back();
    Words words(wanted);
    words.must("refused");
    auto const field = words.next();
    auto const said = answer.at("error").value(field, std::string{});
    auto const about = std::string{wanted.substr(wanted.find(field) + field.size())};
    auto const phrase = about.substr(std::min(about.find_first_not_of(' '), about.size()));
    bool const right =
        field == "field" ? said == phrase : !phrase.empty() && said.find(phrase) != std::string::npos;
    return right ? std::string{} : answers.back();
}

}  // namespace phasewright::cases
