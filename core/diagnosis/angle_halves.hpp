// The angle half of a hypothesis's density: the lags read back through its taps and CTs, under the load model. It is
// computed once for each angle class (outlook.hpp) and looked up after that.
#pragma once
#include <cstdint>
#include <vector>

#include "core/diagnosis/weighing.hpp"

namespace phasewright::diagnosis {

// The lags that an angle class reads back, and whose they are.
struct LagsReadBack {
    PathLags lag_deg;
    std::array<std::size_t, 3> element{};  // of the lag; meaningless where there is none
    double beside = 1.0;                   // density of what the load does not explain: dead, crossed and doubled inputs
};

class AngleHalves {
   public:
    AngleHalves(WeighingBasis const& basis, LoadGrid const& grid, LagVariant const& lags);

    // Densities per load shape, degrees^-n.
    [[nodiscard]] double const* of(std::uint32_t angle_class);
    [[nodiscard]] LagsReadBack read_back(AngleClass const& one) const;

   private:
    void make(AngleClass const& one, double* out);
    // Where in rows_ the row of this lag begins.
    std::size_t row_of(std::size_t shape, std::size_t path, std::size_t input, AngleClass const& one, double lag_deg);
    void weigh_totals(AngleClass const& one, double* out) const;

    WeighingBasis const& basis_;
    LoadGrid const& grid_;
    LagVariant const& lags_;
    bool shapes_shift_ = false;          // rows depend on the path
    std::vector<std::int32_t> index_;    // by angle class; -1: not made yet
    std::vector<double> densities_;
    std::vector<std::int32_t> row_at_;   // by shape, path, input, sign and step
    std::vector<double> rows_;
};

}  // namespace phasewright::diagnosis
