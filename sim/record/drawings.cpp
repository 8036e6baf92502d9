#include "sim/record/drawings.hpp"

#include "sim/record/flight_layout_drawing.hpp"
#include "sim/record/flight_picture.hpp"
#include "sim/record/layout_drawing.hpp"
#include "sim/record/profile_drawing.hpp"
#include "sim/study/flight_layout.hpp"
#include "sim/study/layout.hpp"

namespace spotwright::record {

std::string draw_geometry(const scenario::Scenario& s) {
    if (s.principle == scenario::Principle::triangulation) return draw_layout(s, study::make_layout(s));
    return draw_flight_layout(s, study::make_flight_layout(s));
}

std::string draw_reading(const study::Sensor& sensor, const study::ReadResult& result) {
    if (const auto* flight = std::get_if<study::FlightInstrument>(&sensor)) return draw_flight_reading(*flight, result);
    return draw_profile(std::get<study::Instrument>(sensor), result.pose, result);
}

}  // namespace spotwright::record
