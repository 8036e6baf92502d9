// Sensors by time of flight for the tests of their drawings.
#pragma once

#include <string>
#include <vector>

#include "sim/scenario/reader.hpp"

namespace spotwright::test::flight_drawing {

using Settings = std::vector<std::string>;

// Sensors and parts for the drawing's sake; numbers invented.
inline scenario::Scenario scenario_of(const Settings& more) {
    Settings all{"mount.reference_distance_mm=4000",
                 "mount.range_mm=[-2000,2500]",
                 "emitter.wavelength_nm=850",
                 "emitter.power_mW=30",
                 "emitter.waist_radius_um=[3000,3000]",
                 "receiver.focal_length_mm=40",
                 "receiver.aperture_mm=30",
                 "detector.full_well_e=400000",
                 "detector.read_noise_e=100",
                 "exposure.exposure_us=4",
                 "requirement.tolerance_um=30000",
                 "run.speckle=off",
                 "run.readings=8"};
    all.insert(all.end(), more.begin(), more.end());
    return scenario::parse("schema = 1\ntitle = \"Level of a <bin>\"\n[target]\nmaterial = \"white-paper\"\n",
                           "bin.toml", all);
}

// A sensor by its own settings, then a part and its light.
struct FlightCase {
    const char* name;
    Settings sensor;
    Settings part;
};

inline const Settings by_phase{"principle=phase-shift", "flight.modulation_MHz=[20,16]"};
inline const Settings four_phases{"principle=phase-shift",   "flight.modulation_MHz=[20,16,12,10]",
                                  "flight.buckets=5",        "flight.waveform=triangle",
                                  "flight.crosstalk_nW=0.2", "flight.crosstalk_path_mm=60"};
inline const Settings by_fraction{"principle=pulsed", "emitter.power_mW=300", "flight.pulses=20"};
inline const Settings by_edge{"principle=pulsed", "emitter.power_mW=300", "flight.timing=leading-edge",
                              "flight.pulses=20"};
inline const Settings by_photons{"principle=pulsed", "emitter.power_mW=0.01", "flight.timing=photon-counting",
                                 "flight.pulses=500", "flight.digitiser_ps=100"};

inline Settings joined(const Settings& one, const Settings& other) {
    Settings all = one;
    all.insert(all.end(), other.begin(), other.end());
    return all;
}

}  // namespace spotwright::test::flight_drawing
