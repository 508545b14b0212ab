// The size half of a hypothesis's density: the amperes read back through its CTs and ratios, under the load model, and
// what dead, crossed and doubled inputs make of them.
#pragma once
#include <cstdint>
#include <vector>

#include "core/diagnosis/weighing.hpp"

namespace phasewright::diagnosis {

struct SizesReadBack {
    PathSizes log_amps;
    std::array<std::size_t, 3> input{};  // that tells of the path; meaningless where there is none
    std::array<bool, 3> empty{};         // a CT is there and shows no current
    double beside = 1.0;
};

class SizeHalves {
   public:
    SizeHalves(WeighingBasis const& basis, LoadGrid const& grid);

    // Densities per load shape, per unit of logarithm.
    [[nodiscard]] double const* of(std::uint32_t current, std::uint32_t ratio);
    [[nodiscard]] SizesReadBack read_back(SizeClass const& one, std::uint32_t ratio) const;

   private:
    void make(SizeClass const& one, std::uint32_t ratio, double* out);
    std::size_t row_of(std::size_t shape, std::size_t path, std::size_t input, std::uint8_t value, double log_amps);
    [[nodiscard]] double of_crossed(std::size_t first, std::size_t second, std::uint32_t ratio) const;
    [[nodiscard]] double log_current(std::size_t input, std::uint32_t ratio) const;

    WeighingBasis const& basis_;
    LoadGrid const& grid_;
    bool shapes_shift_ = false;
    std::array<std::vector<double>, 3> log_current_;  // by input and ratio value: of the current that the ratio reads back
    std::vector<std::int32_t> index_;  // by size class and ratio; -1: not made yet
    std::vector<double> densities_;
    std::vector<std::int32_t> row_at_;
    std::vector<double> rows_;
};

}  // namespace phasewright::diagnosis
