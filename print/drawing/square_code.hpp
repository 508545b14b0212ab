// Text as a square code that a camera reads (ISO/IEC 18004), made by libqrencode. Error correction M: a
// scratch is borne.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "print/sheet/svg.hpp"

namespace phasewright::drawing {

struct SquareCode {
    int width = 0;           // modules on a side
    std::vector<bool> dark;  // row by row
};
[[nodiscard]] std::optional<SquareCode> square_code(std::string const& text);  // empty: too long for one

// In a square of `side` at `at`, its quiet zone of four modules within.
void draw_code(sheet::Drawing& drawing, SquareCode const& code, sheet::Spot at, double side);

}  // namespace phasewright::drawing
