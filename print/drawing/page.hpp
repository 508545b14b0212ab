// A sheet of paper in quarter millimetres: 12 mm of margin, a title, the title block at the foot. Content is
// 186 mm wide on A4 and on Letter alike, so that a drawing looks the same on both; Letter is only less high.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "print/sheet/svg.hpp"

namespace phasewright::drawing {

enum class PaperSize { a4, letter };
struct PageSize {
    double width_mm = 210.0, height_mm = 297.0;
};
[[nodiscard]] PageSize size_of(PaperSize paper);

inline constexpr double units_per_mm = 4.0;
inline constexpr double margin = 12.0 * units_per_mm;
inline constexpr double content_width = 744.0;
inline constexpr double block_height = 44.0;

// Where content may stand on a page, in the page's units.
struct Room {
    double left = 0.0, top = 0.0, bottom = 0.0;
};
[[nodiscard]] Room room_of(PaperSize paper);  // without the title block

[[nodiscard]] sheet::Drawing blank_page(PaperSize paper);
// Title and lead; gives the height at which the content begins.
[[nodiscard]] double put_head(sheet::Drawing& page, PaperSize paper, std::string_view title,
                              std::string_view lead);
// Small lines directly above the title block; gives the height at which the content must end.
[[nodiscard]] double put_notes(sheet::Drawing& page, PaperSize paper, std::vector<std::string> const& notes);

struct TitleBlock {
    std::string site, panel, point, sheet, revision, date, digest;
};
void put_title_block(sheet::Drawing& page, PaperSize paper, TitleBlock const& block);

// Words broken at spaces so that no line is wider; a word that is wider alone is shortened.
[[nodiscard]] std::vector<std::string> broken(std::string_view text, double size, double width);
// The same for a whole sheet's width, where a wide face may reach a little into the margin and nothing is in
// its way.
[[nodiscard]] std::vector<std::string> broken_on_sheet(std::string_view text, double size, double width);
// A drawing as part of another, at its own scale.
void put_part(sheet::Drawing& page, sheet::Drawing const& part, sheet::Spot at, double scale);

}  // namespace phasewright::drawing
