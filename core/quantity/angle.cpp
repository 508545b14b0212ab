#include "core/quantity/angle.hpp"

#include <cmath>

namespace phasewright::quantity {

double wrapped_deg(double angle_deg) {
    if (angle_deg > -180.0 && angle_deg <= 180.0) return angle_deg;
    double const turned = std::remainder(angle_deg, 360.0);
    return turned <= -180.0 ? turned + 360.0 : turned;
}

}  // namespace phasewright::quantity
