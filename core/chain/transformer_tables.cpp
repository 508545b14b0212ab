// The figures of docs/reference/accuracy-classes.md, sections 1 to 3. A change here is a change there.
#include "core/chain/transformer_class.hpp"

namespace phasewright::chain {

namespace {
using enum plan::Footing;

TransformerClass iec_ct(std::string word, std::vector<ClassPoint> points) {
    return {.kind = TransformerKind::current,
            .word = std::move(word),
            .points = std::move(points),
            .stretches = true,
            .least_burden_va = 1.0,
            .source = {"IEC 61869-2", "2012", "5.6.201, Tables 201 and 202", memory}};
}

// Classes 3 and 5 hold from half the rated output and have no phase limit.
TransformerClass coarse_ct(std::string word, double limit) {
    auto of =
        iec_ct(std::move(word), {{50, limit, std::nullopt, memory}, {120, limit, std::nullopt, memory}});
    of.least_burden_share = 0.5;
    return of;
}

TransformerClass ieee_ct(std::string word, std::vector<ClassPoint> points, std::string edition) {
    return {.kind = TransformerKind::current,
            .word = std::move(word),
            .shape = LimitShape::parallelogram,
            .points = std::move(points),
            .stretches = true,
            .least_burden_share = 0.0,
            .least_burden_va = 1.0,  // E-0.04: the least burden that the standard names
            .source = {"IEEE C57.13", std::move(edition), "metering accuracy classes", memory}};
}

TransformerClass iec_vt(std::string word, double limit, std::optional<double> phase_min) {
    return {.kind = TransformerKind::voltage,
            .word = std::move(word),
            .points = {{80, limit, phase_min, memory}, {120, limit, phase_min, memory}},
            .source = {"IEC 61869-3", "2011", "5.6.301", memory}};
}

TransformerClass ieee_vt(std::string word, double band) {
    return {.kind = TransformerKind::voltage,
            .word = std::move(word),
            .shape = LimitShape::parallelogram,
            .points = {{90, band, std::nullopt, memory}, {110, band, std::nullopt, memory}},
            .least_burden_share = 0.0,
            .source = {"IEEE C57.13", "", "metering accuracy classes", memory}};
}
}  // namespace

// Rows of 0.1, 0.2, 0.5 and 1 were read in an application note that quotes IEC 60044-1, whose limits are the
// same; the S rows are from memory.
std::vector<TransformerClass> iec_ct_classes() {
    return {
        iec_ct("0.1", {{5, 0.4, 15, seen}, {20, 0.2, 8, seen}, {100, 0.1, 5, seen}, {120, 0.1, 5, seen}}),
        iec_ct("0.2S", {{1, 0.75, 30, memory},
                        {5, 0.35, 15, memory},
                        {20, 0.2, 10, memory},
                        {100, 0.2, 10, memory},
                        {120, 0.2, 10, memory}}),
        iec_ct("0.2",
               {{5, 0.75, 30, seen}, {20, 0.35, 15, seen}, {100, 0.2, 10, seen}, {120, 0.2, 10, seen}}),
        iec_ct("0.5S", {{1, 1.5, 90, memory},
                        {5, 0.75, 45, memory},
                        {20, 0.5, 30, memory},
                        {100, 0.5, 30, memory},
                        {120, 0.5, 30, memory}}),
        iec_ct("0.5", {{5, 1.5, 90, seen}, {20, 0.75, 45, seen}, {100, 0.5, 30, seen}, {120, 0.5, 30, seen}}),
        iec_ct("1", {{5, 3.0, 180, seen}, {20, 1.5, 90, seen}, {100, 1.0, 60, seen}, {120, 1.0, 60, seen}}),
        coarse_ct("3", 3.0),
        coarse_ct("5", 5.0),
    };
}

std::vector<TransformerClass> ieee_ct_classes() {
    std::optional<double> const none;
    return {
        ieee_ct("1.2", {{10, 2.4, none, memory}, {100, 1.2, none, memory}}, ""),
        ieee_ct("0.6", {{10, 1.2, none, memory}, {100, 0.6, none, memory}}, ""),
        ieee_ct("0.3", {{10, 0.6, none, memory}, {100, 0.3, none, memory}}, ""),
        ieee_ct("0.15", {{5, 0.30, none, memory}, {100, 0.15, none, memory}}, "2016"),
        ieee_ct("0.15S", {{5, 0.15, none, memory}, {100, 0.15, none, memory}}, "2016"),
    };
}

std::vector<TransformerClass> vt_classes() {
    return {iec_vt("0.1", 0.1, 5.0),
            iec_vt("0.2", 0.2, 10.0),
            iec_vt("0.5", 0.5, 20.0),
            iec_vt("1", 1.0, 40.0),
            iec_vt("3", 3.0, std::nullopt),
            ieee_vt("0.3", 0.3),
            ieee_vt("0.6", 0.6),
            ieee_vt("1.2", 1.2)};
}

}  // namespace phasewright::chain
