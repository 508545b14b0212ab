// What both halves of the network's tests need.
#pragma once
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/wiring/network_plan.hpp"

namespace phasewright::wiring {

inline std::complex<double> phasor(double size, double degrees) {
    return std::polar(size, degrees * std::numbers::pi / 180.0);
}

inline plan::ServiceModel const wye = plan::model_of(plan::Service::four_wire_wye);

inline NetworkSeen solved(Network const& network, plan::ServiceModel const& model = wye) {
    return solve(network, model).value();  // a refusal throws, and fails the test that did not expect it
}

// The largest difference between a row of N or M and the numbers that it should be.
template <class Row>
double largest_difference(Row const& row, Row const& expected) {
    double most = 0.0;
    for (std::size_t c = 0; c < row.size(); ++c) most = std::max(most, std::abs(row[c] - expected[c]));
    return most;
}
inline double apart(Row3 const& row, Row3 const& expected) { return largest_difference(row, expected); }
inline double apart(Row4 const& row, Row4 const& expected) { return largest_difference(row, expected); }

}  // namespace phasewright::wiring
