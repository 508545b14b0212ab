// The parts that every sheet is put together from. All take plain text and give HTML in which it cannot
// become markup.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/report/job_report.hpp"

namespace phasewright::sheet {

[[nodiscard]] std::string words(std::string_view text);  // escaped and typeset
[[nodiscard]] std::string paragraph(std::string_view text, std::string_view css_class = {});
[[nodiscard]] std::string heading(std::string_view text);
[[nodiscard]] std::string bullets(std::vector<std::string> const& items);

// A number cell; an empty value is a dash. Equal decimals in a column put the decimal signs under each other.
[[nodiscard]] std::string number_cell(std::optional<double> value, int decimals);
[[nodiscard]] std::string word_cell(std::string_view text, std::string_view css_class = {});

// Element, V, I, phi, P, Q and, when it is known, the age of the reading.
[[nodiscard]] std::string element_table(std::string_view caption,
                                        std::vector<report::ElementNames> const& names,
                                        std::vector<diagnosis::ElementValues> const& values,
                                        std::optional<double> age_s);

struct TitleBlock {
    std::string panel, point;  // empty on the sheet of the whole job
    std::size_t sheet = 1, sheets = 1;
    std::string digest;
};
[[nodiscard]] std::string title_block(report::JobReport const& report, TitleBlock const& block);

}  // namespace phasewright::sheet
