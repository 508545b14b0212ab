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

Figures Scores::figures() const {
    double ece = 0.0;
    for (auto const& bin : bins_) ece += std::abs(bin.promised - bin.right);
    double const answered = answered_ > 0.0 ? answered_ : 1.0;
    return {.cases = cases_,
            .first = percent(first_, cases_),
            .three = percent(third_, cases_),
            .exact = percent(exact_, cases_),
            .silent = percent(cases_ - answered_, cases_),
            .trust = percent(promised_, answered_),
            .in_set = percent(in_set_, answered_),
            .set_size = set_size_ / answered,
            .brier = brier_ / answered,
            .ece = ece / answered,
            .sure = percent(sure_, answered_),
            .sure_wrong = percent(sure_wrong_, sure_),
            .sure_due = percent(sure_promised_wrong_, sure_),
            .alarms = percent(alarms_, planned_),
            .misread = percent(planned_wrong_, planned_),
            .in_band = percent(in_band_, bands_),
            .in_sure_band = percent(in_sure_band_, sure_bands_),
            .within_two = percent(within_two_percent_, recoverable_)};
}

std::string Scores::row(std::string const& name) const {
    auto const f = figures();
    auto row = fmt::format("{:9}{:9.0f}", name, f.cases);
    for (double const share : {f.first, f.three, f.exact, f.silent, f.trust, f.in_set}) row += fmt::format("{:9.1f}", share);
    row += fmt::format("{:9.2f}{:9.4f}{:9.4f}", f.set_size, f.brier, f.ece);
    for (double const share : {f.sure, f.sure_wrong, f.sure_due, f.alarms, f.misread, f.in_band, f.in_sure_band, f.within_two})
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
