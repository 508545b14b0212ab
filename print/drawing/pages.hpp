// A paper that may be longer than a sheet: content is put from the top, and a new page begins where there is
// no more room.
#pragma once
#include <vector>

#include "core/report/plan_papers.hpp"
#include "print/drawing/page.hpp"

namespace phasewright::drawing {

class Pages {
public:
    Pages(report::Paper const& paper, PaperSize size);
    [[nodiscard]] sheet::Drawing& page() { return pages_.back(); }
    [[nodiscard]] double left() const { return left_; }
    [[nodiscard]] double y() const { return y_; }
    [[nodiscard]] double bottom() const { return bottom_; }
    [[nodiscard]] bool fits(double height) const { return y_ + height <= bottom_; }
    void down(double by) { y_ += by; }
    void turn();  // to a new page
    [[nodiscard]] std::vector<sheet::Drawing> done() { return std::move(pages_); }

private:
    report::Paper const& paper_;
    PaperSize size_;
    std::vector<sheet::Drawing> pages_;
    double left_ = 0.0, y_ = 0.0, bottom_ = 0.0;
};

void set_tables(Pages& pages, report::Tables const& tables);
void set_checklist(Pages& pages, report::Checklist const& list);
void set_labels(Pages& pages, report::LabelSheet const& all);
void set_bus(Pages& pages, report::BusRun const& run);
void set_one_line(Pages& pages, report::OneLine const& line);

}  // namespace phasewright::drawing
