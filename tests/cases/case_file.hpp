// A case as text: statements in order, each with its line. docs/reference/cases.md is the format.
#pragma once
#include <expected>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/fault.hpp"

namespace phasewright::cases {

struct Statement {
    std::size_t line = 0;
    std::string keyword;
    std::string rest;
};
struct CaseFile {
    std::string name;  // "worked/one-reversed-ct.case"
    std::vector<Statement> statements;
};

[[nodiscard]] std::expected<CaseFile, quantity::Fault> parse_case(std::string name, std::string_view text);
[[nodiscard]] std::expected<CaseFile, quantity::Fault> read_case(std::filesystem::path const& file);

// The words of a statement, taken from the front. The first thing that does not fit is kept as what was
// wanted.
class Words {
public:
    explicit Words(std::string_view text);

    [[nodiscard]] bool empty() const { return at_ == words_.size(); }
    [[nodiscard]] std::string_view peek() const;
    [[nodiscard]] bool take(std::string_view word);  // true and one word on, when it stands next
    [[nodiscard]] std::string next();
    [[nodiscard]] double number();
    [[nodiscard]] double number_in(std::string_view unit);  // "230 V"
    void must(std::string_view word);
    void end();
    void wrong(std::string_view wanted);
    [[nodiscard]] std::optional<std::string> const& fault() const { return fault_; }

private:
    std::vector<std::string> words_;
    std::size_t at_ = 0;
    std::optional<std::string> fault_;
};

[[nodiscard]] std::vector<std::string> split(std::string_view text, std::string_view between);

}  // namespace phasewright::cases
