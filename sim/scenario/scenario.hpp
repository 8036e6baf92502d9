// What the user writes, as plain structs in SI units. Every default of the program stands here and nowhere else.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/markings.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/principle.hpp"

namespace spotwright::scenario {

using base::degree, base::kHz, base::kPa, base::MHz, base::mm, base::ms, base::mW, base::nm, base::ns, base::ps,
    base::um, base::us;

// Names of materials and files are resolved when a scenario is read; what they name stands beside them.

/// In-plane value first, out-of-plane second (or near first, far second, for a range).
using Pair = std::array<double, 2>;

enum class ExposureMode { fixed, automatic };
enum class ShapeKind { plane, step, cylinder, sphere, groove, wave, relief, plate, post };
/// How an edge or an axis of a shape lies: square to the plane of the mounting, or parallel to it.
enum class Direction { across, parallel };
enum class Curvature { convex, concave };
enum class Light { led, daylight, incandescent, none };
enum class PeakMethod { centroid, gauss3, parabola3, zero_crossing, fit };
enum class PeakRule { strongest, nearest, farthest, index };
enum class BackgroundMethod { laser_off, level };
enum class OnInvalid { mark, hold };
enum class SpeckleModel { coherent, statistical, off };
enum class LightModel { spot, ray };
enum class ApertureShape { round, rectangular };
enum class Waveform { sine, square, triangle };
/// What the calibration of a phase-shift sensor takes out: a constant, or the error at every place of the range.
enum class FlightCalibration { offset, full };
/// When a second sensor lights the part: by a clock of its own, at the same time, or in turn with this one.
enum class NeighbourTiming { free, together, alternating };
enum class PulseTiming { leading_edge, constant_fraction, photon_counting };

struct Mount {
    double reference_distance = 50.0 * mm;
    Pair range{-5.0 * mm, 5.0 * mm};
    Pair tilt{0.0, 0.0};
    std::optional<double> baseline;  ///< lens centre from the beam, square to the normal; none: by the receiver's angle
    bool operator==(const Mount&) const = default;
};

/// The sensor's body: a box whose front is square to the mounting normal, at the emitter face. Width 0: not known.
struct Housing {
    double width = 0.0;          ///< along x
    double depth = 0.0;          ///< along the mounting normal, away from the part
    double thickness = 0.0;      ///< along y
    double beam_position = 0.0;  ///< where the beam leaves, from the side that is away from the receiver
    Pair window{0.0, 0.0};       ///< widths of the emitter's and of the receiver's window
};

struct Emitter {
    double wavelength = 655.0 * nm;
    double power = 0.3 * mW;
    double linewidth = 0.5 * nm;
    Pair waist_radius{40.0 * um, 40.0 * um};
    double waist_displacement = 0.0;
    double beam_quality = 1.1;
    double angle = 0.0;
    double out_of_plane = 0.0;
    double pointing_jitter = 0.0;         ///< rms, about the emitter face in the plane of the mounting. [rad]
    double polarisation_degree = 0.0;     ///< share of the light that is linearly polarised. [1]
    double polarisation_direction = 0.0;  ///< of its electric field about the beam, from the plane of the mounting
    bool operator==(const Emitter&) const = default;
};

/// The stop at the lens. Full widths: a round one's diameter is both of them. [m]
struct Aperture {
    ApertureShape shape = ApertureShape::round;
    double in_plane = 4.0 * mm;
    double out_of_plane = 4.0 * mm;
    bool operator==(const Aperture&) const = default;
};

[[nodiscard]] constexpr Aperture round_aperture(double diameter) {
    return {ApertureShape::round, diameter, diameter};
}

struct Receiver {
    double angle = 30.0 * degree;
    double distance = 45.0 * mm;
    double focal_length = 18.0 * mm;
    Aperture aperture;
    double transmission = 0.6;
    double filter_width = 20.0 * nm;
    std::optional<double> detector_tilt;  ///< none: Scheimpflug

    // The lens as it is, at the emitter's wavelength; waves at the rim of the aperture.
    double spherical_waves = 0.0;       ///< W040; + as of a simple converging lens. [1]
    double coma_waves = 0.0;            ///< W131, in the plane of the mounting. [1]
    double astigmatism_waves = 0.0;     ///< W222, likewise. [1]
    double focus_error = 0.0;           ///< of the array from where it belongs, + away from the lens
    double tilt_error = 0.0;            ///< of the array, from `detector_tilt`
    double ghost_share = 0.0;           ///< of the light, that filter and window mirror twice. [1]
    double ghost_shift = 0.0;           ///< of its image along the array, + towards higher pixels
    double ghost_blur = 0.0;            ///< radius of its blur
    std::optional<double> filter_edge;  ///< from 90 % to 10 % of the filter's light; none: it passes the emitter's
    bool operator==(const Receiver&) const = default;
};

/// How far specimens of the sensor scatter about what `Receiver` says, plus or minus: each is drawn by the device seed.
struct Making {
    double focus = 0.0;              ///< of the array along the axis. [m]
    double tilt = 0.0;               ///< of the array. [rad]
    double spherical_waves = 0.0;    ///< [1]
    double coma_waves = 0.0;         ///< [1]
    double astigmatism_waves = 0.0;  ///< [1]
    bool operator==(const Making&) const = default;
};

/// A glass plate in front of the sensor, square to the mounting normal, and dirt on the receiver's window.
struct Cover {
    double glass = 0.0;          ///< thickness; 0: none. [m]
    double index = 1.515;        ///< of crown glass
    bool calibrated = false;     ///< it was there when the sensor was calibrated
    double dirt_share = 0.0;     ///< of the window's area. [1]
    double haze_share = 0.5;     ///< of the light that meets dirt: scattered forwards. [1]
    double haze = 5.0 * degree;  ///< standard deviation of that scatter about each axis. [rad]
    bool operator==(const Cover&) const = default;
};

struct Detector {
    std::int64_t pixels = 1024;
    double pitch = 7.0 * um;
    double height = 60.0 * um;
    double quantum_efficiency = 0.35;
    double full_well = 200000.0;
    double read_noise = 20.0;
    double dark_current = 2000.0;
    std::int64_t bits = 12;
    double response_nonuniformity = 0.005;
    double offset_nonuniformity = 5.0;
    std::int64_t device_seed = 1;
    bool operator==(const Detector&) const = default;
};

struct Exposure {
    ExposureMode mode = ExposureMode::fixed;
    double exposure = 2.5 * us;
    Pair period{125.0 * us, 125.0 * us};  ///< shortest, longest
    double level = 0.6;
    double step_ratio = 2.0;   ///< automatic: most by which the exposure changes from one reading to the next
    double loop_gain = 1.0;    ///< automatic: share of the error, on a logarithmic scale, that a change takes away
    std::int64_t latency = 0;  ///< automatic: readings taken between a frame and the exposure that answers it
};

// Shapes. Their reference surface is the plane that stands at the part's displacement; heights count from it towards
// the sensor, positions from the point of it that the beam's axis lights, + towards x (across) or y (parallel).

struct Step {
    double height = 1.0 * mm;
    double position = 0.0;  ///< of the edge; the part is `height` higher beyond it
    Direction edge = Direction::across;
};

struct Cylinder {
    double radius = 10.0 * mm;
    Curvature curvature = Curvature::convex;
    Direction axis = Direction::across;
    double position = 0.0;  ///< of the crest, or of the bottom of a concave one
};

struct Sphere {
    double radius = 10.0 * mm;
    Curvature curvature = Curvature::convex;
    Pair position{0.0, 0.0};  ///< of the crest or bottom: x, y
};

struct Groove {
    double depth = 0.5 * mm;
    double opening = 90.0 * degree;  ///< between its two faces
    Direction axis = Direction::across;
    double position = 0.0;  ///< of the bottom
};

struct Wave {
    double amplitude = 0.05 * mm;
    double period = 2.0 * mm;
    Direction axis = Direction::across;  ///< of the crests
    double position = 0.0;               ///< of a crest
};

/// Heights read from the file of a relief, the side towards the sensor positive. [m]
struct HeightTable {
    std::vector<double> x;       ///< ascending, at least two. [m]
    std::vector<double> y;       ///< ascending, at least two; empty for a profile. [m]
    std::vector<double> height;  ///< of a profile at x; of a map at (x[i], y[k]) at i * y.size() + k. [m]
};

struct Relief {
    std::string file;                    ///< beside the scenario
    Direction axis = Direction::across;  ///< along which a profile stays the same; not used by a map
    Pair position{0.0, 0.0};             ///< of the file's origin: x, y
    HeightTable heights;                 ///< read from the file
};

struct Plate {
    double thickness = 1.0 * mm;
    std::string backing = "none";  ///< material behind the back face
    double gap = 0.0;              ///< of air between back face and backing
    std::optional<Material> backing_made_of;
};

/// A block that stands out of a plane: a pin, a pad, a component on a board.
struct Post {
    Pair width{0.5 * mm, 0.5 * mm};  ///< x, y
    double height = 0.5 * mm;
    Pair position{0.0, 0.0};  ///< of its middle: x, y
};

/// Pieces of surface, one after the other along the motion, over and over. Empty: the target's material alone.
struct Segments {
    std::vector<std::string> material;
    std::vector<double> length;
    std::vector<double> height;     ///< above the part's surface, + towards the sensor; empty: none stands out
    double start = 0.0;             ///< place along the pieces that the beam's axis lights at time 0
    std::vector<Material> made_of;  ///< one for each piece
};

struct Target {
    std::string material;
    Material made_of;
    ShapeKind shape = ShapeKind::plane;
    Pair tilt{0.0, 0.0};
    double lay = 0.0;
    double displacement = 0.0;
    std::optional<double> temperature;  ///< of a hot part, which glows; none: cold. [K]
    Pair patch{0.0, 0.0};  ///< place of its surface that the beam's axis lights: x, y; another place, another speckle
    Step step;
    Cylinder cylinder;
    Sphere sphere;
    Groove groove;
    Wave wave;
    Relief relief;
    Plate plate;
    Post post;
    Segments segments;
    Pattern pattern;
    Texture texture;
    FeedMarks feed_marks;
};

/// Places of a moving part at rising times, from the file of a path. [s], [m]
struct MotionPath {
    std::vector<double> time;
    std::vector<double> along;   ///< away from the sensor along the mounting normal
    std::vector<double> across;  ///< towards x
};

/// How the part moves while it is read. All of it adds up.
struct Motion {
    double along = 0.0;                 ///< away from the sensor along the mounting normal. [m/s]
    Pair across{0.0, 0.0};              ///< towards x, towards y. [m/s]
    double vibration = 0.0;             ///< amplitude along the mounting normal. [m]
    double vibration_frequency = 50.0;  ///< [Hz]
    double rotation = 0.0;              ///< of a cylinder about its axis. [1/s]
    double eccentricity = 0.0;          ///< of that axis from the cylinder's own. [m]
    double eccentricity_angle = 0.0;    ///< where the high spot is at time 0, from the beam, with the rotation. [rad]
    std::string path;                   ///< a file beside the scenario
    std::int64_t sub_exposures = 1024;  ///< stretches of an exposure that are followed, at most
    double mount_vibration = 0.0;       ///< of the sensor, amplitude along the mounting normal. [m]
    double mount_vibration_frequency = 50.0;  ///< [Hz]
    MotionPath places;                        ///< read from the file; empty without one
};

/// What the warmth of the sensor changes, from 20 C on, at which it was calibrated.
struct Thermal {
    double housing_expansion = 23.6 * 1e-6;   ///< of all distances of the mounting. [1/K]
    double array_expansion = 2.5 * 1e-6;      ///< of the pixels. [1/K]
    double focal_length_change = 2.4 * 1e-6;  ///< relative. [1/K]
    double lens_shift = 0.0;   ///< square to the receiver axis in the plane of the mounting, + towards x. [m/K]
    double array_shift = 0.0;  ///< along the array, + towards higher pixels. [m/K]
    double pointing = 0.0;     ///< of the beam about the emitter face, + towards the receiver. [rad/K]
    double wavelength_change = 0.2 * nm;  ///< [m/K]
    double bending = 0.0;                 ///< of the receiver about the emitter face, + away from the beam. [rad/K]
    double power_change = 0.0;            ///< relative, of an emitter without a monitor. [1/K]
    double warm_up = 0.0;                 ///< rise of the running sensor over one just switched on. [K]
    Pair warm_up_times{3.0 * base::minute, 25.0 * base::minute};  ///< of a fast and a slow part of it. [s]
    double warm_up_share = 0.4;                                   ///< of the fast part. [1]
    bool operator==(const Thermal&) const = default;
};

/// How much colder a sensor is that has run for a time than a warm one, (temperature.8). [K]
[[nodiscard]] double warm_up_left(const Thermal& thermal, double running);

/// Temperatures at rising times, from the file of a path. [s], [K]
struct TemperaturePath {
    std::vector<double> time;
    std::vector<double> temperature;
};

struct Surroundings {
    double temperature = base::room_temperature;
    std::string temperature_path;         ///< a file beside the scenario
    double running = 1e4 * base::minute;  ///< since the sensor was switched on. [s]
    double pressure = 101.325 * kPa;
    double humidity = 0.5;  ///< relative. [1]
    double illuminance = 500.0;
    Light light = Light::led;
    double lamp_share = 0.0;                   ///< of the illuminance, from one lamp or the sun. [1]
    Pair lamp_direction{-45.0 * degree, 0.0};  ///< from the mounting normal, signed as the tilt of a part
    double lamp_half_angle = 0.27 * degree;    ///< under which the part sees it; that of the sun
    double flicker_depth = 0.0;                ///< (most - least) / (most + least) of all lamps. [1]
    double mains_frequency = 50.0;             ///< lamps flicker at twice this. [Hz]
    double hot_air_structure = 0.0;      ///< structure constant C_n^2 of the air over the part; 0: calm. [m^(-2/3)]
    double hot_air_height = 100.0 * mm;  ///< of that air over the part
    Pair hot_air_scales{2.0 * mm, 50.0 * mm};  ///< inner and outer scale of its eddies
    double hot_air_speed = 0.3;                ///< with which they drift through the light. [m/s]
    TemperaturePath temperatures;              ///< read from the file; empty without one
};

/// A second sensor whose spot the receiver may see.
struct Neighbour {
    double power = 0.0;  ///< while it is on; 0: there is none. [W]
    double wavelength = 655.0 * nm;
    Pair position{2.0 * mm, 0.0};  ///< of its spot from this sensor's, across the mounting normal: x, y
    NeighbourTiming timing = NeighbourTiming::free;
    double period = 130.0 * us;       ///< of its readings, where it has a clock of its own
    double exposure = 2.5 * us;       ///< during which it lights in each of them; likewise
    double modulation = 20.0 * MHz;   ///< of its light, before a phase-shift sensor. [Hz]
    double pulse_rate = 100.0 * kHz;  ///< of its pulses while it lights, before a pulsed sensor. [Hz]
};

/// Time of flight: the receiver beside the emitter, and how the light is modulated and timed.
struct Flight {
    double baseline = 0.0;                ///< lens centre from the beam, + towards x; 0: the lens surrounds the beam
    double detector_diameter = 0.5 * mm;  ///< of the round photosensitive area
    double delay_drift = 0.0;             ///< of the electronics from 20 C on. [s/K]
    double clock_error = 0.0;  ///< relative, of the time base since calibration: + runs fast and reads too far. [1]

    std::vector<double> modulation{20.0 * MHz};  ///< frequencies, measured one after the other
    Waveform waveform = Waveform::sine;
    double modulation_depth = 0.8;
    double bandwidth =
        200.0 * MHz;  ///< 3 dB, single pole: source and detector together; pulsed: Gaussian, the detector
    std::int64_t buckets = 4;
    std::int64_t taps = 1;        ///< buckets that collect at the same time; divides `buckets`
    double gate_share = 0.5;      ///< of a modulation period during which a bucket takes light
    double crosstalk = 0.0;       ///< modulated light that reaches the detector inside the housing. [W]
    double crosstalk_path = 0.0;  ///< from emitter to detector. [m]
    FlightCalibration calibration = FlightCalibration::full;
    double wrap_risk = 1e-3;  ///< estimated chance of a wrong wrap from which on a reading does not count

    double pulse = 5.0 * ns;  ///< full width at half maximum
    double pulse_rate = 100.0 * kHz;
    std::int64_t pulses = 100;  ///< averaged into a reading
    PulseTiming timing = PulseTiming::constant_fraction;
    double noise = 1.0 * base::nW;  ///< rms of the amplifier in its bandwidth, as power of light. [W]
    double threshold_ratio = 6.0;   ///< comparator threshold over that noise
    double fraction = 0.5;
    double fraction_delay = 3.0 * ns;
    double comparator_offset = 0.0;  ///< as power of light. [W]
    double comparator_energy = 0.0;  ///< overdrive times time that the comparator needs to fire, as light. [J]
    double saturation = 0.0;         ///< of the amplifier, as power of light; 0: never. [W]
    double avalanche_gain = 1.0;     ///< 1: no avalanche
    double ionisation_ratio = 0.02;  ///< of silicon
    double recovery = 0.0;           ///< time constant of the saturated amplifier. [s]
    double digitiser = 50.0 * ps;    ///< step of the time digitiser
    double jitter = 30.0 * ps;       ///< rms, of source, detector and time base together
    bool pile_up_corrected = true;

    double walk = 0.0;                  ///< phase-shift: delay of the electronics by ten times the light. [s]
    std::int64_t intensity_points = 0;  ///< of the table that corrects delays by the strength of the echo; 0: none
    Pair intensity_range{1e-3, 1.0};    ///< that it covers, over the reference's light at the anchor. [1]
    bool operator==(const Flight&) const = default;
};

struct PeakChoice {
    PeakRule rule = PeakRule::strongest;
    std::int64_t index = 0;  ///< counted from the near end, for PeakRule::index
};

struct Reading {
    PeakMethod peak = PeakMethod::centroid;
    PeakChoice choose;
    double threshold = 0.02;
    std::string calibrated_on = "white-ceramic";
    Material reference;  ///< what it is calibrated on
    BackgroundMethod background = BackgroundMethod::laser_off;
    std::int64_t background_frames = 64;
    std::int64_t average = 1;
    std::int64_t median = 1;
    OnInvalid on_invalid = OnInvalid::mark;
    std::optional<double> thickness_index;  ///< refractive index assumed of plates; none: no thickness
    std::optional<double> zero_reset;       ///< interval at which the sensor is set to a known place; none: never. [s]
};

/// What is not known of a part and its surroundings when it is read: half widths, but for the reference.
struct Uncertainty {
    double tilt = 0.5 * degree;      ///< of the part, about each axis
    double displacement = 0.1 * mm;  ///< of where it stands
    double position = 0.1 * mm;      ///< of the point of its surface that the beam lights, in x and y
    double temperature = 2.0;        ///< of the sensor since its zero was set. [K]
    double illuminance_share = 0.5;  ///< of the ambient light. [1]
    double material = 1.0;           ///< share of the range of its material by which the part may differ. [1]
    double reference = 0.2 * um;     ///< standard uncertainty of the places the sensor was calibrated at. [m]
};

struct Requirement {
    double tolerance = 20.0 * um;
    double response = 5.0 * ms;
    double uncertainty_ratio = 4.0;
    double stable_valid_share = 0.999;
    double marginal_valid_share = 0.99;
};

struct Run {
    std::int64_t readings = 4096;
    SpeckleModel speckle = SpeckleModel::coherent;
    std::int64_t patches = 256;  ///< places of the part at which speckle is looked at
    LightModel model = LightModel::spot;
    std::int64_t rays = 1000000;  ///< of the ray model
    std::int64_t trials = 2000;   ///< of a budget's Monte Carlo
    std::int64_t specimens = 1;   ///< of the sensor, that `read` compares
};

/// What a user of a sensor may set of one of its keys: numbers between bounds, some values, or some words. [as written]
struct Offer {
    std::string key;  ///< dotted
    std::optional<Pair> bounds;
    std::vector<double> values;
    std::vector<std::string> words;
};

/// What a sensor file says beside values of keys.
struct SensorFile {
    std::string title;
    std::string file;  ///< as errors name it; empty: the scenario names no sensor
    std::vector<Offer> offers;
    /// Other sensors that fit the same data sheet, each as settings `key=value`.
    std::vector<std::vector<std::string>> ensemble;
};

/// Which files the keys of a scenario may name.
enum class FileReach {
    anywhere,
    beside_or_below,  ///< those in the folder of the scenario and in folders of it, links followed
};

struct Scenario {
    std::string title;
    std::int64_t seed = 1;
    std::string sensor;  ///< name in the library, or a file beside the scenario; empty: the keys describe the sensor
    SensorFile sensor_file;
    Principle principle;
    Mount mount;
    Housing housing;
    Emitter emitter;
    Receiver receiver;
    Making making;
    Cover cover;
    Detector detector;
    Exposure exposure;
    Target target;
    Flight flight;
    Motion motion;
    Thermal thermal;
    Surroundings surroundings;
    Neighbour neighbour;
    Reading reading;
    Uncertainty uncertainty;
    Requirement requirement;
    Run run;

    std::string file;                                       ///< where it was read from
    FileReach reach = FileReach::anywhere;                  ///< of its files, also when keys change later
    std::map<std::string, base::SourceLocation> locations;  ///< where each written key stands, for errors found later
};

/// Exposures that share one sampling period: by phase one for each frequency, else one.
/// Temperature of the sensor: that of `surroundings.temperature`, at which a warm one stands, less what its warm-up
/// lacks. [K]
[[nodiscard]] double sensor_temperature(const Scenario& scenario);

[[nodiscard]] std::int64_t exposures_in_period(const Scenario& scenario);

/// The place of a key, or of its absence, for an error that only a later station can find.
[[nodiscard]] base::SourceLocation location_of(const Scenario& scenario, const std::string& key);

/// One problem with a key of the scenario, thrown as ScenarioError.
[[noreturn]] void reject(const Scenario& scenario, const std::string& key, const std::string& message,
                         const std::string& allowed, const std::string& hint = {});

}  // namespace spotwright::scenario
