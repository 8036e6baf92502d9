#include "sim/record/flight_picture.hpp"

namespace spotwright::record {

std::string draw_flight_reading(const study::FlightInstrument& /*instrument*/, const study::ReadResult& /*result*/) {
    return {};
}

}  // namespace spotwright::record
