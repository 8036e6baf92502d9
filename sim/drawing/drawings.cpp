#include "sim/drawing/drawings.hpp"

#include "sim/base/cases.hpp"
#include "sim/drawing/flight_layout.hpp"
#include "sim/drawing/flight_picture.hpp"
#include "sim/drawing/layout.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/profile.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::drawing {

std::string draw_geometry(const scenario::Scenario& s) {
    return std::visit([&s](const auto& layout) { return draw_layout(s, layout); }, sensor::layout_of(s));
}

std::string draw_mounting_figure(const scenario::Scenario& s) {
    const auto on_array = [&s](const sensor::Layout& layout) {
        constexpr double width = 640.0;
        constexpr double height = 400.0;
        constexpr double edge = 4.0;
        Canvas canvas;
        static_cast<void>(draw_mounting(canvas, s, layout, make_mounting(s, layout),
                                        {edge, edge, width - edge, height - edge}, false));
        constexpr double millimetre = 25.4 / 96.0;
        return canvas.document({width, height}, Vector2(width, height) * millimetre, s.title);
    };
    const auto timed = [](const sensor::FlightLayout&) { return std::string(); };
    return std::visit(base::Cases{on_array, timed}, sensor::layout_of(s));
}

std::string draw_reading(const sensor::Setup& setup, const measure::ReadResult& result) {
    const auto on_array = [&result](const sensor::TriangulationSetup& each) {
        return draw_profile(each, std::get<measure::TriangulationDetails>(result.details).pose, result);
    };
    const auto timed = [&result](const sensor::FlightSetup& each) { return draw_flight_reading(each, result); };
    return std::visit(base::Cases{on_array, timed}, setup);
}

}  // namespace spotwright::drawing
