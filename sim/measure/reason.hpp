// Why a verdict is what it is, as values: a kind of reason and its numbers. `in_words` alone makes sentences of them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>

#include "sim/measure/cause.hpp"
#include "sim/reading/locate.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::measure {

// Why readings are lost.

struct AmbientFillsPixels {
    double share = 0.0;  ///< of full well. [1]
};
struct GlowFillsPixels {
    double share = 0.0;        ///< of full well. [1]
    double temperature = 0.0;  ///< of the part. [K]
};
struct OffsetSaturates {
    double light = 0.0;  ///< share of full well. [1]
};
struct TooMuchLight {
    double asked = 0.0;  ///< share of full well that the light would fill. [1]
    double level = 0.0;  ///< that is wanted. [1]
};
struct PeakTooLow {
    double peak = 0.0;       ///< share of full well. [1]
    double threshold = 0.0;  ///< share of full well. [1]
    double level = 0.0;      ///< that is wanted. [1]
};
struct NoLight {};  ///< reaches a detector that times it
struct PhotonsInBackground {
    double electrons = 0.0;  ///< of a pulse. [e]
};
struct PulseTooWeak {
    double over_noise = 0.0;  ///< peak of the pulse. [1]
    double threshold = 0.0;   ///< [1]
};
struct AmplitudeTooLow {
    double amplitude = 0.0;  ///< share of full well. [1]
    double threshold = 0.0;  ///< share of full well. [1]
    double peak = 0.0;       ///< of the brightest bucket, share of full well. [1]
    double level = 0.0;      ///< that is wanted. [1]
};
struct ModulationTooWeak {
    double amplitude = 0.0;  ///< share of full well. [1]
    double threshold = 0.0;  ///< share of full well. [1]
    double charge = 0.0;     ///< of the bucket, share of full well. [1]
};
struct PhotonsCrowd {
    double electrons = 0.0;  ///< of a pulse. [e]
};
struct PartOutside {
    double displacement = 0.0;  ///< [m]
    double near = 0.0;          ///< end of the range. [m]
    double far = 0.0;           ///< end of the range. [m]
};
struct DistanceRepeats {
    PartOutside part;
    double every = 0.0;  ///< [m]
};
struct WrapUnsure {
    double chance = 0.0;  ///< of a wrong whole number of periods. [1]
};
struct NoSuchPeak {
    std::int64_t index = 0;
};
struct PeakUnfit {};          ///< too narrow or too noisy for the estimator
struct PeakCutOff {};         ///< by the end of the array, or beyond the calibration
struct BeyondCalibration {};  ///< of a sensor that times light
struct PartLeavesRange {
    double share = 0.0;  ///< of readings. [1]
    double near = 0.0;   ///< end of the range. [m]
    double far = 0.0;    ///< end of the range. [m]
};
struct FixedExposureUnfit {
    double exposure = 0.0;   ///< [s]
    bool too_short = false;  ///< else too long
};
struct ExposureTooSlow {
    double shortest = 0.0;  ///< [s]
    double longest = 0.0;   ///< [s]
    bool at_limit = false;
};
struct Unexplained {};

using WhyLost = std::variant<AmbientFillsPixels, GlowFillsPixels, OffsetSaturates, TooMuchLight, PeakTooLow, NoLight,
                             PhotonsInBackground, PulseTooWeak, AmplitudeTooLow, ModulationTooWeak, PhotonsCrowd,
                             PartOutside, DistanceRepeats, WrapUnsure, NoSuchPeak, PeakUnfit, PeakCutOff,
                             BeyondCalibration, PartLeavesRange, FixedExposureUnfit, ExposureTooSlow, Unexplained>;

/// A clause for people, without a full stop.
[[nodiscard]] std::string in_words(const WhyLost& why);

// Reasons.

struct ReadingsLost {
    reading::Validity validity = reading::Validity::no_peak;
    double share = 0.0;  ///< of readings. [1]
    WhyLost why;
};
struct LostOnOtherPatches {
    double valid_share = 0.0;  ///< [1]
};
struct LargestError {
    double uncertainty = 0.0;      ///< expanded. [m]
    double percent_of_span = 0.0;  ///< the same. [%]
    double tolerance = 0.0;        ///< [m]
    Contribution largest;
};
struct SpeckleStays {
    double deviation = 0.0;  ///< standard deviation that averaging a still part leaves. [m]
    bool on_array = true;    ///< else on the detector of a sensor that times light
    /// Of a fixed exposure whose peak is below half of the level wanted: the threshold cuts off much of the spot.
    bool is_cut = false;
};
/// A border, texture or feed marks within the spot.
struct MarkingsShiftReading {
    double error = 0.0;    ///< that they bring where the part stands. [m]
    double radius = 0.0;   ///< of the spot in the plane of the mounting, 1/e^2. [m]
    bool borders = false;  ///< two materials meet; else texture or grooves
};
/// Two materials pass under the spot.
struct BordersPass {
    double radius = 0.0;                  ///< of the spot in the plane of the mounting, 1/e^2. [m]
    std::optional<double> largest_error;  ///< of an output. [m]
};
/// Of a translucent part.
struct LightEntersPart {
    double bias = 0.0;          ///< what is left of it, without speckle. [m]
    bool is_reference = false;  ///< the sensor was calibrated on the same material
    bool is_estimate = false;   ///< see `inside_error`
};
/// Light that is not the emitter's, beside the peak.
struct AmbientRivalsPeak {
    double lamps = 0.0;  ///< of a pixel. [e]
    double glow = 0.0;   ///< of a pixel, from a hot part. [e]
    double peak = 0.0;   ///< [e]
};
/// Of a polished part whose mirror image passes beside the lens.
struct OnlyHaze {
    double angle = 0.0;  ///< by which the mirrored beam passes the rim of the lens. [rad]
};
/// Of a part that mirrors the beam past the lens, and sends too little light there otherwise.
struct MirroredBeamMisses {
    double angle = 0.0;                  ///< by which it passes the rim of the lens. [rad]
    std::optional<scenario::Pair> tilt;  ///< of the part, at which it would enter; see `Glare`. [rad]
};
/// Of a part whose gloss is within the doubt of its tilt.
struct GlareNear {
    double away = 0.0;                   ///< of the part from the middle of its glare. [rad]
    double reach = 0.0;                  ///< of the glare on either side. [rad]
    double doubt = 0.0;                  ///< of the part's tilt. [rad]
    bool is_default = false;             ///< nobody wrote that doubt
    std::optional<scenario::Pair> tilt;  ///< of the part, in the middle of its glare. [rad]
};
/// What the light of a part with its tool marks across would do, at the exposures that the scenario allows.
enum class LightAcrossLay { too_little, enough, too_much };
/// Of a part with tool marks that send most of the light past the lens.
struct LayTurnsLightAway {
    double lay = 0.0;         ///< direction of the marks, as the scenario has it. [rad]
    double gain = 0.0;        ///< light to the lens with the marks across, over that as they are. [1]
    bool is_default = false;  ///< nobody wrote the direction
    bool is_lost = false;     ///< readings are lost, since it is too dark as it lies
    LightAcrossLay across = LightAcrossLay::enough;
};
/// Of a shaft whose marks run along its axis, as the scenario has it.
struct LayAlongAxis {
    double lay = 0.0;    ///< as the scenario has it. [rad]
    double round = 0.0;  ///< that runs round the shaft. [rad]
};
/// Of a plate: not its front face was read.
struct BackFaceRead {
    double deeper = 0.0;  ///< than the front face: the reading. [m]
};
struct BehindPlateRead {
    std::string material;  ///< of what lies behind the plate
    double deeper = 0.0;   ///< than the front face: the reading. [m]
};
/// The error found is known no better than it is away from a limit of the levels.
struct TooNearLimit {
    double found = 0.0;        ///< [m]
    double limit = 0.0;        ///< [m]
    double error = 0.0;        ///< standard error of what was found, by the number of patches. [m]
    std::int64_t patches = 0;  ///< of the surface, that were read
};
/// A sensor that is turned measures along its beam: readings are longer than the way along the mounting normal.
struct TurnedSensorReadsLonger {
    double turn = 0.0;     ///< between beam and mounting normal. [rad]
    double error = 0.0;    ///< of the reading. [m]
    bool largest = false;  ///< most of the part's bias is this
};
/// Automatic exposure can go no further.
struct ExposureAtLimit {
    double exposure = 0.0;  ///< [s]
    bool lower = false;     ///< else its upper limit
    double asked = 0.0;     ///< share of full well that the brightest pixel has. [1]
    double level = 0.0;     ///< that is wanted. [1]
};
struct LampsFlicker {
    double swing = 0.0;      ///< of a pixel or bucket between exposures, plus or minus. [e]
    double noise = 0.0;      ///< standard deviation of a dark one under the lamps. [e]
    double frequency = 0.0;  ///< [Hz]
    bool on_array = true;    ///< of pixels; else of what one detector collects
};
struct TooFewOutputs {
    std::int64_t count = 0;
};
struct FewOutputs {
    std::int64_t count = 0;  ///< valid outputs that share no reading
    bool alike = false;      ///< all of them the same: a standard deviation of 0
};
struct LostAfterChanges {
    double readings = 0.0;   ///< after each change of surface. [1]
    double length = 0.0;     ///< of surface that passes unread. [m]
    double saturated = 0.0;  ///< from one change to the next. [1]
    double dark = 0.0;       ///< likewise. [1]
};
struct OutputLags {
    double delay = 0.0;  ///< [s]
    double speed = 0.0;  ///< along the beam, rms. [m/s]
};
struct VibrationReduced {
    double frequency = 0.0;       ///< [Hz]
    double passed = 0.0;          ///< share of the amplitude. [1]
    double bandwidth = 0.0;       ///< [Hz]
    double rate = 0.0;            ///< of readings. [Hz]
    std::optional<double> alias;  ///< frequency at which it shows, where readings come too seldom. [Hz]
};
struct TooMuchWithinExposures {
    double share = 0.0;              ///< of readings. [1]
    std::int64_t sub_exposures = 0;  ///< 0: by time of flight, where no key says how many
};
/// By phase: buckets collect one after the other.
struct MovesBetweenBuckets {
    double way = 0.0;     ///< within a reading, rms. [m]
    double cyclic = 0.0;  ///< amplitude of the error that this brings. [m]
};
/// By pulses: the amplifier is at its limit.
struct AmplifierSaturates {
    double overload = 0.0;     ///< peak without saturation, over saturation. [1]
    bool by_fraction = false;  ///< whose walk a constant fraction no longer removes
};
struct SensorWarmsUp {
    double running = 0.0;  ///< since it was switched on. [s]
    double left = 0.0;     ///< colder than when it is warm. [K]
    double wait = 0.0;     ///< until a tenth of that is left, at the slower time constant. [s]
};
/// Eddies of hot air in the way of the light.
struct HotAirWanders {
    double deviation = 0.0;  ///< standard deviation of outputs by them. [m]
    double single = 0.0;     ///< of single readings. [m]
    double height = 0.0;     ///< of the air over the part. [m]
};
/// The sensor itself is shaken.
struct MountShakes {
    double amplitude = 0.0;  ///< [m]
    double frequency = 0.0;  ///< [Hz]
    double passed = 0.0;     ///< share of it that exposure and average leave. [1]
};
/// A second sensor's spot is on the array.
struct NeighbourInView {
    double share = 0.0;      ///< its brightest pixel over that of this sensor's spot. [1]
    double met = 0.0;        ///< share of readings whose exposure meets it. [1]
    bool has_clock = false;  ///< of its own; else both light at the same time
};
/// Modulated light of a second sensor, before a phase-shift sensor.
struct NeighbourBeats {
    double ratio = 0.0;       ///< its light over this sensor's, while it lights. [1]
    double difference = 0.0;  ///< of the frequencies. [Hz]
    double kept = 0.0;        ///< of the beat within a measurement. [1]
    double error = 0.0;       ///< of outputs: standard deviation, or, synchronised, the shift. [m]
    bool has_clock = false;   ///< of its own; else both light at the same time
};
/// Pulses of a second sensor, before a pulsed one.
struct NeighbourPulses {
    double met = 0.0;        ///< share of pulses in whose gate they come. [1]
    double shift = 0.0;      ///< mean error of outputs. [m]
    double scatter = 0.0;    ///< its standard deviation. [m]
    bool has_clock = false;  ///< of its own; else both send at the same time
    bool counted = false;    ///< single photons; else a comparator
};
/// The table that corrects delays by the strength of the echo is coarse.
struct TableLeaves {
    double left = 0.0;        ///< largest error between its points. [m]
    std::int64_t points = 0;  ///< of the table
};
/// It does not reach as far as the light of the part.
struct BeyondTable {
    double times = 0.0;     ///< how far beyond its end. [1]
    bool brighter = false;  ///< else darker
    double bias = 0.0;      ///< of the reading. [m]
};
/// Focus and aberrations of the lens move the spot of this part differently from that of the reference.
struct LensErrsForPart {
    double error = 0.0;     ///< that an ideal lens would not bring. [m]
    double share = 0.0;     ///< of the tolerance. [1]
    bool specimen = false;  ///< drawn from the tolerances of `[making]`
};
/// A cover glass that was not there at the calibration.
struct GlassLiftsPart {
    double error = 0.0;      ///< [m]
    double thickness = 0.0;  ///< [m]
};
struct GhostCounts {
    double peak = 0.0;       ///< of the ghost, share of full well. [1]
    double threshold = 0.0;  ///< share of full well. [1]
};
struct DirtTakesLight {
    double lost = 0.0;  ///< share of the light. [1]
    double veil = 0.0;  ///< share of it that comes back as a veil. [1]
};
struct BeamPointingJitters {
    double jitter = 0.0;     ///< rms. [rad]
    double deviation = 0.0;  ///< of a reading. [m]
};
struct FilterCutsLight {
    double passed = 0.0;      ///< share of the light that is left. [1]
    double wavelength = 0.0;  ///< of the emitter at this temperature. [m]
};
struct ResponseTooLong {
    double response = 0.0;    ///< [s]
    double required = 0.0;    ///< [s]
    bool is_default = false;  ///< nobody wrote what is required
};
/// Of a budget: its largest line.
struct LargestLine {
    double error = 0.0;            ///< bound. [m]
    double percent_of_span = 0.0;  ///< the same. [%]
    double tolerance = 0.0;        ///< [m]
    Cause cause = Cause::noise;
    double bias = 0.0;         ///< [m]
    double uncertainty = 0.0;  ///< standard. [m]
    std::string taken_as;      ///< "uncertainty.tilt_deg = 0.5" where nobody wrote what the line comes from; else empty
};
/// Of a budget: its Monte Carlo and its lines differ.
struct MonteCarloDiffers {
    double together_low = 0.0;   ///< [m]
    double together_high = 0.0;  ///< [m]
    double lines_low = 0.0;      ///< [m]
    double lines_high = 0.0;     ///< [m]
};
/// Of a budget.
struct TrialsLost {
    double share = 0.0;  ///< [1]
};

using Reason =
    std::variant<ReadingsLost, LostOnOtherPatches, LargestError, SpeckleStays, MarkingsShiftReading, BordersPass,
                 LightEntersPart, TooFewOutputs, FewOutputs, LostAfterChanges, OutputLags, VibrationReduced,
                 TooMuchWithinExposures, MovesBetweenBuckets, AmplifierSaturates, SensorWarmsUp, ResponseTooLong,
                 LargestLine, MonteCarloDiffers, TrialsLost, AmbientRivalsPeak, OnlyHaze, LampsFlicker,
                 MirroredBeamMisses, GlareNear, LayTurnsLightAway, LayAlongAxis, BackFaceRead, BehindPlateRead,
                 ExposureAtLimit, TooNearLimit, HotAirWanders, MountShakes, NeighbourInView, NeighbourBeats,
                 NeighbourPulses, TableLeaves, BeyondTable, LensErrsForPart, GlassLiftsPart, GhostCounts,
                 DirtTakesLight, BeamPointingJitters, FilterCutsLight, TurnedSensorReadsLonger>;

/// A sentence for people, without a full stop.
[[nodiscard]] std::string in_words(const Reason& reason);

}  // namespace spotwright::measure
