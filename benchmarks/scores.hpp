// What is counted of many diagnoses: how often the first answer was right, and whether its probability was
// honest.
#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace phasewright::benchmarks {

// One case, judged.
struct Judged {
    bool answered = false;             // there were classes
    bool as_planned = false;           // nothing was wrong in truth
    bool alarmed = false;              // the state was "mistake"
    double probability = 0.0;          // of the first class
    std::optional<std::size_t> place;  // of the right class among those listed, 0 is first
    bool exact = false;                // the first wiring of the first class is the planted one to the letter
    std::size_t set_size = 0;          // classes of the 95 % set
    bool in_set = false;
    bool recoverable = false;
    double true_w = 0.0;
    std::optional<double> p_w, p05_w, p95_w;
};

// Shares in per cent; nothing was counted: NaN is never shown, the share is 0.
struct Figures {
    double cases = 0, first = 0, three = 0, exact = 0, silent = 0, trust = 0, in_set = 0, set_size = 0, brier = 0,
           ece = 0;
    double sure = 0, sure_wrong = 0, sure_due = 0, alarms = 0, misread = 0, in_band = 0, in_sure_band = 0,
           within_two = 0;
};

class Scores {
   public:
    void add(Judged const& judged);
    [[nodiscard]] Figures figures() const;

    struct Bin {
        double cases = 0.0, promised = 0.0, right = 0.0;
    };
    [[nodiscard]] std::string row(std::string const& name) const;
    [[nodiscard]] static std::string head();
    // Promised against kept, ten bins, with the width of two standard errors.
    [[nodiscard]] std::string reliability_svg(std::string const& title) const;

   private:
    double cases_ = 0, answered_ = 0, first_ = 0, third_ = 0, exact_ = 0, in_set_ = 0, set_size_ = 0,
           promised_ = 0;
    double brier_ = 0, sure_ = 0, sure_wrong_ = 0, sure_promised_wrong_ = 0;
    double planned_ = 0, alarms_ = 0, planned_wrong_ = 0;
    double sure_bands_ = 0, in_sure_band_ = 0, bands_ = 0, in_band_ = 0, recoverable_ = 0,
           within_two_percent_ = 0;
    std::array<Bin, 10> bins_{};
};

}  // namespace phasewright::benchmarks
