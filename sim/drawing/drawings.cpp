#include "sim/drawing/drawings.hpp"

#include "sim/drawing/flight_layout.hpp"
#include "sim/drawing/flight_picture.hpp"
#include "sim/drawing/layout.hpp"
#include "sim/drawing/profile.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::drawing {

std::string draw_geometry(const scenario::Scenario& s) {
    if (s.principle == scenario::Principle::triangulation) return draw_layout(s, sensor::make_layout(s));
    return draw_flight_layout(s, sensor::make_flight_layout(s));
}

std::string draw_reading(const sensor::Sensor& sensor, const measure::ReadResult& result) {
    if (const auto* flight = std::get_if<sensor::FlightInstrument>(&sensor))
        return draw_flight_reading(*flight, result);
    return draw_profile(std::get<sensor::Instrument>(sensor), result.pose, result);
}

}  // namespace spotwright::drawing
