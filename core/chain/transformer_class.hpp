// What the class on a transformer's plate lets it be wrong by.
//   IEC 61869   a limit of the ratio error and one of the phase displacement, at listed currents (or
//   voltages); two
//               errors that know nothing of each other
//   IEEE C57.13 a parallelogram: the ratio correction factor RCF and the transformer correction factor TCF
//   are both
//               within 1 +- b, TCF = RCF - gamma / 2600 for a CT and RCF + gamma / 2600 for a VT, gamma in
//               minutes
// The standards speak at the listed points only. What is said between them is an engineering choice, and
// labelled so; below the lowest, above the highest and outside of the burden range nothing is said, and that
// is an answer. docs/reference/accuracy-classes.md has every figure with its source.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/chain/citation.hpp"

namespace phasewright::chain {

inline constexpr double crad_per_minute = 0.0290888208665722;  // hundredths of a radian; pi / 108
inline constexpr double minutes_of_parallelogram =
    2600.0;  // IEEE C57.13; exactly 3438 / tan(acos 0.6) = 2578

enum class TransformerKind { current, voltage };
enum class LimitShape {
    separate,       // ratio and phase, each with its own limit
    parallelogram,  // RCF and TCF within the same band
};

// The limits at one listed share of the rated primary current (or voltage).
struct ClassPoint {
    double percent = 100.0;           // of the rated current or voltage
    double ratio_percent = 0.0;       // plus or minus; of a parallelogram: the band of RCF and TCF
    std::optional<double> phase_min;  // plus or minus, minutes; empty: the class has none, or a parallelogram
    plan::Footing footing = plan::Footing::memory;
    friend bool operator==(ClassPoint const&, ClassPoint const&) = default;
};

struct TransformerClass {
    TransformerKind kind = TransformerKind::current;
    std::string word;  // "0.5S"
    LimitShape shape = LimitShape::separate;
    std::vector<ClassPoint> points;  // by rising percent
    bool stretches = false;  // a higher continuous current on the plate carries the last point up to itself
    double least_burden_share = 0.25;  // of the rated output
    double most_burden_share = 1.0;
    double least_burden_va = 0.0;  // the range never reaches below this
    Citation source;
    friend bool operator==(TransformerClass const&, TransformerClass const&) = default;
};

// Between two listed points.
enum class Interpolation {
    straight,    // a straight line over the current; the choice where nothing else is said
    logarithm,   // a straight line over its logarithm: narrower
    lower_point  // the limit of the lower one: the widest
};

enum class NotStated {
    stated,
    no_class,      // not named, or not in the tables
    below_lowest,  // less current than the lowest listed
    above_highest,
    under_burden,  // less burden than the class holds for
    over_burden,
    no_phase_limit,      // a ratio limit, and nothing on phase
    outside_its_factors  // a power factor or a temperature that the class is silent on
};
[[nodiscard]] std::string_view words_of(
    NotStated why);  // "the class says nothing below its lowest listed current"

struct BurdenRange {  // where the class holds
    double least_va = 0.0;
    double most_va = 0.0;
};
// The range of a rated output.
[[nodiscard]] BurdenRange burden_range(TransformerClass const& of, double rated_va);

struct AtLoad {
    double share_of_rated = 1.0;      // of the primary current or voltage
    std::optional<double> burden_va;  // both, or the burden is not held against the class
    std::optional<double> rated_va;
    std::optional<double> most_percent;  // continuous current on the plate
};

struct TransformerLimits {
    std::optional<double> ratio_percent;  // empty: not stated here, and `why`
    std::optional<double> phase_min;
    LimitShape shape = LimitShape::separate;
    NotStated why = NotStated::stated;  // no_phase_limit goes with a ratio limit
    bool between_points = false;        // an engineering choice made it
    bool burden_held = false;           // the burden was known, and is within the range
    Citation source;                    // its footing is that of the weakest point used
};
[[nodiscard]] TransformerLimits limits_at(TransformerClass const& of, AtLoad const& load,
                                          Interpolation between = Interpolation::straight);

// A class as a plate writes it: "0.5", "cl. 0.5S", "Class 1", "0.3 B-0.1", "0.15S E-0.04".
struct WrittenClass {
    std::string word;    // "0.3"
    std::string burden;  // "B-0.1"; empty: not said there
};
[[nodiscard]] WrittenClass written_class(std::string_view text);

[[nodiscard]] std::vector<TransformerClass> iec_ct_classes();   // IEC 61869-2
[[nodiscard]] std::vector<TransformerClass> ieee_ct_classes();  // IEEE C57.13
[[nodiscard]] std::vector<TransformerClass> vt_classes();       // IEC 61869-3 and IEEE C57.13

}  // namespace phasewright::chain
