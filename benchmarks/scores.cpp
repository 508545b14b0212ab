#include "benchmarks/scores.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace phasewright::benchmarks {

void Scores::add(Judged const& judged) {
    ++cases_;
    if (judged.as_planned) {
        ++planned_;
        alarms_ += judged.alarmed ? 1 : 0;
        planned_wrong_ += judged.answered && judged.place != std::size_t{0} ? 1 : 0;
    }
    if (judged.recoverable) {
        ++recoverable_;
        bool const near =
            judged.p_w && std::abs(*judged.p_w - judged.true_w) <= 0.02 * std::abs(judged.true_w);
        within_two_percent_ += near ? 1 : 0;
    }
    if (!judged.answered) return;
    ++answered_;
    bool const right = judged.place == std::size_t{0};
    first_ += right ? 1 : 0;
    third_ += judged.place && *judged.place < 3 ? 1 : 0;
    exact_ += judged.exact ? 1 : 0;
    in_set_ += judged.in_set ? 1 : 0;
    set_size_ += static_cast<double>(judged.set_size);
    promised_ += judged.probability;
    double const missed = (right ? 1.0 : 0.0) - judged.probability;
    brier_ += missed * missed;
    auto& bin =
        bins_[static_cast<std::size_t>(std::clamp(static_cast<int>(judged.probability * 10.0), 0, 9))];
    ++bin.cases;
    bin.promised += judged.probability;
    bin.right += right ? 1 : 0;
    if (judged.probability > 0.95) {
        ++sure_;
        sure_wrong_ += right ? 0 : 1;
        sure_promised_wrong_ += 1.0 - judged.probability;
    }
    if (judged.p05_w && judged.p95_w) {
        bool const inside = *judged.p05_w <= judged.true_w && judged.true_w <= *judged.p95_w;
        ++bands_;
        in_band_ += inside ? 1 : 0;
        sure_bands_ += judged.probability > 0.95 ? 1 : 0;
        in_sure_band_ += judged.probability > 0.95 && inside ? 1 : 0;
    }
}

namespace {
double percent(double part, double whole) { return whole > 0.0 ? 100.0 * part / whole : 0.0; }
}  // namespace

std::string Scores::head() {
    std::string head = fmt::format("{:9}", "service");
    for (auto const* name :
         {"cases", "first", "three", "exact", "silent", "trust", "set", "size", "Brier", "ECE", "sure",
          "wrong", "due", "alarms", "misread", "band", "sureband", "within2"})
        head += fmt::format("{:>9}", name);
    return head + '\n';
}

std::string Scores::row(std::string const& name) const {
    double ece = 0.0;
    for (auto const& bin : bins_) ece += std::abs(bin.promised - bin.right);
    double const answered = answered_ > 0.0 ? answered_ : 1.0;
    auto row = fmt::format("{:9}{:9.0f}", name, cases_);
    for (double const share :
         {percent(first_, cases_), percent(third_, cases_), percent(exact_, cases_),
          percent(cases_ - answered_, cases_), percent(promised_, answered_), percent(in_set_, answered_)})
        row += fmt::format("{:9.1f}", share);
    row += fmt::format("{:9.2f}{:9.4f}{:9.4f}", set_size_ / answered, brier_ / answered, ece / answered);
    for (double const share :
         {percent(sure_, answered_), percent(sure_wrong_, sure_), percent(sure_promised_wrong_, sure_),
          percent(alarms_, planned_), percent(planned_wrong_, planned_), percent(in_band_, bands_),
          percent(in_sure_band_, sure_bands_), percent(within_two_percent_, recoverable_)})
        row += fmt::format("{:9.2f}", share);
    return row + '\n';
}

std::string Scores::reliability_svg(std::string const& title) const {
    constexpr double side = 400.0;
    constexpr double left = 60.0;
    constexpr double top = 40.0;
    auto const x = [](double p) { return left + side * p; };
    auto const y = [](double p) { return top + side * (1.0 - p); };
    std::string svg = fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 500 500\" "
        "font-family=\"sans-serif\" font-size=\"12\">\n"
        "<text x=\"{}\" y=\"24\">{}: probability of the first answer, and how often it was right</text>\n"
        "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"none\" stroke=\"#888\"/>\n"
        "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke=\"#888\" stroke-dasharray=\"4 4\"/>\n",
        left, title, left, top, side, side, x(0), y(0), x(1), y(1));
    for (int tenth = 0; tenth <= 10; tenth += 2)
        svg += fmt::format(
            "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{:.1f}</text>"
            "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{:.1f}</text>\n",
            x(0.1 * tenth), y(0.0) + 18.0, 0.1 * tenth, x(0.0) - 6.0, y(0.1 * tenth) + 4.0, 0.1 * tenth);
    for (auto const& bin : bins_) {
        if (bin.cases < 1.0) continue;
        double const promised = bin.promised / bin.cases;
        double const kept = bin.right / bin.cases;
        // Agresti and Coull, The American Statistician 52 (1998) 119: two successes and two failures more.
        double const smooth = (bin.right + 2.0) / (bin.cases + 4.0);
        double const half = 2.0 * std::sqrt(smooth * (1.0 - smooth) / (bin.cases + 4.0));
        svg += fmt::format(
            "<line x1=\"{0:.1f}\" y1=\"{1:.1f}\" x2=\"{0:.1f}\" y2=\"{2:.1f}\" stroke=\"#1d5c8f\"/>"
            "<circle cx=\"{0:.1f}\" cy=\"{3:.1f}\" r=\"4\" fill=\"#1d5c8f\">"
            "<title>{4:.0f} cases</title></circle>\n",
            x(promised), y(std::max(smooth - half, 0.0)), y(std::min(smooth + half, 1.0)), y(kept),
            bin.cases);
    }
    return svg + "</svg>\n";
}

}  // namespace phasewright::benchmarks
