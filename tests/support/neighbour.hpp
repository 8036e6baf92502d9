// A second sensor in the view of one by time of flight.
#pragma once

#include <string>
#include <vector>

namespace spotwright::support {

/// Settings of a phase-shift sensor 4 m before its part, with a second sensor's beam on its own; the second sensor
/// sends no light until it has a power.
inline std::vector<std::string> phase_shift_beside_another() {
    return {"principle=phase-shift",
            "mount.reference_distance_mm=4000",
            "mount.range_mm=[-1500,1500]",
            "emitter.wavelength_nm=850",
            "emitter.power_mW=5",
            "emitter.waist_radius_um=[3000,3000]",
            "receiver.focal_length_mm=40",
            "receiver.aperture_mm=30",
            "detector.full_well_e=4000000",
            "flight.modulation_MHz=[20]",
            "flight.detector_diameter_mm=1",
            "exposure.exposure_us=50",
            "requirement.tolerance_um=30000",
            "neighbour.wavelength_nm=850",
            "neighbour.position_mm=[0, 0]",
            "neighbour.period_us=1000",
            "neighbour.exposure_us=1000"};
}

}  // namespace spotwright::support
