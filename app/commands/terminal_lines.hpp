// The report in a terminal: the same sentences as on paper in aligned columns, made for a width of 80, no
// boxes. Weight of type is a second channel only, and only on a terminal; the word always stands there too.
// Names come from plans and meters, so nothing that could steer a terminal gets through.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "core/report/job_report.hpp"

namespace phasewright::commands {

struct TerminalStyle {
    std::size_t width = 80;
    bool weight = false;  // bold where it matters; only on a terminal
};

// Control characters and broken UTF-8 are left out.
[[nodiscard]] std::string printable(std::string_view text);
[[nodiscard]] std::size_t columns_of(std::string_view text);  // how many columns a terminal uses for it
// Words wrapped at `width`; a word that is longer than a line is broken.
[[nodiscard]] std::vector<std::string> wrapped(std::string_view text, std::size_t width);

// How wide the column of point names must be for these points, at most a quarter of the line.
[[nodiscard]] std::size_t name_columns(std::vector<plan::MeteringPoint> const& points,
                                       TerminalStyle const& style);

// One metering point: name, state, sentence, probability; below it what stops, and the repair in the words of
// the terminals. Ends with a newline.
[[nodiscard]] std::string point_lines(report::PointSheet const& sheet, std::size_t name_width,
                                      TerminalStyle const& style);

// "reading  ########......  7 of 14  4 s left  Tenant 4", never wider than the line.
struct ProgressStep {
    std::string_view doing;  // "reading", "weighing"
    std::size_t at = 0, of = 0;
    std::string_view name;
    double elapsed_s = 0.0;
};
[[nodiscard]] std::string progress_text(ProgressStep const& step, std::size_t width);

}  // namespace phasewright::commands
