#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/measure/reason.hpp"

namespace spotwright::measure {

namespace {

using base::mm, base::ms, base::us, base::length_text, base::uncertainty_text, base::rounded_length_text;

std::string angle_text(double angle) {
    return fmt::format("{:.2g} deg", angle / base::degree);
}
std::string tilt_text(const scenario::Pair& tilt) {
    return fmt::format("{} and {} deg", base::decimal_text(tilt[0] / base::degree, 1),
                       base::decimal_text(tilt[1] / base::degree, 1));
}

// As files name it, but after "are", and without what joins the words there.
std::string words_of(reading::Validity validity) {
    if (validity == reading::Validity::no_peak) return "without a peak";
    std::string words(reading::name_of(validity));
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

std::string words_of(const ReadingsLost& r) {
    return fmt::format("{:.3g} % of readings are {}: ", 100.0 * r.share, words_of(r.validity)) + in_words(r.why);
}
std::string words_of(const LostOnOtherPatches& r) {
    return fmt::format(
        "moved to other patches of its surface, the part gives {:.4g} % valid readings: speckle makes some places too "
        "bright or too dark",
        100.0 * r.valid_share);
}
std::string words_of(const LargestError& r) {
    return fmt::format(
        "expanded uncertainty {} ({:.2g} % of span) against a tolerance of +-{}; largest: {}, {} {}",
        uncertainty_text(r.uncertainty), r.percent_of_span, length_text(r.tolerance, 3), name_of(r.largest),
        r.largest.systematic ? "off by" : "standard deviation",
        r.largest.systematic ? rounded_length_text(r.largest.size, r.uncertainty) : uncertainty_text(r.largest.size));
}
std::string words_of(const SpeckleStays& r) {
    return fmt::format(
        "speckle is not noise: averaging a still part leaves it at {}; {} lowers it, and so does averaging if the part "
        "moves by a spot between readings",
        uncertainty_text(r.deviation),
        r.on_array ? "a wider aperture, a larger angle or a line-shaped spot"
                   : "a wider aperture, less depth under the spot or an error that depends less on brightness");
}
std::string words_of(const MarkingsShiftReading& r) {
    const std::string spot = length_text(2.0 * r.radius, 3);
    if (r.borders) {
        return fmt::format(
            "a border of surface lies under the spot, which is {} wide: unequal light on both sides of it shifts the "
            "reading by {}; a border along the plane of the mounting, or a smaller spot, would not",
            spot, length_text(r.error, 3));
    }
    return fmt::format("texture or grooves under the spot, which is {} wide, shift the reading by {} here", spot,
                       length_text(r.error, 3));
}
std::string words_of(const BordersPass& r) {
    std::string words = fmt::format(
        "borders of surface pass under the spot, which is {} wide: within that width unequal light shifts "
        "the reading",
        length_text(2.0 * r.radius, 3));
    if (r.largest_error)
        words += fmt::format("; the largest error of an output is {}", length_text(*r.largest_error, 3));
    return words + "; a median over more readings than that takes, or borders in the plane of the mounting, would help";
}
std::string words_of(const LightEntersPart& r) {
    if (r.is_estimate) {
        return fmt::format(
            "light enters the part and comes back from below its face, which the model of this shape leaves out: a "
            "plane of the material would read {} too {}, and the verdict counts that",
            uncertainty_text(std::abs(r.bias)), r.bias < 0.0 ? "near" : "far");
    }
    return fmt::format("light enters the part and comes back from below its face: it reads too {} by {}{}",
                       r.bias < 0.0 ? "near" : "far", uncertainty_text(std::abs(r.bias)),
                       r.is_reference ? ", though the sensor was calibrated on the same material"
                                      : "; calibrated on the same material, or with its zero set there, the sensor "
                                        "reads such parts right");
}
std::string words_of(const TurnedSensorReadsLonger& r) {
    return fmt::format(
        "the sensor is turned by {:.3g} deg and measures along its beam: {} of the error; readings times {:.5f} are "
        "displacements",
        r.turn / base::degree, length_text(r.error, 3), std::cos(r.turn));
}
std::string words_of(const AmbientRivalsPeak& r) {
    const std::string beside = fmt::format("beside a peak of {:.3g} e", r.peak);
    if (r.glow > r.lamps) {
        return fmt::format(
            "the part glows: {:.3g} e in each pixel {}; a shorter wavelength or a narrower filter would lower that",
            r.glow, beside);
    }
    return fmt::format(
        "ambient light fills the pixels: {:.3g} e in each {}; a shade, a narrower filter or more power for a shorter "
        "exposure would lower that",
        r.lamps, beside);
}
std::string words_of(const OnlyHaze& r) {
    return fmt::format(
        "the mirrored beam misses the lens by {}: only the haze of the part's polish reaches the receiver; a longer "
        "exposure reads that, a specular mount the mirrored light",
        angle_text(r.angle));
}
std::string words_of(const MirroredBeamMisses& r) {
    std::string words = fmt::format("the mirrored beam misses the lens by {}", angle_text(r.angle));
    if (r.tilt) words += fmt::format("; it would meet it with the part at a tilt of {}", tilt_text(*r.tilt));
    return words + "; a specular mount reads mirrored light, a longer exposure what is scattered";
}
std::string words_of(const GlareNear& r) {
    const std::string where = r.tilt ? fmt::format("at a tilt of {}", tilt_text(*r.tilt)) : "near how it stands";
    return fmt::format(
        "the part's gloss meets the lens {}, +-{}; the part is {} from the middle of that and may tilt by {}{}: its "
        "brightness changes steeply with tilt; hold the tilt, or turn the part or the sensor away",
        where, angle_text(r.reach), angle_text(r.away), angle_text(r.doubt),
        r.is_default ? ", which is not given but the default of uncertainty.tilt_deg" : "");
}
std::string words_of(const LayTurnsLightAway& r) {
    const std::string gain =
        r.gain < 1e6 ? base::two_digits(r.gain) + " times" : std::string("more than a million times");
    if (!r.is_default) {
        return fmt::format(
            "tool marks along {:.3g} deg spread most of the light past the lens: across that they would send it {} as "
            "much; turn the sensor or the part by 90 deg, or check target.lay_deg",
            r.lay / base::degree, gain);
    }
    const auto outcome = [&] {
        switch (r.across) {
            case LightAcrossLay::too_little:
                return "still too little at this exposure";
            case LightAcrossLay::enough:
                return "enough to read: which way do they run?";
            case LightAcrossLay::too_much:
                return "more than the pixels hold: which way do they run?";
        }
        throw base::InternalError("light across the lay");
    };
    return fmt::format(
        "target.lay_deg is not given and taken as {:.3g} deg, tool marks in the plane of the mounting: these spread "
        "most of the light past the lens; across that they would send it {} as much, {}",
        r.lay / base::degree, gain, outcome());
}
std::string words_of(const LayAlongAxis& r) {
    return fmt::format(
        "marks of turning and grinding run round a shaft, here along {:.3g} deg, not {:.3g} deg: check target.lay_deg "
        "and target.cylinder.axis",
        r.round / base::degree, r.lay / base::degree);
}
std::string words_of(const BackFaceRead& r) {
    return fmt::format(
        "the back face was read, {} deeper than the front; reading.choose = \"nearest\" takes the front face where "
        "both give a peak",
        length_text(r.deeper, 3));
}
std::string words_of(const BehindPlateRead& r) {
    return fmt::format("what lies behind the plate was read, {}, {} deeper than the plate's front face", r.material,
                       length_text(r.deeper, 3));
}
std::string words_of(const ExposureAtLimit& r) {
    const std::string limit =
        fmt::format("automatic exposure is at its {} limit, {:.4g} us", r.lower ? "lower" : "upper", r.exposure / us);
    return fmt::format(
        "{}: the fullest pixel reaches {:.3g} of full well where {:.2g} is wanted; {}", limit, r.asked, r.level,
        r.lower ? "less power or a smaller aperture would lower it" : "more power or a longer period would raise it");
}
std::string words_of(const LampsFlicker& r) {
    return fmt::format(
        "the lamps flicker at {:.4g} Hz: {} changes by +-{:.3g} e between exposures, {:.2g} times its noise; a "
        "shade, a narrower filter, an exposure or an average over whole periods of {:.3g} ms would lower that",
        r.frequency, r.on_array ? "a pixel" : "the detector's background", r.swing, r.swing / r.noise,
        1.0 / r.frequency / ms);
}
std::string words_of(const TooNearLimit& r) {
    return fmt::format(
        "the limit of {} lies within what is known of the error: {} patches of the surface tell it to +-{} (one "
        "standard error); more of them (run.patches) would decide",
        length_text(r.limit, 4), r.patches, uncertainty_text(r.error));
}
std::string words_of(const TooFewOutputs& r) {
    return fmt::format("only {} valid {}: too few for a standard deviation", r.count,
                       r.count == 1 ? "output" : "outputs");
}
std::string words_of(const FewOutputs& r) {
    if (r.count < 2) return "all outputs share readings: mean and standard deviation are those of a single average";
    const std::string known = r.alike ? "all of them alike, so their noise is not known"
                                      : fmt::format("the standard deviation is known to {:.2g} %",
                                                    100.0 * relative_error_of_deviation(r.count));
    return fmt::format("mean and standard deviation are those of {} valid outputs alone: {}", r.count, known);
}
std::string words_of(const LostAfterChanges& r) {
    return fmt::format(
        "after each change of surface {:.3g} readings are lost: {:.3g} mm pass unread ({:.3g} saturated and {:.3g} too "
        "dark from one change to the next)",
        r.readings, r.length / mm, r.saturated, r.dark);
}
std::string words_of(const OutputLags& r) {
    return fmt::format("the output is {:.3g} ms behind the part: at {:.3g} mm/s along the beam (rms) that is {}",
                       r.delay / ms, r.speed / mm, length_text(r.delay * r.speed, 3));
}
std::string words_of(const VibrationReduced& r) {
    std::string text = fmt::format(
        "of the vibration at {:.4g} Hz exposure and average pass {:.3g} of the amplitude (bandwidth {:.3g} Hz)",
        r.frequency, r.passed, r.bandwidth);
    if (r.alias) text += fmt::format("; at {:.4g} readings a second it shows as {:.4g} Hz", r.rate, *r.alias);
    return text;
}
std::string words_of(const TooMuchWithinExposures& r) {
    if (r.sub_exposures == 0) {
        return fmt::format(
            "in {:.3g} % of readings the part moves further while a bucket collects than is followed: "
            "these readings are not reliable",
            100.0 * r.share);
    }
    return fmt::format(
        "in {:.3g} % of readings more happens within an exposure than motion.sub_exposures = {} stretches of it "
        "follow: these readings are not reliable",
        100.0 * r.share, r.sub_exposures);
}
std::string words_of(const MovesBetweenBuckets& r) {
    return fmt::format(
        "the part moves by {:.3g} mm while the buckets of a reading collect one after the other: this brings "
        "an error that swings by about +-{:.3g} mm with the distance; a shorter exposure reduces it",
        r.way / mm, r.cyclic / mm);
}
std::string words_of(const AmplifierSaturates& r) {
    return fmt::format(
        "the light saturates the receiver's amplifier {:.3g} times over{}: less power, a smaller aperture or a "
        "tilt that turns the mirrored beam away reduce it",
        r.overload,
        r.by_fraction ? "; a constant fraction then acts as a leading edge, and bright parts read nearer" : "");
}
std::string words_of(const SensorWarmsUp& r) {
    return fmt::format(
        "the sensor was switched on {:.3g} min ago and is still {:.2g} K colder than when it is warm: its "
        "reading drifts; in {:.2g} min a tenth of that is left",
        r.running / base::minute, r.left, r.wait / base::minute);
}
std::string words_of(const HotAirWanders& r) {
    return fmt::format(
        "eddies of the hot air up to {} over the part bend the light: outputs wander by {} (single readings by {}); "
        "a tube round the light, a stream of cool air or a longer average would lower that",
        length_text(r.height, 3), uncertainty_text(r.deviation), uncertainty_text(r.single));
}
std::string words_of(const MountShakes& r) {
    return fmt::format(
        "the mount shakes the sensor by +-{} at {:.3g} Hz, and the reading with it; {:.2g} of that is left in the "
        "outputs; a stiffer mount, or an average over whole periods, would lower it",
        length_text(r.amplitude, 3), r.frequency, r.passed);
}
std::string words_of(const NeighbourInView& r) {
    if (!r.has_clock) {
        return fmt::format(
            "a second sensor lights the part at the same time: its spot on the array is {:.2g} times as bright as the "
            "sensor's own; let the two light in turn",
            r.share);
    }
    return fmt::format(
        "a second sensor with a clock of its own lights the part: its spot, {:.2g} times as bright as the sensor's "
        "own, "
        "falls into {:.2g} of the exposures; let the two light in turn",
        r.share, r.met);
}
std::string words_of(const NeighbourBeats& r) {
    if (!r.has_clock) {
        return fmt::format(
            "another sensor's light is in view: synchronised and {:.2g} times as strong as this sensor's, it "
            "shifts the reading by {}; let the two light in turn",
            r.ratio, length_text(r.error, 3));
    }
    return fmt::format(
        "another sensor's light is in view: {:.2g} times as strong as this sensor's, it beats with it at {:.4g} "
        "Hz; {:.2g} of the beat is left within a measurement, and outputs err by {} (standard deviation over all "
        "phases "
        "between the clocks); let the two light in turn, turn or shade one of them, or let them modulate at other "
        "frequencies",
        r.ratio, std::abs(r.difference), r.kept, uncertainty_text(r.error));
}
std::string words_of(const NeighbourPulses& r) {
    const std::string errors = fmt::format("outputs err by {} in the mean, with a standard deviation of {}",
                                           length_text(r.shift, 3), uncertainty_text(r.scatter));
    if (!r.has_clock) {
        return fmt::format(
            "another sensor's light is in view: synchronised, its pulses come with this sensor's: {}; let the two "
            "light in turn",
            errors);
    }
    return fmt::format(
        "another sensor's light is in view: its pulses come within the gate of {:.2g} of the pulses, and {}: {}; let "
        "the "
        "two light in turn, turn or shade one of them, or {}",
        r.met,
        r.counted ? "its photons raise the background, or stand as a peak of their own where the pulse rates are equal"
                  : "what crosses the threshold first counts",
        errors, r.counted ? "let them send at other pulse rates" : "shorten the gate (mount.range_mm)");
}
std::string words_of(const TableLeaves& r) {
    return fmt::format(
        "the table that corrects by the strength of the echo has {} points and leaves up to {} between them; more "
        "points (flight.intensity_table_points) leave less",
        r.points, length_text(r.left, 3));
}
std::string words_of(const BeyondTable& r) {
    return fmt::format(
        "the echo is {} than the correction table reaches, {:.3g} times: the correction of its end holds, and the "
        "reading errs by {}; a table over a wider range (flight.intensity_range) would correct it",
        r.brighter ? "brighter" : "darker", r.times, length_text(r.bias, 3));
}
std::string words_of(const LensErrsForPart& r) {
    return fmt::format(
        "focus and aberrations of the lens move the spot of this part differently from that of the reference: by {}, "
        "{:.2g} of the tolerance{}",
        length_text(r.error, 3), r.share, r.specimen ? "; another specimen of the sensor errs differently" : "");
}
std::string words_of(const GlassLiftsPart& r) {
    return fmt::format("the cover glass of {} was not there when the sensor was calibrated: it moves the reading by {}",
                       length_text(r.thickness, 3), length_text(r.error, 3));
}
std::string words_of(const GhostCounts& r) {
    return fmt::format(
        "the ghost of filter and window fills {:.2g} of full well, above the threshold of {:.2g}: it counts as a peak",
        r.peak, r.threshold);
}
std::string words_of(const DirtTakesLight& r) {
    return fmt::format("dirt on the window takes {:.2g} of the light, {:.2g} of it comes back as a veil", r.lost,
                       r.veil);
}
std::string words_of(const BeamPointingJitters& r) {
    return fmt::format(
        "the direction of the beam jitters by {:.3g} urad rms from reading to reading: the reading scatters by {}",
        r.jitter / 1e-6, length_text(r.deviation, 3));
}
std::string words_of(const FilterCutsLight& r) {
    return fmt::format("the emitter has drifted to {:.4g} nm, where the filter lets {:.2g} of the light through",
                       r.wavelength / base::nm, r.passed);
}
std::string words_of(const ResponseTooLong& r) {
    return fmt::format("the output needs {:.3g} ms to follow a step; {:.3g} ms are required{}", r.response / ms,
                       r.required / ms,
                       r.is_default ? ", which is not given but the default of requirement.response_ms" : "");
}
std::string words_of(const LargestLine& r) {
    return fmt::format(
        "errors up to {} ({:.2g} % of span) against a tolerance of +-{}; largest: {}, bias {} and standard uncertainty "
        "{}{}",
        uncertainty_text(r.error), r.percent_of_span, length_text(r.tolerance, 3), name_of(r.cause),
        rounded_length_text(r.bias, r.error), uncertainty_text(r.uncertainty),
        r.taken_as.empty() ? "" : fmt::format(", from {}, which is not given but the default", r.taken_as));
}
std::string words_of(const MonteCarloDiffers& r) {
    return fmt::format(
        "everything together gives {} to {} where the lines give {} to {}: causes act on each other or are not normal; "
        "the former counts",
        length_text(r.together_low, 3), length_text(r.together_high, 3), length_text(r.lines_low, 3),
        length_text(r.lines_high, 3));
}
std::string words_of(const TrialsLost& r) {
    return fmt::format("{:.3g} % of trials give no valid reading", 100.0 * r.share);
}

}  // namespace

std::string in_words(const Reason& reason) {
    return std::visit([](const auto& each) { return words_of(each); }, reason);
}

}  // namespace spotwright::measure
