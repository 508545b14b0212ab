#include "core/diagnosis/size_halves.hpp"

#include <algorithm>
#include <cmath>

#include "core/diagnosis/gaussians.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr double dead_shows_nothing = 0.97;  // the rest: pick-up, a link that takes only most of the current
constexpr double pick_up_share = 0.05;       // of full load: what a dead lead picks up lies below it
constexpr double pick_up_density = 0.4;      // per unit of logarithm, of that rest; above the share a thousandth
constexpr double one_says_none = 1e-4;       // two elements on one conductor, one of them without current
constexpr double joined_loop_size = 0.2;     // per unit of logarithm: half a vector sum may be anything
constexpr double joined_loop_outlier = 1e-4;
constexpr double coil_gain = 0.1;            // the same of a raw coil, whose gain nobody set
}  // namespace

SizeHalves::SizeHalves(WeighingBasis const& basis, LoadGrid const& grid)
    : basis_(basis), grid_(grid), index_(basis.outlook.size_classes.size() * basis.outlook.landings.ratios.size(), -1) {
    for (auto const& shape : basis.load.shapes)
        for (double const shift : shape.log_size_shift) shapes_shift_ = shapes_shift_ || shift != 0.0;
    for (std::size_t input = 0; input < basis.outlook.landings.model.current_inputs.size(); ++input) {
        auto const& amps = basis.group.amps[weighing::element_of(basis, input)];
        for (double const value : basis.outlook.ratio_values)
            log_current_[input].push_back(amps && *amps > 0.0 ? std::log(*amps / value) : 0.0);
    }
    row_at_.assign(grid.shapes() * 3 * 3 * basis.outlook.ratio_values.size(), -1);
}

double SizeHalves::log_current(std::size_t input, std::uint32_t ratio) const {
    return log_current_[input][basis_.outlook.ratio_value_of[ratio][input]];
}

double const* SizeHalves::of(std::uint32_t current, std::uint32_t ratio) {
    auto const size_class = basis_.outlook.size_class_of[current];
    auto& index = index_[size_class * basis_.outlook.landings.ratios.size() + ratio];
    if (index < 0) {
        index = static_cast<std::int32_t>(densities_.size());
        densities_.resize(densities_.size() + grid_.shapes());
        make(basis_.outlook.size_classes[size_class], ratio, &densities_[static_cast<std::size_t>(index)]);
    }
    return &densities_[static_cast<std::size_t>(index)];
}

// Two inputs in one loop show the same current, of any size; a loop that shows nothing, or only at one end, is odd.
double SizeHalves::of_crossed(std::size_t first, std::size_t second, std::uint32_t ratio) const {
    auto const& group = basis_.group;
    auto const one = weighing::element_of(basis_, first);
    auto const other = weighing::element_of(basis_, second);
    if (!group.amps[one] || !group.amps[other]) return 1.0;
    if (group.flowing[one] != group.flowing[other]) return one_says_none;
    if (!group.flowing[one]) return 0.03;
    double const off = log_current(first, ratio) - log_current(second, ratio);
    return joined_loop_size * ((1.0 - joined_loop_outlier) * normal_density(off, weighing::same_size_sigma) + joined_loop_outlier * 0.1);
}

SizesReadBack SizeHalves::read_back(SizeClass const& one, std::uint32_t ratio) const {
    SizesReadBack back;
    auto const& group = basis_.group;
    std::array<bool, 3> met{};
    std::array<bool, 3> empty{};
    std::array<std::size_t, 3> crossed{};
    std::size_t crossings = 0;
    for (std::size_t input = 0; input < basis_.outlook.landings.model.current_inputs.size(); ++input) {
        auto const element = weighing::element_of(basis_, input);
        if (one.path[input] == crossed_path) crossed[crossings++] = input;
        if (!group.amps[element] || one.path[input] == crossed_path) continue;
        bool const flows = group.flowing[element];
        if (one.path[input] == dead_path) {
            bool const small = *group.amps[element] < pick_up_share * basis_.observed.full_load_a;
            back.beside *= flows ? (1.0 - dead_shows_nothing) * pick_up_density * (small ? 1.0 : 1e-3) : dead_shows_nothing;
            continue;
        }
        auto const path = static_cast<std::size_t>(one.path[input]);
        if (met[path] && flows == empty[path]) back.beside *= one_says_none;
        if (flows) {
            double const size = log_current(input, ratio);
            if (!back.log_amps[path]) {
                back.log_amps[path] = size;
                back.input[path] = input;
            } else {
                back.beside *= weighing::same_size_density(size - *back.log_amps[path]);
            }
        }
        empty[path] = !met[path] ? !flows : empty[path] && !flows;
        met[path] = true;
    }
    if (crossings == 2) back.beside *= of_crossed(crossed[0], crossed[1], ratio);
    std::size_t unloaded = 0;
    std::size_t seen = 0;
    for (std::size_t path = 0; path < basis_.outlook.landings.model.live.size(); ++path) {
        back.empty[path] = met[path] && empty[path];
        unloaded += back.empty[path] ? 1 : 0;
        seen += met[path] ? 1 : 0;
    }
    auto const& load = basis_.load.load;
    if (unloaded == 0) return back;
    double const each = std::pow(load.unloaded_phase, static_cast<double>(unloaded));
    back.beside *= unloaded == seen ? load.unloaded_site * std::pow(0.3, static_cast<double>(seen - 1)) * 3.0 + each : each;
    return back;
}

std::size_t SizeHalves::row_of(std::size_t shape, std::size_t path, std::size_t input, std::uint8_t value, double log_amps) {
    std::size_t const place = shapes_shift_ ? path : 0;
    auto& known = row_at_[((shape * 3 + place) * 3 + input) * basis_.outlook.ratio_values.size() + value];
    if (known < 0) {
        known = static_cast<std::int32_t>(rows_.size());
        rows_.resize(rows_.size() + grid_.level_points());
        grid_.row_of_size(shape, path, log_amps, &rows_[static_cast<std::size_t>(known)]);
    }
    return static_cast<std::size_t>(known);
}

void SizeHalves::make(SizeClass const& one, std::uint32_t ratio, double* out) {
    auto const back = read_back(one, ratio);
    auto const& values = basis_.outlook.ratio_value_of[ratio];
    for (std::size_t s = 0; s < grid_.shapes(); ++s) {
        if (one.coil) {  // sizes tell nothing but through the spread of the phases
            std::size_t count = 0;
            for (auto const& size : back.log_amps) count += size ? 1 : 0;
            out[s] = back.beside * std::pow(coil_gain, static_cast<double>(count));
            continue;
        }
        std::array<std::size_t, 3> places{};
        for (std::size_t path = 0; path < 3; ++path)
            if (back.log_amps[path])
                places[path] = row_of(s, path, back.input[path], values[back.input[path]], *back.log_amps[path]);
        std::array<double const*, 3> rows{};  // only now: making a row may move all of them
        for (std::size_t path = 0; path < 3; ++path)
            if (back.log_amps[path]) rows[path] = &rows_[places[path]];
        out[s] = back.beside * grid_.size_density(s, rows, back.log_amps);
    }
}

}  // namespace phasewright::diagnosis
