#include "sim/scenario/checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>

#include "sim/base/units.hpp"
#include "sim/base/cases.hpp"

namespace spotwright::scenario {

bool are_sound(std::span<const base::Problem> problems, std::initializer_list<std::string_view> keys) {
    return std::none_of(problems.begin(), problems.end(), [&](const base::Problem& problem) {
        return std::find(keys.begin(), keys.end(), problem.location.key) != keys.end();
    });
}

namespace {

class Checker {
public:
    Checker(const Scenario& scenario, std::vector<base::Problem>& problems)
        : scenario_(scenario), problems_(problems) {}

    void check_together();

private:
    [[nodiscard]] bool sound(std::initializer_list<std::string_view> keys) const { return are_sound(problems_, keys); }
    void complain_about(const std::string& key, const std::string& message, std::string allowed) {
        problems_.push_back({location_of(scenario_, key), message, std::move(allowed), {}});
    }
    void check_focal_length();
    void check_instrument();
    void check_exposure();
    void check_flight();
    void check_segments();
    void check_motion();
    void check_markings();
    void check_around();

    const Scenario& scenario_;
    std::vector<base::Problem>& problems_;
};

void Checker::check_focal_length() {
    const Receiver& r = scenario_.receiver;
    if (!sound({"receiver.focal_length_mm", "receiver.distance_mm", "mount.reference_distance_mm"})) return;
    const double beside_emitter = scenario_.mount.reference_distance;
    const double distance = std::visit(
        base::Cases{[&r](Triangulation) { return r.distance; }, [beside_emitter](PhaseShift) { return beside_emitter; },
                    [beside_emitter](Pulsed) { return beside_emitter; }},
        scenario_.principle);
    if (r.focal_length >= distance) {
        complain_about("receiver.focal_length_mm",
                       fmt::format("no real image: not shorter than the distance of {:g} mm, got {:g}",
                                   distance / base::mm, r.focal_length / base::mm),
                       fmt::format("value < {:g} mm", distance / base::mm));
        return;
    }
    // Far beyond any receiver; nearer to the focal plane the image distance is lost in rounding.
    constexpr double largest_magnification = 1000.0;
    if (r.focal_length > largest_magnification * (distance - r.focal_length)) {
        complain_about("receiver.focal_length_mm",
                       fmt::format("so near to the distance of {:g} mm that the image is magnified more than {:g} "
                                   "times, got {:g}",
                                   distance / base::mm, largest_magnification, r.focal_length / base::mm),
                       fmt::format("value <= {:g} mm",
                                   distance * largest_magnification / (largest_magnification + 1.0) / base::mm));
    }
}

// Of a triangulation sensor: the array stays behind the lens, the cover glass between sensor and part.
void Checker::check_instrument() {
    const Receiver& r = scenario_.receiver;
    constexpr double most = 0.5;  // of the image distance
    if (sound({"receiver.focus_error_um", "making.focus_um", "receiver.focal_length_mm", "receiver.distance_mm"}) &&
        r.focal_length < r.distance) {
        const double image = 1.0 / (1.0 / r.focal_length - 1.0 / r.distance);
        const double off = std::abs(r.focus_error) + scenario_.making.focus;
        if (off > most * image) {
            complain_about(r.focus_error != 0.0 ? "receiver.focus_error_um" : "making.focus_um",
                           fmt::format("moves the array by more than half of the image distance, {:g} mm, got {:g}",
                                       image / base::mm, off / base::um),
                           fmt::format("value <= {:g} um, receiver.focus_error_um and making.focus_um together",
                                       most * image / base::um));
        }
    }
    const double room = std::min(scenario_.mount.reference_distance + scenario_.mount.range[0], r.distance);
    if (sound({"cover.glass_mm", "mount.reference_distance_mm", "mount.range_mm", "receiver.distance_mm"}) &&
        room > 0.0 && scenario_.cover.glass > most * room) {
        complain_about("cover.glass_mm",
                       fmt::format("more than half of the {:g} mm between sensor and near end, got {:g}",
                                   room / base::mm, scenario_.cover.glass / base::mm),
                       fmt::format("value <= {:g} mm", most * room / base::mm));
    }
}

void Checker::check_exposure() {
    const Exposure& e = scenario_.exposure;
    if (sound({"exposure.period_us"}) && e.period[0] > e.period[1]) {
        complain_about("exposure.period_us", "shortest period exceeds the longest", "[shortest, longest]");
    }
    if (!sound({"exposure.mode", "exposure.period_us", "exposure.exposure_us", "flight.modulation_MHz"})) return;
    if (!abilities_of(scenario_.principle).exposure) return;
    const double longest = e.period[e.mode == ExposureMode::fixed ? 0 : 1];
    const auto exposures = static_cast<double>(exposures_in_period(scenario_));
    if (e.exposure * exposures > longest) {
        complain_about("exposure.exposure_us",
                       fmt::format("longer than the sampling period{}, got {:g}",
                                   exposures > 1.0 ? " shared by all frequencies" : "", e.exposure / base::us),
                       fmt::format("value <= {:g} us", longest / exposures / base::us));
    }
}

void Checker::check_flight() {
    const Scenario& s = scenario_;
    if (sound({"run.model", "target.shape"}) && s.run.model == LightModel::ray && s.target.shape == ShapeKind::plate) {
        complain_about("run.model", "a plate throws no light on itself that would be timed", "spot");
    }
    if (sound({"reading.thickness_index"}) && s.reading.thickness_index) {
        complain_about("reading.thickness_index", "time of flight does not tell two faces apart",
                       "principle = \"triangulation\"");
    }
    std::vector<double> sorted = s.flight.modulation;
    std::sort(sorted.begin(), sorted.end());
    if (sound({"flight.modulation_MHz"}) && std::adjacent_find(sorted.begin(), sorted.end()) != sorted.end()) {
        complain_about("flight.modulation_MHz", "the same frequency twice: it unwraps nothing",
                       "frequencies that differ");
    }
    const auto [least, most] = s.flight.intensity_range;
    if (sound({"flight.intensity_range"}) && least >= most) {
        complain_about("flight.intensity_range", "the least light is not below the most", "[least, most]");
    }
    if (sound({"flight.intensity_table_points"}) && s.flight.intensity_points > 0 && s.flight.intensity_points < 4) {
        complain_about("flight.intensity_table_points",
                       fmt::format("too few points to interpolate, got {}", s.flight.intensity_points),
                       "0, or 4 and more");
    }
    if (sound({"flight.buckets", "flight.taps"}) && s.flight.buckets % s.flight.taps != 0) {
        complain_about("flight.taps",
                       fmt::format("{} taps cannot share {} buckets evenly", s.flight.taps, s.flight.buckets),
                       "a number that divides flight.buckets");
    }
}

void Checker::check_segments() {
    const Segments& segments = scenario_.target.segments;
    const std::size_t pieces = segments.material.size();
    if (segments.length.size() != pieces && sound({"target.segments.length_mm", "target.segments.material"})) {
        complain_about("target.segments.length_mm",
                       fmt::format("{} lengths for {} materials", segments.length.size(), pieces),
                       "one length for each material");
    }
    if (!segments.height.empty() && segments.height.size() != pieces && sound({"target.segments.height_mm"})) {
        complain_about("target.segments.height_mm",
                       fmt::format("{} heights for {} materials", segments.height.size(), pieces),
                       "one height for each material, or none at all");
    }
    const ShapeKind shape = scenario_.target.shape;
    if (pieces > 0 && shape != ShapeKind::plane && shape != ShapeKind::cylinder && sound({"target.shape"})) {
        complain_about("target.segments.material", "pieces of surface lie on a plane or a cylinder only",
                       "target.shape = \"plane\" or \"cylinder\"");
    }
}

void Checker::check_motion() {
    const Motion& m = scenario_.motion;
    const Target& t = scenario_.target;
    const bool moves =
        m.along != 0.0 || m.across != Pair{0.0, 0.0} || m.vibration != 0.0 || m.rotation != 0.0 || !m.path.empty();
    if (moves && scenario_.run.model == LightModel::ray && sound({"run.model"})) {
        complain_about("run.model", "the ray model follows the light of a part that stands still", "spot");
    }
    if (m.rotation == 0.0 && m.eccentricity == 0.0) return;
    const std::string key = m.rotation != 0.0 ? "motion.rotation_rpm" : "motion.eccentricity_um";
    const bool turns = t.shape == ShapeKind::cylinder && t.cylinder.curvature == Curvature::convex;
    if (!turns && sound({"target.shape", "target.cylinder.curvature"})) {
        complain_about(key, "only a convex cylinder turns", "target.shape = \"cylinder\"");
        return;
    }
    if (sound({"motion.eccentricity_um", "target.cylinder.radius_mm"}) && m.eccentricity >= t.cylinder.radius) {
        complain_about("motion.eccentricity_um",
                       fmt::format("not below the radius of {:g} mm", t.cylinder.radius / base::mm),
                       fmt::format("value < {:g} um", t.cylinder.radius / base::um));
    }
}

// What varies over a surface, where no model follows it.
void Checker::check_markings() {
    const Target& t = scenario_.target;
    if (!has_markings(t)) return;
    const std::string key = t.pattern.kind != PatternKind::none ? "target.pattern.kind"
                            : t.texture.deviation > 0.0         ? "target.texture.deviation"
                                                                : "target.feed_marks.spacing_um";
    if (scenario_.motion.rotation != 0.0 && sound({"motion.rotation_rpm"})) {
        complain_about(
            key, "a surface with markings does not turn with a cylinder in the model",
            "motion.rotation_rpm = 0; or target.segments, whose lengths lie around the cylinder and pass with its "
            "surface");
    }
    if (!t.segments.material.empty() && sound({"target.segments.material"})) {
        complain_about(key, "a part has pieces of surface along its motion, or markings, not both",
                       "no target.segments, or no markings");
    }
    if (t.feed_marks.spacing > 0.0 && t.shape == ShapeKind::plate && sound({"target.shape"})) {
        complain_about("target.feed_marks.spacing_um", "feed marks on a plate are not modelled",
                       "0, or another target.shape");
    }
    constexpr double steepest = 0.25;
    const double slope = 0.5 * t.feed_marks.spacing / t.feed_marks.tool_radius;
    if (slope > steepest && sound({"target.feed_marks.spacing_um", "target.feed_marks.tool_radius_mm"})) {
        complain_about("target.feed_marks.spacing_um",
                       fmt::format("grooves as steep as {:.2g}: the model is for shallow ones", slope),
                       fmt::format("value <= {:g} um", 2.0 * steepest * t.feed_marks.tool_radius / base::um));
    }
}

// Hot air and a second sensor.
void Checker::check_around() {
    const auto [inner, outer] = scenario_.surroundings.hot_air_scales;
    if (inner >= outer && sound({"surroundings.hot_air_scales_mm"})) {
        complain_about("surroundings.hot_air_scales_mm", "the inner scale is not below the outer one",
                       "[inner, outer]");
    }
    const Neighbour& n = scenario_.neighbour;
    if (n.power == 0.0) return;
    const Motion& m = scenario_.motion;
    const bool changes = m.along != 0.0 || m.across != Pair{0.0, 0.0} || m.vibration != 0.0 || m.rotation != 0.0 ||
                         m.eccentricity != 0.0 || !m.path.empty() || !scenario_.target.segments.material.empty();
    if (changes) complain_about("neighbour.power_mW", "a second sensor is followed before a part at rest only", "0");
    if (n.timing == NeighbourTiming::free && n.exposure > n.period &&
        sound({"neighbour.period_us", "neighbour.exposure_us"})) {
        complain_about("neighbour.exposure_us", "longer than the period of that sensor",
                       fmt::format("value <= {:g} us", n.period / base::us));
    }
}

void Checker::check_together() {
    const Scenario& s = scenario_;
    if (sound({"mount.range_mm"}) && s.mount.range[0] >= s.mount.range[1]) {
        complain_about("mount.range_mm", "near end must be smaller than far end", "[near, far] with near < far");
    }
    if (sound({"mount.range_mm", "mount.reference_distance_mm"}) && s.mount.range[0] <= -s.mount.reference_distance) {
        complain_about("mount.range_mm", "the near end lies behind the emitter face",
                       fmt::format("near > {:g} mm", -s.mount.reference_distance / base::mm));
    }
    check_exposure();
    check_focal_length();
    std::visit(base::Cases{[this](Triangulation) { check_instrument(); }, [this](PhaseShift) { check_flight(); },
                           [this](Pulsed) { check_flight(); }},
               s.principle);
    check_segments();
    check_markings();
    check_motion();
    check_around();
    if (sound({"reading.median"}) && s.reading.median % 2 == 0) {
        complain_about("reading.median", fmt::format("must be odd, got {}", s.reading.median), "1, 3, 5, ...");
    }
    if (sound({"exposure.level", "reading.threshold"}) && s.exposure.level <= s.reading.threshold) {
        complain_about("reading.threshold",
                       fmt::format("not below exposure.level of {:g}, got {:g}: the reference would not be found",
                                   s.exposure.level, s.reading.threshold),
                       fmt::format("value < {:g}", s.exposure.level));
    }
    const std::int64_t windows = s.reading.average + s.reading.median;
    if (sound({"run.readings", "reading.average", "reading.median"}) && s.run.readings < windows) {
        complain_about("run.readings", fmt::format("too few for two outputs of full windows, got {}", s.run.readings),
                       fmt::format("{} or more, reading.average + reading.median", windows));
    }
    if (sound({"requirement.marginal_valid_share", "requirement.stable_valid_share"}) &&
        s.requirement.marginal_valid_share > s.requirement.stable_valid_share) {
        complain_about("requirement.marginal_valid_share", "asks for more than `stable` does",
                       fmt::format("value <= {:g}", s.requirement.stable_valid_share));
    }
}

}  // namespace

void check_together(const Scenario& scenario, std::vector<base::Problem>& problems) {
    Checker(scenario, problems).check_together();
}

}  // namespace spotwright::scenario
