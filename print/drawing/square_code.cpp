#include "print/drawing/square_code.hpp"

#include <memory>

#include <qrencode.h>

#include "core/quantity/text.hpp"

namespace phasewright::drawing {

namespace {
constexpr int quiet = 4;

struct Free {
    void operator()(QRcode* code) const { QRcode_free(code); }
};
}  // namespace

std::optional<SquareCode> square_code(std::string const& text) {
    // A zero byte would end it early.
    if (text.empty() || text.find('\0') != std::string::npos) return std::nullopt;
    std::unique_ptr<QRcode, Free> const made(QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M));
    if (made == nullptr) return std::nullopt;
    SquareCode code{.width = made->width, .dark = {}};
    auto const modules = static_cast<std::size_t>(made->width) * static_cast<std::size_t>(made->width);
    code.dark.reserve(modules);
    for (std::size_t k = 0; k < modules; ++k) code.dark.push_back((made->data[k] & 1U) != 0);
    return code;
}

void draw_code(sheet::Drawing& drawing, SquareCode const& code, sheet::Spot at, double side) {
    double const module = side / (code.width + 2 * quiet);
    auto const number = [](double value) { return quantity::fixed(value, 3); };
    std::string path;
    for (int row = 0; row < code.width; ++row)
        for (int column = 0; column < code.width;) {
            auto const dark = [&](int at_column) {
                return code.dark[static_cast<std::size_t>(row) * static_cast<std::size_t>(code.width) +
                                 static_cast<std::size_t>(at_column)];
            };
            int run = 0;
            while (column + run < code.width && dark(column + run)) ++run;
            if (run > 0)
                path += "M" + std::to_string(column + quiet) + " " + std::to_string(row + quiet) + "h" +
                        std::to_string(run) + "v1h-" + std::to_string(run) + "z";
            column += run + 1;
        }
    drawing.body += R"(<path class="code" shape-rendering="crispEdges" transform="translate()" +
                    number(at.x) + " " + number(at.y) + ") scale(" + number(module) + ")\" d=\"" + path +
                    R"(" fill="currentColor"/>)";
    double const near = module * quiet, far = side - near;
    sheet::Spot const corners[] = {{at.x + near, at.y + near},
                                   {at.x + far, at.y + near},
                                   {at.x + far, at.y + far},
                                   {at.x + near, at.y + far}};
    for (std::size_t k = 0; k < 4; ++k)
        drawing.segments.push_back({corners[k], corners[(k + 1) % 4], module});
}

}  // namespace phasewright::drawing
