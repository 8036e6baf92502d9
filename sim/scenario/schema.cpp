#include "sim/scenario/schema.hpp"

#include <fmt/format.h>

#include <array>

#include "sim/base/units.hpp"

namespace spotwright::scenario {

namespace {

using namespace std::string_view_literals;

constexpr std::array waveform_words{"sine"sv, "square"sv, "triangle"sv};
constexpr std::array flight_calibration_words{"offset"sv, "full"sv};
constexpr std::array pulse_timing_words{"leading-edge"sv, "constant-fraction"sv, "photon-counting"sv};
constexpr std::array neighbour_timing_words{"free"sv, "together"sv, "alternating"sv};
constexpr std::array yes_no_words{"no"sv, "yes"sv};
constexpr std::array exposure_mode_words{"fixed"sv, "automatic"sv};
constexpr std::array shape_words{"plane"sv, "step"sv,   "cylinder"sv, "sphere"sv, "groove"sv,
                                 "wave"sv,  "relief"sv, "plate"sv,    "post"sv};
constexpr std::array pattern_words{"none"sv,  "border"sv, "bars"sv,  "dots"sv,   "hatching"sv,
                                   "weave"sv, "grain"sv,  "patch"sv, "picture"sv};
constexpr std::array direction_words{"across"sv, "parallel"sv};
constexpr std::array curvature_words{"convex"sv, "concave"sv};
constexpr std::array light_words{"led"sv, "daylight"sv, "incandescent"sv, "none"sv};
constexpr std::array peak_method_words{"centroid"sv, "gauss3"sv, "parabola3"sv, "zero-crossing"sv, "fit"sv};
constexpr std::array rule_words{"strongest"sv, "nearest"sv, "farthest"sv};
constexpr std::array background_words{"laser-off"sv, "level"sv};
constexpr std::array on_invalid_words{"mark"sv, "hold"sv};
constexpr std::array speckle_words{"coherent"sv, "statistical"sv, "off"sv};
constexpr std::array model_words{"spot"sv, "ray"sv};

// A chain of pointers to members, so that a key can be named in one line of the table.
template <auto... Members>
auto& at(Scenario& s) {
    return (s.*....*Members);
}

template <auto... Members>
constexpr WordKey word_key(std::span<const std::string_view> words) {
    return {words, [](const Scenario& s) { return static_cast<int>((s.*....*Members)); },
            [](Scenario& s, int i) {
                auto& value = at<Members...>(s);
                value = static_cast<std::remove_reference_t<decltype(value)>>(i);
            }};
}

template <auto... Members>
constexpr auto key() {
    using Type = std::remove_reference_t<decltype(at<Members...>(std::declval<Scenario&>()))>;
    if constexpr (std::is_same_v<Type, double>) return NumberKey{at<Members...>};
    if constexpr (std::is_same_v<Type, Pair>) return PairKey{at<Members...>};
    if constexpr (std::is_same_v<Type, Aperture>) return ApertureKey{at<Members...>};
    if constexpr (std::is_same_v<Type, std::int64_t>) return IntegerKey{at<Members...>};
    if constexpr (std::is_same_v<Type, std::string>) return TextKey{at<Members...>};
}

using S = Scenario;
constexpr Limits any{};
constexpr double unbounded = std::numeric_limits<double>::infinity();
constexpr Limits share{0.0, 1.0, false};
constexpr Limits positive_share{1e-6, 1.0, false};
constexpr Limits tilt_limits{-89.0, 89.0, false};

constexpr Limits from(double low, double high) {
    return {low, high, false};
}
// Bounds are wide: they keep nonsense out and leave judgement to the user. What must be positive has a least value that
// no real thing falls below, so that no quotient leaves the range of numbers.
const std::array table{
    Key{"", "title", TextKey{[](S& s) -> std::string& { return s.title; }}, any, "a line that names the job"},
    Key{"", "seed", IntegerKey{[](S& s) -> std::int64_t& { return s.seed; }}, from(0, unbounded),
        "chooses the random numbers of a run; every integer is an ordinary seed"},
    Key{"", "sensor", TextKey{[](S& s) -> std::string& { return s.sensor; }}, any,
        "a sensor of the library (`spotwright sensors` lists them) or a sensor file (.toml) beside the scenario: gives "
        "the keys of mount, emitter, receiver, detector, flight and thermal; empty: they stand in the scenario"},
    Key{"", "principle",
        WordKey{Principles::words, [](const S& s) { return static_cast<int>(s.principle.index()); },
                [](S& s, int i) { s.principle = Principles::all.at(static_cast<std::size_t>(i)); }},
        any, "how distance is measured"},

    Key{"mount", "reference_distance_mm", key<&S::mount, &Mount::reference_distance>(), from(0.1, 1e5),
        "emitter face to reference point, along the beam"},
    Key{"mount", "range_mm", key<&S::mount, &Mount::range>(), from(-1e5, 1e5),
        "measuring range as displacement from the reference point, + away: near end, far end"},
    Key{"mount", "tilt_deg", key<&S::mount, &Mount::tilt>(), tilt_limits,
        "tilt of the whole sensor about the reference point: in-plane, out-of-plane"},
    Key{"mount", "baseline_mm",
        NumberOrWordKey{[](S& s) -> std::optional<double>& { return s.mount.baseline; }, "from-angle"}, from(0.01, 1e5),
        "lens centre from the beam at the height of the emitter face; gives `receiver.angle_deg`, which is then not "
        "written"},

    Key{"housing", "width_mm", key<&S::housing, &Housing::width>(), from(0, 1e4),
        "the sensor's body along x; 0: not known, not drawn"},
    Key{"housing", "depth_mm", key<&S::housing, &Housing::depth>(), from(0, 1e4),
        "the body along the mounting normal, from the emitter face away from the part"},
    Key{"housing", "thickness_mm", key<&S::housing, &Housing::thickness>(), from(0, 1e4), "the body along y"},
    Key{"housing", "beam_position_mm", key<&S::housing, &Housing::beam_position>(), from(0, 1e4),
        "where the beam leaves the body, from the side that is away from the receiver"},
    Key{"housing", "window_mm", key<&S::housing, &Housing::window>(), from(0, 1e4),
        "widths of the windows: emitter, receiver"},

    Key{"emitter", "wavelength_nm", key<&S::emitter, &Emitter::wavelength>(), from(400, 1050), "centre wavelength"},
    Key{"emitter", "power_mW", key<&S::emitter, &Emitter::power>(), from(1e-9, 1e6),
        "optical power that leaves the emitter while it is on: mean power; pulsed, peak of the pulse"},
    Key{"emitter", "linewidth_nm", key<&S::emitter, &Emitter::linewidth>(), from(0, 100),
        "spectral full width at half maximum; sets the coherence length"},
    Key{"emitter", "waist_radius_um", key<&S::emitter, &Emitter::waist_radius>(), from(1, 1e4),
        "1/e^2 radius at the waist: in-plane, out-of-plane"},
    Key{"emitter", "waist_displacement_mm", key<&S::emitter, &Emitter::waist_displacement>(), from(-1e5, 1e5),
        "waist relative to the reference point along the beam, + away"},
    Key{"emitter", "beam_quality", key<&S::emitter, &Emitter::beam_quality>(), from(1, 100),
        "M squared of ISO 11146; 1 is a diffraction-limited beam"},
    Key{"emitter", "angle_deg", key<&S::emitter, &Emitter::angle>(), from(-85, 85),
        "beam axis from the mounting normal, + towards the receiver side"},
    Key{"emitter", "out_of_plane_mm", key<&S::emitter, &Emitter::out_of_plane>(), from(-100, 100),
        "of the beam from the plane of the mounting, + towards y: a misalignment"},
    Key{"emitter", "pointing_jitter_urad", key<&S::emitter, &Emitter::pointing_jitter>(), from(0, 1e4),
        "rms by which the beam turns about the emitter face in the plane of the mounting, from reading to reading"},
    Key{"emitter", "polarisation_degree", key<&S::emitter, &Emitter::polarisation_degree>(), from(0, 1),
        "share of the light that is linearly polarised; 0: the direction of its field is not known, interfaces reflect "
        "the mean of all directions"},
    Key{"emitter", "polarisation_direction_deg", key<&S::emitter, &Emitter::polarisation_direction>(), from(-180, 180),
        "direction of the electric field about the beam: 0 in the plane of the mounting (x), 90 square to it (y); it "
        "turns with the sensor"},

    Key{"receiver", "angle_deg", key<&S::receiver, &Receiver::angle>(), from(-85, 85),
        "receiver axis from the mounting normal, + towards x"},
    Key{"receiver", "distance_mm", key<&S::receiver, &Receiver::distance>(), from(0.1, 1e5),
        "reference point to lens centre"},
    Key{"receiver", "focal_length_mm", key<&S::receiver, &Receiver::focal_length>(), from(0.01, 1e4),
        "focal length of the receiver lens"},
    Key{"receiver", "aperture_mm", key<&S::receiver, &Receiver::aperture>(), from(1e-3, 1e3),
        "of the receiver, at the lens: a number for the diameter of a round one, two for the widths of a rectangular "
        "one, "
        "in-plane and out-of-plane"},
    Key{"receiver", "transmission", key<&S::receiver, &Receiver::transmission>(), positive_share,
        "window, filter and lens together, at the wavelength"},
    Key{"receiver", "filter_width_nm", key<&S::receiver, &Receiver::filter_width>(), from(1e-3, 1000),
        "width of the band that the filter lets through, for ambient light"},
    Key{"receiver", "detector_tilt_deg",
        NumberOrWordKey{[](S& s) -> std::optional<double>& { return s.receiver.detector_tilt; }, "scheimpflug"},
        tilt_limits, "array from the plane of the lens; `scheimpflug` keeps the whole beam in focus"},
    Key{"receiver", "spherical_waves", key<&S::receiver, &Receiver::spherical_waves>(), from(-20, 20),
        "spherical aberration of the lens, W040, waves at the rim of the aperture; + as of a simple converging lens"},
    Key{"receiver", "coma_waves", key<&S::receiver, &Receiver::coma_waves>(), from(-20, 20),
        "coma in the plane of the mounting, W131, waves at the rim of the aperture"},
    Key{"receiver", "astigmatism_waves", key<&S::receiver, &Receiver::astigmatism_waves>(), from(-20, 20),
        "astigmatism, W222, waves at the rim of the aperture in the plane of the mounting"},
    Key{"receiver", "focus_error_um", key<&S::receiver, &Receiver::focus_error>(), from(-5000, 5000),
        "of the array from the image of the reference point along the receiver axis, + away from the lens"},
    Key{"receiver", "tilt_error_deg", key<&S::receiver, &Receiver::tilt_error>(), from(-20, 20),
        "of the array, beside detector_tilt_deg"},
    Key{"receiver", "ghost_share", key<&S::receiver, &Receiver::ghost_share>(), from(0, 0.5),
        "of the light: a second image, mirrored twice in filter and window; common practice: 1e-4 coated, 2e-3 bare"},
    Key{"receiver", "ghost_shift_um", key<&S::receiver, &Receiver::ghost_shift>(), from(-1e5, 1e5),
        "of the second image along the array, + towards higher pixels, where nearer parts have theirs"},
    Key{"receiver", "ghost_blur_um", key<&S::receiver, &Receiver::ghost_blur>(), from(0, 1e4),
        "radius of the disc over which the second image is out of focus"},
    Key{"receiver", "filter_edge_nm",
        NumberOrWordKey{[](S& s) -> std::optional<double>& { return s.receiver.filter_edge; }, "none"}, from(0.01, 100),
        "from 90 to 10 % of the filter's light at either edge of its band: an emitter whose wavelength drifts there "
        "loses light; `none`: it never does"},

    Key{"making", "focus_um", key<&S::making, &Making::focus>(), from(0, 5000),
        "plus or minus, of specimens: array along the receiver axis. detector.device_seed draws a specimen"},
    Key{"making", "tilt_deg", key<&S::making, &Making::tilt>(), from(0, 20),
        "plus or minus, of specimens: tilt of the array"},
    Key{"making", "spherical_waves", key<&S::making, &Making::spherical_waves>(), from(0, 20),
        "plus or minus, of specimens: spherical aberration"},
    Key{"making", "coma_waves", key<&S::making, &Making::coma_waves>(), from(0, 20),
        "plus or minus, of specimens: coma, as of a lens off its axis"},
    Key{"making", "astigmatism_waves", key<&S::making, &Making::astigmatism_waves>(), from(0, 20),
        "plus or minus, of specimens: astigmatism"},

    Key{"cover", "glass_mm", key<&S::cover, &Cover::glass>(), from(0, 100),
        "thickness of a glass plate between sensor and part, square to the mounting normal; 0: none"},
    Key{"cover", "index", key<&S::cover, &Cover::index>(), from(1, 4), "refractive index of the plate"},
    Key{"cover", "calibrated", word_key<&S::cover, &Cover::calibrated>(yes_no_words), any,
        "whether the sensor was calibrated behind the plate"},
    Key{"cover", "dirt_share", key<&S::cover, &Cover::dirt_share>(), from(0, 0.99),
        "of the receiver's window that dirt covers, after calibration"},
    Key{"cover", "haze_share", key<&S::cover, &Cover::haze_share>(), share,
        "of the light that meets dirt: goes on, scattered; the rest is lost"},
    Key{"cover", "haze_deg", key<&S::cover, &Cover::haze>(), from(0.01, 45),
        "standard deviation of that scatter about each axis"},

    Key{"detector", "pixels", key<&S::detector, &Detector::pixels>(), from(16, 65536), "pixels of the linear array"},
    Key{"detector", "pitch_um", key<&S::detector, &Detector::pitch>(), from(0.1, 1000), "pixel pitch along the array"},
    Key{"detector", "height_um", key<&S::detector, &Detector::height>(), from(1e-4, 1e5),
        "pixel height across the array"},
    Key{"detector", "quantum_efficiency", key<&S::detector, &Detector::quantum_efficiency>(), positive_share,
        "electrons per photon on the pixel, fill factor included"},
    Key{"detector", "full_well_e", key<&S::detector, &Detector::full_well>(), from(100, 1e9),
        "electrons at which a pixel and the top digit saturate"},
    Key{"detector", "read_noise_e", key<&S::detector, &Detector::read_noise>(), from(0, 1e5),
        "standard deviation of the read-out, dark, per reading"},
    Key{"detector", "dark_current_e_per_s", key<&S::detector, &Detector::dark_current>(), from(0, 1e9),
        "dark current of a pixel at 20 C"},
    Key{"detector", "bits", key<&S::detector, &Detector::bits>(), from(4, 16), "bits of the digit"},
    Key{"detector", "response_nonuniformity", key<&S::detector, &Detector::response_nonuniformity>(), from(0, 0.2),
        "relative standard deviation of pixel response (PRNU)"},
    Key{"detector", "offset_nonuniformity_e", key<&S::detector, &Detector::offset_nonuniformity>(), from(0, 1e5),
        "standard deviation of pixel offset (DSNU)"},
    Key{"detector", "device_seed", key<&S::detector, &Detector::device_seed>(), from(0, unbounded),
        "chooses the specimen: its pattern of response and offset"},

    Key{"exposure", "mode", word_key<&S::exposure, &Exposure::mode>(exposure_mode_words), any,
        "`fixed`, or `automatic`: the settled exposure that brings the peak to `level`"},
    Key{"exposure", "exposure_us", key<&S::exposure, &Exposure::exposure>(), from(1e-4, 1e7),
        "exposure of a reading (phase-shift: of each frequency, shared between its buckets); in automatic mode the "
        "shortest one allowed"},
    Key{"exposure", "period_us", key<&S::exposure, &Exposure::period>(), from(1e-3, 1e7),
        "sampling period: shortest, longest; automatic exposure may lengthen it"},
    Key{"exposure", "level", key<&S::exposure, &Exposure::level>(), positive_share,
        "automatic: wanted peak as a share of full well"},
    Key{"exposure", "step_ratio", key<&S::exposure, &Exposure::step_ratio>(), from(1.01, 1e4),
        "automatic: most by which the exposure is multiplied or divided from one reading to the next"},
    Key{"exposure", "loop_gain", key<&S::exposure, &Exposure::loop_gain>(), positive_share,
        "automatic: share of the error, on a logarithmic scale, that a change takes away"},
    Key{"exposure", "latency_readings", key<&S::exposure, &Exposure::latency>(), from(0, 100),
        "automatic: readings taken between a frame and the exposure that answers it"},

    Key{"target", "material", key<&S::target, &Target::material>(), any,
        "a name from the library of materials, or a material file (.toml) beside the scenario; required"},
    Key{"target", "shape", word_key<&S::target, &Target::shape>(shape_words), any, "shape of the part"},
    Key{"target", "tilt_deg", key<&S::target, &Target::tilt>(), tilt_limits,
        "tilt of the part about the lit point: in-plane (+ turns the surface towards the receiver), out-of-plane"},
    Key{"target", "lay_deg", key<&S::target, &Target::lay>(), from(-180, 180),
        "direction of the lay of a ground or turned surface, from the mounting plane"},
    Key{"target", "patch_mm", key<&S::target, &Target::patch>(), from(-1000, 1000),
        "place of the part's surface that the beam's axis lights: chooses the speckle pattern that a still part shows"},
    Key{"target", "displacement_mm", key<&S::target, &Target::displacement>(), from(-1e5, 1e5),
        "where the part is, from the reference point, + away"},
    Key{"target", "temperature_C",
        NumberOrWordKey{[](S& s) -> std::optional<double>& { return s.target.temperature; }, "none"}, from(0, 3000),
        "of a hot part, which glows from some 400 C up; `none`: its glow is not looked at"},

    Key{"target.step", "height_mm", key<&S::target, &Target::step, &Step::height>(), from(-1e4, 1e4),
        "how much nearer to the sensor the part is beyond the edge; negative: farther"},
    Key{"target.step", "position_mm", key<&S::target, &Target::step, &Step::position>(), from(-1e4, 1e4),
        "of the edge from the lit point, + towards x (across) or y (parallel)"},
    Key{"target.step", "edge", word_key<&S::target, &Target::step, &Step::edge>(direction_words), any,
        "the edge runs across the plane of the mounting, or parallel to it"},

    Key{"target.cylinder", "radius_mm", key<&S::target, &Target::cylinder, &Cylinder::radius>(), from(1e-3, 1e5),
        "radius"},
    Key{"target.cylinder", "curvature", word_key<&S::target, &Target::cylinder, &Cylinder::curvature>(curvature_words),
        any, "`convex`, a roll; `concave`, a trough"},
    Key{"target.cylinder", "axis", word_key<&S::target, &Target::cylinder, &Cylinder::axis>(direction_words), any,
        "the axis runs across the plane of the mounting, or parallel to it"},
    Key{"target.cylinder", "position_mm", key<&S::target, &Target::cylinder, &Cylinder::position>(), from(-1e4, 1e4),
        "of the crest (or bottom) from the lit point, + towards x (across) or y (parallel)"},

    Key{"target.sphere", "radius_mm", key<&S::target, &Target::sphere, &Sphere::radius>(), from(1e-3, 1e5), "radius"},
    Key{"target.sphere", "curvature", word_key<&S::target, &Target::sphere, &Sphere::curvature>(curvature_words), any,
        "`convex`, a ball; `concave`, a hollow"},
    Key{"target.sphere", "position_mm", key<&S::target, &Target::sphere, &Sphere::position>(), from(-1e4, 1e4),
        "of the crest (or bottom) from the lit point: x, y"},

    Key{"target.groove", "depth_mm", key<&S::target, &Target::groove, &Groove::depth>(), from(1e-6, 1e4), "depth"},
    Key{"target.groove", "opening_deg", key<&S::target, &Target::groove, &Groove::opening>(), from(1, 179),
        "angle between the two faces"},
    Key{"target.groove", "axis", word_key<&S::target, &Target::groove, &Groove::axis>(direction_words), any,
        "the groove runs across the plane of the mounting, or parallel to it"},
    Key{"target.groove", "position_mm", key<&S::target, &Target::groove, &Groove::position>(), from(-1e4, 1e4),
        "of the bottom from the lit point, + towards x (across) or y (parallel)"},

    Key{"target.wave", "amplitude_mm", key<&S::target, &Target::wave, &Wave::amplitude>(), from(0, 1e3),
        "half of the height from trough to crest; the mean surface stands at the displacement"},
    Key{"target.wave", "period_mm", key<&S::target, &Target::wave, &Wave::period>(), from(1e-2, 1e5),
        "from crest to crest; finer structure is roughness, which the material has"},
    Key{"target.wave", "axis", word_key<&S::target, &Target::wave, &Wave::axis>(direction_words), any,
        "the crests run across the plane of the mounting, or parallel to it"},
    Key{"target.wave", "position_mm", key<&S::target, &Target::wave, &Wave::position>(), from(-1e4, 1e4),
        "of a crest from the lit point, + towards x (across) or y (parallel)"},

    Key{"target.relief", "file", key<&S::target, &Target::relief, &Relief::file>(), any,
        "a CSV beside the scenario: columns x_mm, height_mm for a profile, x_mm, y_mm, height_mm for a map"},
    Key{"target.relief", "axis", word_key<&S::target, &Target::relief, &Relief::axis>(direction_words), any,
        "of a profile: it stays the same across the plane of the mounting, or parallel to it"},
    Key{"target.relief", "position_mm", key<&S::target, &Target::relief, &Relief::position>(), from(-1e4, 1e4),
        "of the file's origin from the lit point: x, y; a profile uses the one square to its axis"},

    Key{"target.plate", "thickness_mm", key<&S::target, &Target::plate, &Plate::thickness>(), from(1e-6, 1e3),
        "between the two faces"},
    Key{"target.plate", "backing", key<&S::target, &Target::plate, &Plate::backing>(), any,
        "`none`, or a material (as in target.material) that lies behind the back face"},
    Key{"target.plate", "gap_mm", key<&S::target, &Target::plate, &Plate::gap>(), from(0, 1e3),
        "of air between back face and backing; 0 is a film of air too thin to matter"},

    Key{"target.post", "width_mm", key<&S::target, &Target::post, &Post::width>(), from(1e-4, 1e3),
        "of a block that stands out of a plane, such as a pin or a component: x, y"},
    Key{"target.post", "height_mm", key<&S::target, &Target::post, &Post::height>(), from(1e-6, 1e3),
        "above the plane; the plane is the reference surface"},
    Key{"target.post", "position_mm", key<&S::target, &Target::post, &Post::position>(), from(-1e4, 1e4),
        "of its middle from the lit point: x, y"},

    Key{"target.pattern", "kind", word_key<&S::target, &Target::pattern, &Pattern::kind>(pattern_words), any,
        "a second material on the surface: everything beyond a straight border, bars, round dots, two crossed sets of "
        "bars, squares of a woven cloth, grain of wood, one rectangle, a picture from a file; or none"},
    Key{"target.pattern", "material", key<&S::target, &Target::pattern, &Pattern::material>(), any,
        "that covers the surface: as in target.material"},
    Key{"target.pattern", "turn_deg", key<&S::target, &Target::pattern, &Pattern::turn>(), from(-180, 180),
        "of the pattern's own x from the part's, + towards y; at 0 a border and bars run along y"},
    Key{"target.pattern", "position_mm", key<&S::target, &Target::pattern, &Pattern::position>(), from(-1e4, 1e4),
        "of the pattern's origin from the lit point, in x and y of the part: a border, the middle of a bar, dot, patch "
        "or picture"},
    Key{"target.pattern", "period_mm", key<&S::target, &Target::pattern, &Pattern::period>(), from(1e-3, 1e4),
        "after which bars, dots, hatching, weave or grain repeat"},
    Key{"target.pattern", "share", key<&S::target, &Target::pattern, &Pattern::share>(), share,
        "of the surface that bars, dots, hatching or grain cover; dots of more than 0.785 touch"},
    Key{"target.pattern", "softness_um", key<&S::target, &Target::pattern, &Pattern::softness>(), from(0, 1e4),
        "width of a border, over which coverage goes evenly from none to all"},
    Key{"target.pattern", "size_mm", key<&S::target, &Target::pattern, &Pattern::size>(), from(1e-4, 1e4),
        "of a patch, in x and y of the pattern"},
    Key{"target.pattern", "file", key<&S::target, &Target::pattern, &Pattern::file>(), any,
        "of a picture: a PGM image beside the scenario; black is covered, white is bare, and beyond its rim it goes on "
        "as at the rim"},
    Key{"target.pattern", "pixel_um", key<&S::target, &Target::pattern, &Pattern::pixel>(), from(1e-2, 1e5),
        "size of the picture's pixels on the part"},

    Key{"target.texture", "deviation", key<&S::target, &Target::texture, &Texture::deviation>(), from(0, 0.5),
        "random brightness of the surface: standard deviation of its reflectance over the mean; 0: none"},
    Key{"target.texture", "length_um", key<&S::target, &Target::texture, &Texture::length>(), from(1, 1e5),
        "over which that brightness stays alike: its correlation is exp(-(distance / length)^2)"},

    Key{"target.feed_marks", "spacing_um", key<&S::target, &Target::feed_marks, &FeedMarks::spacing>(), from(0, 1e4),
        "of the grooves of a turned or milled surface: the feed of the tool; 0: none"},
    Key{"target.feed_marks", "tool_radius_mm", key<&S::target, &Target::feed_marks, &FeedMarks::tool_radius>(),
        from(1e-3, 1e3), "of the tool's tip; the grooves are spacing^2 / (8 radius) deep"},
    Key{"target.feed_marks", "turn_deg", key<&S::target, &Target::feed_marks, &FeedMarks::turn>(), from(-180, 180),
        "direction of the feed from the part's x, + towards y; at 0 the grooves run along y"},
    Key{"target.feed_marks", "position_um", key<&S::target, &Target::feed_marks, &FeedMarks::position>(),
        from(-1e6, 1e6), "of the bottom of a groove from the lit point, along the feed"},

    Key{"target.segments", "material",
        TextListKey{[](S& s) -> std::vector<std::string>& { return s.target.segments.material; }, 64}, any,
        "pieces of surface that follow each other along the motion, over and over: their materials, as in "
        "target.material; none: the part is of one material"},
    Key{"target.segments", "length_mm",
        ListKey{[](S& s) -> std::vector<double>& { return s.target.segments.length; }, 64, 0}, from(1e-4, 1e5),
        "length of each piece"},
    Key{"target.segments", "height_mm",
        ListKey{[](S& s) -> std::vector<double>& { return s.target.segments.height; }, 64, 0}, from(-1e3, 1e3),
        "height of each piece above the part's surface, + towards the sensor; none: all are level"},
    Key{"target.segments", "start_mm", key<&S::target, &Target::segments, &Segments::start>(), from(-1e6, 1e6),
        "place along the pieces that the beam's axis lights at time 0"},

    Key{"motion", "along_mm_per_s", key<&S::motion, &Motion::along>(), from(-1e6, 1e6),
        "speed of the part along the mounting normal, + away; from its displacement at time 0"},
    Key{"motion", "across_mm_per_s", key<&S::motion, &Motion::across>(), from(-1e6, 1e6),
        "speed of the part towards x and towards y"},
    Key{"motion", "vibration_um", key<&S::motion, &Motion::vibration>(), from(0, 1e5),
        "amplitude of a vibration along the mounting normal"},
    Key{"motion", "vibration_Hz", key<&S::motion, &Motion::vibration_frequency>(), from(1e-6, 1e6),
        "frequency of that vibration"},
    Key{"motion", "rotation_rpm", key<&S::motion, &Motion::rotation>(), from(-1e6, 1e6),
        "a convex cylinder turns about its axis; + carries its lit surface towards x (axis across) or y (parallel)"},
    Key{"motion", "eccentricity_um", key<&S::motion, &Motion::eccentricity>(), from(0, 1e5),
        "of the axis it turns about from its own"},
    Key{"motion", "eccentricity_deg", key<&S::motion, &Motion::eccentricity_angle>(), from(-360, 360),
        "where the high spot is at time 0, from the beam, + with a positive rotation"},
    Key{"motion", "path", key<&S::motion, &Motion::path>(), any,
        "a CSV beside the scenario that is added to the motion: columns time_s, along_mm and, if wanted, across_mm "
        "(towards x)"},
    Key{"motion", "sub_exposures", key<&S::motion, &Motion::sub_exposures>(), from(1, 65536),
        "stretches into which an exposure is divided to follow a moving part, at most: their number follows from the "
        "motion"},

    Key{"motion", "mount_vibration_um", key<&S::motion, &Motion::mount_vibration>(), from(0, 1e5),
        "amplitude of a vibration of the sensor itself along the mounting normal: an error, where the part's is "
        "motion"},
    Key{"motion", "mount_vibration_Hz", key<&S::motion, &Motion::mount_vibration_frequency>(), from(1e-6, 1e6),
        "frequency of that vibration"},

    Key{"thermal", "housing_expansion_ppm_per_K", key<&S::thermal, &Thermal::housing_expansion>(), from(-1000, 1000),
        "of all distances between mounting face, emitter, lens and array"},
    Key{"thermal", "array_expansion_ppm_per_K", key<&S::thermal, &Thermal::array_expansion>(), from(-1000, 1000),
        "of the pixels"},
    Key{"thermal", "focal_length_ppm_per_K", key<&S::thermal, &Thermal::focal_length_change>(), from(-1000, 1000),
        "relative change of the receiver lens's focal length"},
    Key{"thermal", "lens_shift_um_per_K", key<&S::thermal, &Thermal::lens_shift>(), from(-100, 100),
        "of the receiver lens square to its axis in the plane of the mounting, + towards x"},
    Key{"thermal", "array_shift_um_per_K", key<&S::thermal, &Thermal::array_shift>(), from(-100, 100),
        "of the array along itself, + towards higher pixels"},
    Key{"thermal", "pointing_urad_per_K", key<&S::thermal, &Thermal::pointing>(), from(-1000, 1000),
        "of the beam about the emitter face, + towards the receiver"},
    Key{"thermal", "wavelength_nm_per_K", key<&S::thermal, &Thermal::wavelength_change>(), from(-10, 10),
        "of the emitter"},
    Key{"thermal", "bending_urad_per_K", key<&S::thermal, &Thermal::bending>(), from(-1000, 1000),
        "of the housing: the receiver turns about the emitter face, + away from the beam"},
    Key{"thermal", "power_ppm_per_K", key<&S::thermal, &Thermal::power_change>(), from(-1e5, 1e5),
        "relative change of the emitter's power; 0: a monitor diode keeps it. Without: -5000 (common practice)"},
    Key{"thermal", "warm_up_K", key<&S::thermal, &Thermal::warm_up>(), from(0, 50),
        "how much colder the sensor is when it is switched on than when it has run for long, as which it is "
        "calibrated"},
    Key{"thermal", "warm_up_min", key<&S::thermal, &Thermal::warm_up_times>(), from(0.01, 1e4),
        "time constants of the warm-up: emitter, housing"},
    Key{"thermal", "warm_up_share", key<&S::thermal, &Thermal::warm_up_share>(), share,
        "share of the rise that follows the first of these time constants"},

    Key{"flight", "baseline_mm", key<&S::flight, &Flight::baseline>(), from(0, 1000),
        "lens centre beside the beam, towards x; 0: the lens surrounds the beam"},
    Key{"flight", "detector_diameter_mm", key<&S::flight, &Flight::detector_diameter>(), from(1e-4, 100),
        "of the round photosensitive area behind the lens"},
    Key{"flight", "delay_drift_ps_per_K", key<&S::flight, &Flight::delay_drift>(), from(-1000, 1000),
        "delay of the electronics, growing with temperature from 20 C on; + reads too far"},
    Key{"flight", "clock_error_ppm", key<&S::flight, &Flight::clock_error>(), from(-1000, 1000),
        "how much too fast the time base runs; + reads too far"},
    Key{"flight", "modulation_MHz", ListKey{[](S& s) -> std::vector<double>& { return s.flight.modulation; }, 4},
        from(0.1, 2000), "phase-shift: frequencies of modulation, measured one after the other, up to four"},
    Key{"flight", "waveform", word_key<&S::flight, &Flight::waveform>(waveform_words), any,
        "phase-shift: of the modulated light"},
    Key{"flight", "modulation_depth", key<&S::flight, &Flight::modulation_depth>(), positive_share,
        "phase-shift: swing of the light over its mean"},
    Key{"flight", "bandwidth_MHz", key<&S::flight, &Flight::bandwidth>(), from(1e-3, 1e5),
        "at 3 dB: phase-shift, of source and detector together, one pole; pulsed, of the receiver, Gaussian"},
    Key{"flight", "buckets", key<&S::flight, &Flight::buckets>(), from(3, 64),
        "phase-shift: charges of a reading, spread evenly over a modulation period"},
    Key{"flight", "taps", key<&S::flight, &Flight::taps>(), from(1, 64),
        "phase-shift: buckets that collect at the same time, spread evenly; the others follow. A part that moves "
        "meanwhile brings a cyclic error"},
    Key{"flight", "gate_share", key<&S::flight, &Flight::gate_share>(), from(1e-3, 0.5),
        "phase-shift: share of a modulation period during which a bucket takes light"},
    Key{"flight", "crosstalk_nW", key<&S::flight, &Flight::crosstalk>(), from(0, 1e6),
        "phase-shift: modulated light that reaches the detector inside the housing"},
    Key{"flight", "crosstalk_path_mm", key<&S::flight, &Flight::crosstalk_path>(), from(0, 1e4),
        "phase-shift: way of that light"},
    Key{"flight", "calibration", word_key<&S::flight, &Flight::calibration>(flight_calibration_words), any,
        "`offset`: only the constant delay is taken out, at the reference point; `full`: the reference is read over "
        "the whole range, so that its own cyclic error or walk is taken out too"},
    Key{"flight", "wrap_risk", key<&S::flight, &Flight::wrap_risk>(), from(0, 1),
        "phase-shift: estimated chance of a wrong wrap above which a reading is `ambiguous`"},
    Key{"flight", "pulse_ns", key<&S::flight, &Flight::pulse>(), from(0.01, 1e4),
        "pulsed: full width at half maximum of the pulse of light"},
    Key{"flight", "pulse_rate_kHz", key<&S::flight, &Flight::pulse_rate>(), from(1e-6, 1e5), "pulsed: pulses sent"},
    Key{"flight", "pulses", key<&S::flight, &Flight::pulses>(), from(1, 1e6), "pulsed: averaged into one reading"},
    Key{"flight", "timing", word_key<&S::flight, &Flight::timing>(pulse_timing_words), any,
        "pulsed: what gives the time of a pulse"},
    Key{"flight", "noise_nW", key<&S::flight, &Flight::noise>(), from(1e-9, 1e6),
        "pulsed: rms noise of the amplifier in its bandwidth, as power of light on the detector"},
    Key{"flight", "threshold_ratio", key<&S::flight, &Flight::threshold_ratio>(), from(1, 1e4),
        "pulsed: threshold of the comparator over that noise"},
    Key{"flight", "fraction", key<&S::flight, &Flight::fraction>(), from(0.05, 0.95),
        "pulsed: share of the pulse that the constant fraction sets against the delayed pulse"},
    Key{"flight", "fraction_delay_ns", key<&S::flight, &Flight::fraction_delay>(), from(1e-4, 1e4),
        "pulsed: delay of the constant fraction"},
    Key{"flight", "comparator_offset_nW", key<&S::flight, &Flight::comparator_offset>(), from(-1e6, 1e6),
        "pulsed: offset of the comparator, as power of light"},
    Key{"flight", "comparator_energy_aJ", key<&S::flight, &Flight::comparator_energy>(), from(0, 1e9),
        "pulsed: what a comparator of limited gain and bandwidth needs to fire: overdrive times time, as light (1 nW "
        "for "
        "1 ns is 1 aJ); weak pulses then come late"},
    Key{"flight", "saturation_nW", key<&S::flight, &Flight::saturation>(), from(0, 1e12),
        "pulsed: power of light at which the amplifier saturates; 0: never"},
    Key{"flight", "avalanche_gain", key<&S::flight, &Flight::avalanche_gain>(), from(1, 1000),
        "pulsed: of an avalanche diode, whose shot noise it raises; 1: none. noise_nW is that before the gain"},
    Key{"flight", "ionisation_ratio", key<&S::flight, &Flight::ionisation_ratio>(), share,
        "pulsed: of the avalanche diode, holes over electrons; silicon about 0.02 (common practice)"},
    Key{"flight", "recovery_ns", key<&S::flight, &Flight::recovery>(), from(0, 1e6),
        "pulsed: time constant with which a saturated amplifier comes down"},
    Key{"flight", "digitiser_ps", key<&S::flight, &Flight::digitiser>(), from(0, 1e5),
        "pulsed: step of the time digitiser"},
    Key{"flight", "jitter_ps", key<&S::flight, &Flight::jitter>(), from(0, 1e5),
        "pulsed: rms jitter of source, detector and time base together"},
    Key{"flight", "pile_up_corrected", word_key<&S::flight, &Flight::pile_up_corrected>(yes_no_words), any,
        "photon counting: whether the histogram of first photons is corrected for those they hide"},
    Key{"flight", "walk_ps", key<&S::flight, &Flight::walk>(), from(-1e5, 1e5),
        "phase-shift: delay of the electronics, growing by this with every tenfold light; + reads bright parts too "
        "far"},
    Key{"flight", "intensity_table_points", key<&S::flight, &Flight::intensity_points>(), from(0, 1024),
        "points of a table, made at calibration on the reference behind attenuators, that corrects delays by the "
        "strength of the echo; 0: none, else at least 4"},
    Key{"flight", "intensity_range", key<&S::flight, &Flight::intensity_range>(), from(1e-9, 1e9),
        "light that the table covers, least and most, over that of the reference where its constants are taken out; "
        "beyond, the correction of its end holds"},

    Key{"surroundings", "temperature_C", key<&S::surroundings, &Surroundings::temperature>(), from(-40, 120),
        "temperature of the sensor"},
    Key{"surroundings", "temperature_path", key<&S::surroundings, &Surroundings::temperature_path>(), any,
        "a CSV beside the scenario: columns time_s, temperature_C, the sensor's temperature over hours, for its drift"},
    Key{"surroundings", "running_min", key<&S::surroundings, &Surroundings::running>(), from(0, 1e6),
        "since the sensor was switched on: see thermal.warm_up_K"},
    Key{"surroundings", "pressure_kPa", key<&S::surroundings, &Surroundings::pressure>(), from(50, 120),
        "of the air: how fast light travels in it (time of flight)"},
    Key{"surroundings", "humidity", key<&S::surroundings, &Surroundings::humidity>(), share,
        "relative humidity of the air (time of flight)"},
    Key{"surroundings", "illuminance_lx", key<&S::surroundings, &Surroundings::illuminance>(), from(0, 2e5),
        "ambient light on the part"},
    Key{"surroundings", "light", word_key<&S::surroundings, &Surroundings::light>(light_words), any,
        "kind of ambient light"},
    Key{"surroundings", "lamp_share", key<&S::surroundings, &Surroundings::lamp_share>(), share,
        "share of the illuminance that comes from one lamp or the sun; the rest comes from all sides alike"},
    Key{"surroundings", "lamp_direction_deg", key<&S::surroundings, &Surroundings::lamp_direction>(), from(-85, 85),
        "where that lamp is, from the mounting normal: in-plane, out-of-plane, as the tilt of a part "
        "that faces it"},
    Key{"surroundings", "lamp_half_angle_deg", key<&S::surroundings, &Surroundings::lamp_half_angle>(), from(0.05, 45),
        "half-angle under which the part sees that lamp; the sun: 0.27"},
    Key{"surroundings", "flicker_depth", key<&S::surroundings, &Surroundings::flicker_depth>(), share,
        "modulation depth of lamps at twice the mains frequency, (most - least) / (most + least); common practice: "
        "incandescent 0.1, LED 0 to 1 by its driver"},
    Key{"surroundings", "mains_Hz", key<&S::surroundings, &Surroundings::mains_frequency>(), from(10, 1000),
        "frequency of the mains that feed the lamps"},

    Key{"surroundings", "hot_air_Cn2", key<&S::surroundings, &Surroundings::hot_air_structure>(), from(0, 1),
        "refractive-index structure constant of the air over the part in m^(-2/3), triangulation; 0: calm. Its eddies "
        "make the spot wander; over hot plates some 1e-11 to 1e-9 (estimated, docs/theory/surroundings.md)"},
    Key{"surroundings", "hot_air_height_mm", key<&S::surroundings, &Surroundings::hot_air_height>(), from(0.1, 1e5),
        "how high over the part that air stands, at most up to the sensor"},
    Key{"surroundings", "hot_air_scales_mm", key<&S::surroundings, &Surroundings::hot_air_scales>(), from(0.01, 1e5),
        "inner and outer scale of its eddies, the sizes between which they obey the two-thirds law"},
    Key{"surroundings", "hot_air_mm_per_s", key<&S::surroundings, &Surroundings::hot_air_speed>(), from(0, 1e6),
        "speed with which they drift through the light: how fast the spot wanders"},

    Key{"neighbour", "power_mW", key<&S::neighbour, &Neighbour::power>(), from(0, 1e6),
        "optical power of a second sensor on the part while it is on (of pulses: their peak); 0: there is none"},
    Key{"neighbour", "wavelength_nm", key<&S::neighbour, &Neighbour::wavelength>(), from(400, 1050),
        "of the second sensor; outside of this sensor's filter it is not seen"},
    Key{"neighbour", "position_mm", key<&S::neighbour, &Neighbour::position>(), from(-1e4, 1e4),
        "of its spot from this sensor's, across the mounting normal: x, y"},
    Key{"neighbour", "timing", word_key<&S::neighbour, &Neighbour::timing>(neighbour_timing_words), any,
        "`free`: by a clock of its own; `together`: synchronised, both light at the same time, modulated alike; "
        "`alternating`: synchronised, in turn"},
    Key{"neighbour", "period_us", key<&S::neighbour, &Neighbour::period>(), from(1e-3, 1e7),
        "of the readings of a free second sensor"},
    Key{"neighbour", "exposure_us", key<&S::neighbour, &Neighbour::exposure>(), from(1e-4, 1e7),
        "for which a free second sensor lights the part in each of them"},
    Key{"neighbour", "modulation_MHz", key<&S::neighbour, &Neighbour::modulation>(), from(0.1, 2000),
        "phase-shift: frequency at which a free second sensor is modulated; its waveform and depth are this one's"},
    Key{"neighbour", "pulse_rate_kHz", key<&S::neighbour, &Neighbour::pulse_rate>(), from(1e-6, 1e5),
        "pulsed: pulses that a free second sensor sends while it lights; as long as this one's"},

    Key{"reading", "peak", word_key<&S::reading, &Reading::peak>(peak_method_words), any,
        "how the position of the spot is found"},
    Key{"reading", "choose", ChoiceKey{[](S& s) -> PeakChoice& { return s.reading.choose; }}, from(0, 1000),
        "which of several peaks counts: a word, or an index from the near end"},
    Key{"reading", "threshold", key<&S::reading, &Reading::threshold>(), from(1e-9, 1),
        "smallest peak that counts, as a share of full well above background"},
    Key{"reading", "calibrated_on", key<&S::reading, &Reading::calibrated_on>(), any,
        "library material of the reference that the sensor is calibrated on; `mirror` in a specular mount"},
    Key{"reading", "background", word_key<&S::reading, &Reading::background>(background_words), any,
        "what is subtracted: the mean of laser-off frames pixel by pixel, or one level for the whole array"},
    Key{"reading", "background_frames", key<&S::reading, &Reading::background_frames>(), from(1, 65536),
        "laser-off frames averaged for the background"},
    Key{"reading", "average", key<&S::reading, &Reading::average>(), from(1, 1048576), "length of the moving average"},
    Key{"reading", "median", key<&S::reading, &Reading::median>(), from(1, 9999),
        "length of the moving median, odd; it comes before the average"},
    Key{"reading", "on_invalid", word_key<&S::reading, &Reading::on_invalid>(on_invalid_words), any,
        "an invalid reading is marked, or the last valid one is held"},
    Key{"reading", "thickness_index",
        NumberOrWordKey{[](S& s) -> std::optional<double>& { return s.reading.thickness_index; }, "none"}, from(1, 5),
        "refractive index from which the thickness between the two nearest peaks is worked out"},
    Key{"reading", "zero_reset_s",
        NumberOrWordKey{[](S& s) -> std::optional<double>& { return s.reading.zero_reset; }, "none"}, from(1e-6, 1e9),
        "interval at which the sensor reads a known place and takes the error out of what follows"},

    Key{"uncertainty", "tilt_deg", key<&S::uncertainty, &Uncertainty::tilt>(), from(0, 45),
        "for the budget, plus or minus: tilt of the part about each axis"},
    Key{"uncertainty", "displacement_mm", key<&S::uncertainty, &Uncertainty::displacement>(), from(0, 1e4),
        "for the budget, plus or minus: where the part stands"},
    Key{"uncertainty", "position_mm", key<&S::uncertainty, &Uncertainty::position>(), from(0, 1e4),
        "for the budget, plus or minus: point of a surface with markings that the beam lights, in x and y"},
    Key{"uncertainty", "temperature_K", key<&S::uncertainty, &Uncertainty::temperature>(), from(0, 100),
        "for the budget, plus or minus: of the sensor since its zero was last set"},
    Key{"uncertainty", "illuminance_share", key<&S::uncertainty, &Uncertainty::illuminance_share>(), share,
        "for the budget, plus or minus: ambient light, as a share of it"},
    Key{"uncertainty", "material_share", key<&S::uncertainty, &Uncertainty::material>(), share,
        "for the budget: by how much of its range the part's material may differ from the values of its file; 0: not "
        "at all"},
    Key{"uncertainty", "reference_um", key<&S::uncertainty, &Uncertainty::reference>(), from(0, 1e5),
        "for the budget: standard uncertainty of the places at which the sensor was calibrated"},

    Key{"requirement", "tolerance_um", key<&S::requirement, &Requirement::tolerance>(), from(1e-6, 1e6),
        "permitted error, plus or minus"},
    Key{"requirement", "response_ms", key<&S::requirement, &Requirement::response>(), from(1e-6, 1e6),
        "time within which the output must have followed a step"},
    Key{"requirement", "uncertainty_ratio", key<&S::requirement, &Requirement::uncertainty_ratio>(), from(1, 100),
        "tolerance over expanded uncertainty that counts as stable (4: common practice)"},
    Key{"requirement", "stable_valid_share", key<&S::requirement, &Requirement::stable_valid_share>(), share,
        "share of valid readings needed for `stable`"},
    Key{"requirement", "marginal_valid_share", key<&S::requirement, &Requirement::marginal_valid_share>(), share,
        "share of valid readings needed for `marginal`"},

    Key{"run", "readings", key<&S::run, &Run::readings>(), from(1, 1e12), "readings to simulate"},
    Key{"run", "speckle", word_key<&S::run, &Run::speckle>(speckle_words), any,
        "speckle from waves over the lit patch, from its statistics alone (fast, and used where waves would ask for "
        "too "
        "large a grid), or none"},
    Key{"run", "patches", key<&S::run, &Run::patches>(), from(2, 1e6),
        "places of the part at which speckle is looked at, as if it were moved between readings"},
    Key{"run", "model", word_key<&S::run, &Run::model>(model_words), any,
        "how light is followed: the spot model, or rays drawn at random that may meet the part many times"},
    Key{"run", "rays", key<&S::run, &Run::rays>(), from(1000, 1e10), "rays of the ray model"},
    Key{"run", "trials", key<&S::run, &Run::trials>(), from(100, 1e8), "trials of a budget's Monte Carlo"},
    Key{"run", "specimens", key<&S::run, &Run::specimens>(), from(1, 256),
        "of the sensor within [making], that `read` and `budget` compare; 1: the scenario's own alone"},
};

}  // namespace

std::span<const Key> schema() {
    return table;
}

std::span<const std::string_view> peak_rule_words() {
    return rule_words;
}

}  // namespace spotwright::scenario
