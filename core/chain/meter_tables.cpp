// The figures of docs/reference/accuracy-classes.md, section 4. A change here is a change there.
#include <array>
#include <utility>

#include "core/chain/meter_class.hpp"

namespace phasewright::chain {

namespace {
using enum plan::Footing;
using enum FactorRow;
constexpr std::optional<double> up;  // to the highest current

// 2003 edition: IEC 62053-22 Tables 4 and 5, IEC 62053-21 Tables 6 and 7, for meters behind transformers.
std::vector<MeterRow> class_s(double low, double main, double low_half, double half_main, double quarter_main,
                              double one_unity, double one_half) {
    return {{0.01, 0.05, unity, low},
            {0.05, up, unity, main},
            {0.02, 0.1, half, low_half},
            {0.1, up, half, half_main},
            {0.1, up, quarter, quarter_main},
            {0.05, up, unity, one_unity, Loading::one_phase},
            {0.1, up, half, one_half, Loading::one_phase}};
}
std::vector<MeterRow> plain_class(double low, double main, double one_phase) {
    return {{0.02, 0.05, unity, low},
            {0.05, up, unity, main},
            {0.05, 0.1, half, low},
            {0.1, up, half, main},
            {0.05, up, unity, one_phase, Loading::one_phase},
            {0.1, up, half, one_phase, Loading::one_phase}};
}

// One temperature range of 2014/32/EU, Annex V: from the lowest current, from the transitional one, one phase
// loaded.
void add_range(std::vector<MeterRow>& rows, double lowest, plan::DegreesCelsius const& range, double low,
               double main, double one_phase) {
    constexpr double transitional = 0.05;  // In = 20 Itr
    rows.push_back({lowest, transitional, all, low, Loading::balanced, range, seen});
    rows.push_back({transitional, up, all, main, Loading::balanced, range, seen});
    rows.push_back({transitional, up, all, one_phase, Loading::one_phase, range, memory});
}
}  // namespace

std::vector<MeterClass> iec_meter_classes() {
    Citation const s{"IEC 62053-22", "2003", "Tables 4 and 5", memory};
    Citation const plain{"IEC 62053-21", "2003", "Tables 6 and 7", memory};
    return {{"0.2S", class_s(0.4, 0.2, 0.5, 0.3, 0.5, 0.3, 0.4), 0.001, s},
            {"0.5S", class_s(1.0, 0.5, 1.0, 0.6, 1.0, 0.6, 1.0), 0.001, s},
            {"1", plain_class(1.5, 1.0, 2.0), 0.002, plain},
            {"2", plain_class(2.5, 2.0, 3.0), 0.003, plain}};
}

// Points of current class 20, in shares of 5 A: 0.15 A, 0.25 A, and at power factor 0.5 0.5 A and 2.5 A, to
// 20 A. Between 0.5 A and 2.5 A the limit of 0.5 A is kept.
std::vector<MeterClass> ansi_meter_classes() {
    Citation const source{"ANSI C12.20", "", "load performance, current class 20", memory};
    auto const rows = [](double low, double main, double half_low, double half_main) {
        return std::vector<MeterRow>{{0.03, 0.05, unity, low},
                                     {0.05, up, unity, main},
                                     {0.1, 0.5, half, half_low},
                                     {0.5, up, half, half_main}};
    };
    return {{"0.2", rows(0.4, 0.2, 0.5, 0.3), 0.001, source},
            {"0.5", rows(1.0, 0.5, 1.0, 0.6), 0.001, source}};
}

// The grid of currents (0.4, 0.2, 0.2 of the transitional one; starting at 0.06, 0.04, 0.02 of it) is from
// memory.
std::vector<MeterClass> eu_meter_classes() {
    Citation const source{"2014/32/EU", "2014", "Annex V (MI-003), Table 2", seen};
    MeterClass a{"A", {}, 0.003, source};
    MeterClass b{"B", {}, 0.002, source};
    MeterClass c{"C", {}, 0.001, source};
    auto const range = [&](double least, double most, std::array<double, 9> const& of) {
        add_range(a.rows, 0.02, {least, most}, of[0], of[3], of[6]);
        add_range(b.rows, 0.01, {least, most}, of[1], of[4], of[7]);
        add_range(c.rows, 0.01, {least, most}, of[2], of[5], of[8]);
    };
    range(5, 30, {3.5, 2, 1, 3.5, 2, 0.7, 4, 2.5, 1});
    for (auto const& [least, most] : {std::pair{-10.0, 5.0}, std::pair{30.0, 40.0}})
        range(least, most, {5, 2.5, 1.3, 4.5, 2.5, 1, 5, 3, 1.3});
    for (auto const& [least, most] : {std::pair{-25.0, -10.0}, std::pair{40.0, 55.0}})
        range(least, most, {7, 3.5, 1.7, 7, 3.5, 1.3, 7, 4, 1.7});
    for (auto const& [least, most] : {std::pair{-40.0, -25.0}, std::pair{55.0, 70.0}})
        range(least, most, {9, 4, 2, 9, 4, 1.5, 9, 4.5, 2});
    return {a, b, c};
}

// Limits of active energy come from the IEC 62053 series; classes that have none there are left out.
std::vector<MeterClass> pmd_classes() {
    std::vector<MeterClass> classes;
    for (auto of : iec_meter_classes()) {
        of.source = {"IEC 61557-12", "", "active energy, by the limits of " + of.source.standard, memory};
        if (of.word.ends_with('S')) of.word.pop_back();
        classes.push_back(std::move(of));
    }
    return classes;
}

}  // namespace phasewright::chain
