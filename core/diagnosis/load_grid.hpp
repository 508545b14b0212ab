// The load model as tables: the site's mean angle and its level are summed over a grid, and what each measured path says
// of them is one row of that grid, so the density of many read-backs of the same readings is a product of rows. Sums of
// products of normals over an even grid converge faster than any power of its step (Trefethen, Weideman: The
// exponentially convergent trapezoidal rule, SIAM Review 56 (2014) 385); steps here are below the narrowest width.
#pragma once
#include <array>
#include <cstddef>
#include <vector>

#include "core/diagnosis/load_model.hpp"

namespace phasewright::diagnosis {

// How far the angle of one element can be trusted.
struct AngleTrust {
    double noise_deg = 1.0;
    double outlier_weight = 0.0;  // any angle instead
};

class LoadGrid {
   public:
    // Element k of `trust` is what row_of_lag(..., k, ...) uses.
    LoadGrid(LoadModel const& model, std::vector<AngleTrust> const& trust);

    [[nodiscard]] std::size_t shapes() const { return angle_.size(); }
    [[nodiscard]] std::size_t angle_points(std::size_t shape) const { return angle_[shape].prior.size(); }
    [[nodiscard]] std::size_t level_points() const { return level_mid_.size(); }
    [[nodiscard]] double shape_weight(std::size_t shape) const { return model_.shapes[shape].weight; }

    // Density of a lag of `path`, in degrees, per grid value of the site's mean angle.
    void row_of_lag(std::size_t shape, std::size_t path, std::size_t element, double lag_deg, double* out) const;
    // Density of the logarithm of a current of `path`, per grid value of the site's level.
    void row_of_size(std::size_t shape, std::size_t path, double log_amps, double* out) const;

    // Over the site's mean angle, of up to three rows (null: not measured).
    [[nodiscard]] double angle_density(std::size_t shape, std::array<double const*, 3> const& rows) const;
    // Over the site's level; `log_amps` holds the same values as the rows, for shapes too narrow for the grid.
    [[nodiscard]] double size_density(std::size_t shape, std::array<double const*, 3> const& rows, PathSizes const& log_amps) const;

    // Sum over shapes, straight from lags and sizes; `element[path]` is whose trust a lag has.
    [[nodiscard]] double joint_density(PathLags const& lags, std::array<std::size_t, 3> const& element, PathSizes const& log_amps);

    // No density of one lag, or of one size, is larger than these.
    [[nodiscard]] double largest_lag_density() const { return largest_lag_; }
    [[nodiscard]] double largest_size_density() const { return largest_size_; }

   private:
    struct AngleTable {
        double step_deg = 3.0;
        std::vector<double> prior;                // probability of each grid value of the mean angle
        std::vector<std::vector<double>> of_own;  // per element: density of a deviation, four values a step
    };
    [[nodiscard]] AngleTable table_of(LoadShape const& shape, std::vector<AngleTrust> const& trust);
    [[nodiscard]] double narrow_size_density(std::size_t shape, PathSizes const& log_amps) const;
    [[nodiscard]] double own_size_density(double deviation) const;

    LoadModel const& model_;
    double low_, high_;
    std::vector<AngleTable> angle_;
    std::vector<double> level_mid_;  // natural logarithm of amperes
    double level_weight_ = 0.0;      // probability of each grid value
    double size_step_ = 0.02;
    std::vector<double> of_own_size_;
    double largest_lag_ = 0.0, largest_size_ = 0.0;
    std::vector<double> scratch_;
};

}  // namespace phasewright::diagnosis
