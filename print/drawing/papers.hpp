// The papers of a plan become sheets: each one SVG that needs nothing else, and an index that shows and
// prints all of them. The same papers, paper size, date and revision give the same bytes.
#pragma once
#include <string>
#include <vector>

#include "core/report/plan_papers.hpp"
#include "print/drawing/page.hpp"

namespace phasewright::drawing {

struct Issue {
    std::string site;
    std::string revision;  // empty: a blank to write in
    std::string date;      // "2026-11-25"; empty: a blank to write in
};

struct SheetFile {
    std::string name;  // "tenant-3-wiring.svg"
    std::string title;
    std::string svg;
};

[[nodiscard]] std::vector<SheetFile> sheets_of(std::vector<report::Paper> const& papers, PaperSize size,
                                               Issue const& issue);
[[nodiscard]] std::string index_of(std::vector<SheetFile> const& sheets, PaperSize size, Issue const& issue);

// The pages of one paper, without their title blocks.
[[nodiscard]] std::vector<sheet::Drawing> pages_of(report::Paper const& paper, PaperSize size);

}  // namespace phasewright::drawing
