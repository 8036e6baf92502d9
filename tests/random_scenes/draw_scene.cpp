#include "random_scenes/draw_scene.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <initializer_list>
#include <stdexcept>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::test {

namespace {

class SceneDraw {
public:
    SceneDraw(std::uint64_t seed, int index, int attempt, std::filesystem::path folder)
        : random_({seed, base::Stream::budget_trial}, std::int64_t{1000000} * index + attempt),
          index_(index),
          folder_(std::move(folder)) {}

    std::vector<std::string> settings() {
        mount();
        emitter();
        receiver();
        detector();
        part();
        if (index_ % 2 == 1) making();
        return std::move(settings_);
    }

    std::vector<std::string> timed_settings() {
        deep_ = 10.0;
        steep_ = 45.0;
        timed_mount();
        timed_beam();
        timed_receiver();
        part();
        return std::move(settings_);
    }

private:
    void set(const std::string& key, double value) { settings_.push_back(fmt::format("{}={:.6g}", key, value)); }
    void set(const std::string& key, double first, double second) {
        settings_.push_back(fmt::format("{}=[{:.6g}, {:.6g}]", key, first, second));
    }
    void set(const std::string& key, const std::string& word) { settings_.push_back(key + "=" + word); }

    double between(double low, double high) { return low + (high - low) * random_.uniform(); }
    double logarithmic(double low, double high) { return low * std::pow(high / low, random_.uniform()); }
    bool chance(double share) { return random_.uniform() < share; }
    std::string one_of(const std::vector<std::string>& words) {
        return words[static_cast<std::size_t>(random_.uniform() * static_cast<double>(words.size()))];
    }

    void mount() {
        specular_ = index_ / part_kinds % 2 == 1;
        angle_ = between(10.0, 60.0);
        set("emitter.angle_deg", specular_ ? -angle_ : 0.0);
        set("receiver.angle_deg", angle_);
        set("mount.reference_distance_mm", logarithmic(20.0, 200.0));
        distance_ = logarithmic(20.0, 200.0);
        set("receiver.distance_mm", distance_);
        const double reach = logarithmic(0.2, 10.0);
        set("mount.range_mm", -reach, reach);
        set("target.displacement_mm", between(-reach, reach));
    }

    void emitter() {
        set("emitter.wavelength_nm", between(405.0, 905.0));
        waist_ = logarithmic(5.0, 3000.0);
        set("emitter.waist_radius_um", waist_, logarithmic(5.0, 3000.0));
        set("emitter.waist_displacement_mm", between(-5.0, 5.0));
        set("emitter.beam_quality", between(1.0, 2.0));
        if (chance(0.2)) set("emitter.out_of_plane_mm", between(-0.2, 0.2));
    }

    void receiver() {
        set("receiver.focal_length_mm", distance_ * logarithmic(0.15, 0.7));
        aperture_ = logarithmic(0.5, 20.0);
        if (chance(0.5)) {
            set("receiver.aperture_mm", aperture_);
        } else {
            set("receiver.aperture_mm", aperture_, logarithmic(0.5, 20.0));
        }
        if (chance(0.5)) set("receiver.detector_tilt_deg", between(-60.0, 60.0));
    }

    void detector() {
        set("detector.pixels", std::floor(logarithmic(64.0, 2049.0)));
        set("detector.pitch_um", logarithmic(3.0, 30.0));
        set("detector.height_um", logarithmic(3.0, 5000.0));
    }

    void timed_mount() {
        set("principle", chance(0.5) ? "pulsed" : "phase-shift");
        specular_ = index_ / part_kinds % 2 == 1;
        distance_ = logarithmic(50.0, 5000.0);
        set("mount.reference_distance_mm", distance_);
        if (chance(0.3)) set("emitter.angle_deg", between(-20.0, 20.0));
        const double nearest = -logarithmic(0.01, 0.6) * distance_;
        const double farthest = logarithmic(0.01, 1.0) * distance_;
        set("mount.range_mm", nearest, farthest);
        displacement_ = between(nearest, farthest);
        set("target.displacement_mm", displacement_);
    }

    // Each axis has its own half-angle of divergence; the waist lies anywhere from behind the emitter's face to behind
    // the reference point.
    void timed_beam() {
        const double wavelength = between(405.0, 905.0);
        set("emitter.wavelength_nm", wavelength);
        const double quality = logarithmic(1.0, 30.0);
        set("emitter.beam_quality", quality);
        const double from_reference = between(-1.2, 0.5) * distance_;
        set("emitter.waist_displacement_mm", from_reference);
        std::array<double, 2> waist{};  // [um]
        for (double& each : waist) {
            const double divergence = logarithmic(1e-4, 0.03);
            each = std::clamp(quality * wavelength / 1000.0 / (base::pi * divergence), 1.0, 1e4);
        }
        set("emitter.waist_radius_um", waist[0], waist[1]);
        const double divergence = quality * wavelength / 1000.0 / (base::pi * waist[0]);
        waist_ = std::hypot(waist[0], 1000.0 * divergence * (displacement_ - from_reference));
        if (chance(0.2)) set("emitter.out_of_plane_mm", between(-1.0, 1.0));
        if (chance(0.3)) {
            set("emitter.polarisation_degree", between(0.0, 1.0));
            set("emitter.polarisation_direction_deg", between(-180.0, 180.0));
        }
    }

    // In half of the scenes the detector is about as large as the image of the spot.
    void timed_receiver() {
        const double baseline = chance(0.4) ? 0.0 : logarithmic(5.0, 60.0);
        set("flight.baseline_mm", baseline);
        set("receiver.distance_mm", std::hypot(baseline, distance_));
        const double focal_length = std::min(logarithmic(5.0, 60.0), 0.5 * distance_);
        set("receiver.focal_length_mm", focal_length);
        aperture_ = focal_length * logarithmic(0.1, 0.9);
        if (chance(0.5)) {
            set("receiver.aperture_mm", aperture_);
        } else {
            set("receiver.aperture_mm", aperture_, focal_length * logarithmic(0.1, 0.9));
        }
        const double image = 2.0 * waist_ / 1000.0 * focal_length / (distance_ - focal_length);
        const double diameter = chance(0.5) ? image * logarithmic(0.5, 5.0) : logarithmic(0.05, 5.0);
        set("flight.detector_diameter_mm", std::clamp(diameter, 0.02, 20.0));
        set("flight.modulation_MHz", "[" + fmt::format("{:.6g}", logarithmic(1.0, 300.0)) + "]");
    }

    void part() {
        const std::vector<std::string> materials = scenario::material_names();
        set("target.material", one_of(materials));
        set("target.lay_deg", between(-180.0, 180.0));
        // In half of the specular scenes the part is turned so little that what it mirrors comes about to the aperture.
        const double most = specular_ && chance(0.5) ? std::min(20.0, aperture_ / distance_ / base::degree) : steep_;
        set("target.tilt_deg", between(-most, most), between(-most, most));
        shape(materials);
        if ((index_ + index_ / part_kinds) % 3 == 2) markings(materials);
    }

    // Of sizes about that of the spot.
    void markings(const std::vector<std::string>& materials) {
        const double beside = 1.5 * waist_ / 1000.0;
        static const std::vector<std::string> kinds{"border", "bars", "dots", "hatching", "weave", "grain", "patch"};
        set("target.pattern.kind", one_of(kinds));
        set("target.pattern.material", one_of(materials));
        set("target.pattern.turn_deg", between(-180.0, 180.0));
        set("target.pattern.position_mm", between(-beside, beside), between(-beside, beside));
        set("target.pattern.period_mm", beside * logarithmic(0.3, 10.0));
        set("target.pattern.share", between(0.1, 0.7));
        set("target.pattern.size_mm", beside * logarithmic(0.3, 3.0), beside * logarithmic(0.3, 3.0));
        if (chance(0.5)) set("target.pattern.softness_um", waist_ * logarithmic(0.1, 2.0));
        if (chance(0.3)) {
            set("target.texture.deviation", between(0.02, 0.3));
            set("target.texture.length_um", std::max(1.0, waist_ * logarithmic(0.3, 10.0)));
        }
        if (chance(0.3) && index_ % part_kinds < first_plate) {
            const double spacing = waist_ * logarithmic(0.3, 5.0);
            set("target.feed_marks.spacing_um", spacing);
            set("target.feed_marks.tool_radius_mm", spacing / 1000.0 * logarithmic(2.0, 30.0));
            set("target.feed_marks.turn_deg", between(-180.0, 180.0));
        }
    }

    void shape(const std::vector<std::string>& materials) {
        const std::vector<std::string> directions{"across", "parallel"};
        const std::vector<std::string> curvatures{"convex", "concave"};
        static const std::vector<std::string> kinds{"plane", "step",   "cylinder", "sphere", "groove",
                                                    "wave",  "relief", "plate",    "plate"};
        const auto number = static_cast<std::size_t>(index_ % part_kinds);
        const std::string& kind = kinds[number];
        set("target.shape", kind);
        // Edges and crests lie about where the beam lands.
        const double beside = 1.5 * waist_ / 1000.0;
        if (kind == "step") {
            set("target.step.height_mm", (chance(0.5) ? 1.0 : -1.0) * logarithmic(0.02, 3.0 * deep_));
            set("target.step.position_mm", between(-beside, beside));
            set("target.step.edge", one_of(directions));
        } else if (kind == "cylinder" || kind == "sphere") {
            const double radius = logarithmic(0.5, 50.0 * deep_);
            set("target." + kind + ".radius_mm", radius);
            set("target." + kind + ".curvature", one_of(curvatures));
            if (kind == "cylinder") {
                set("target.cylinder.axis", one_of(directions));
                set("target.cylinder.position_mm", between(-0.7, 0.7) * radius);
            } else {
                set("target.sphere.position_mm", between(-0.5, 0.5) * radius, between(-0.5, 0.5) * radius);
            }
        } else if (kind == "groove") {
            set("target.groove.depth_mm", logarithmic(0.05, 3.0 * deep_));
            set("target.groove.opening_deg", between(40.0, 160.0));
            set("target.groove.axis", one_of(directions));
            set("target.groove.position_mm", between(-beside, beside));
        } else if (kind == "wave") {
            const double period = logarithmic(0.2, 10.0);
            set("target.wave.period_mm", period);
            set("target.wave.amplitude_mm", period * logarithmic(0.001, 0.1));
            set("target.wave.axis", one_of(directions));
            set("target.wave.position_mm", between(-0.5, 0.5) * period);
        } else if (kind == "relief") {
            set("target.relief.file", write_relief());
            set("target.relief.axis", one_of(directions));
            set("target.relief.position_mm", between(-beside, beside), between(-beside, beside));
        } else if (kind == "plate") {
            set("target.plate.thickness_mm", logarithmic(0.1, 5.0 * deep_));
            const bool backed = number == kinds.size() - 1;
            set("target.plate.backing", backed ? one_of(materials) : "none");
            if (backed && chance(0.5)) set("target.plate.gap_mm", logarithmic(0.02, 2.0 * deep_));
        }
    }

    // What is wrong with the lens and the array, and a glass before them.
    void making() {
        for (const char* const aberration : {"spherical", "coma", "astigmatism"}) {
            const double waves = logarithmic(0.05, 10.0);
            set(fmt::format("receiver.{}_waves", aberration), chance(0.5) ? waves : -waves);
        }
        set("receiver.focus_error_um", between(-300.0, 300.0));
        set("receiver.tilt_error_deg", between(-2.0, 2.0));
        if (chance(0.5)) set("cover.glass_mm", logarithmic(0.3, 10.0));
    }

    std::string write_relief() {
        const bool map = chance(0.5);
        const std::string name = fmt::format("relief-{}.csv", index_);
        std::ofstream file(folder_ / name);
        const double spacing = logarithmic(0.1, 2.0);
        const double height = spacing * logarithmic(0.01, 0.5);
        constexpr int places = 9;
        file << (map ? "x_mm,y_mm,height_mm\n" : "x_mm,height_mm\n");
        for (int i = 0; i < places; ++i) {
            const double x = (i - places / 2) * spacing;
            for (int k = 0; k < (map ? places : 1); ++k) {
                const double z = between(-height, height);
                if (map) {
                    file << fmt::format("{:.6g},{:.6g},{:.6g}\n", x, (k - places / 2) * spacing, z);
                } else {
                    file << fmt::format("{:.6g},{:.6g}\n", x, z);
                }
            }
        }
        return name;
    }

    static constexpr int first_plate = 7;  // of the kinds of parts

    base::RandomSequence random_;
    int index_;
    std::filesystem::path folder_;
    std::vector<std::string> settings_;
    bool specular_ = false;
    double angle_ = 0.0;
    double distance_ = 0.0;
    double aperture_ = 0.0;
    double waist_ = 0.0;  // about the radius of the spot. [um]
    double displacement_ = 0.0;
    double deep_ = 1.0;    // times the depth of parts for triangulation
    double steep_ = 20.0;  // largest tilt. [deg]
};

void check_triangulation(const scenario::Scenario& scenario) {
    static_cast<void>(sensor::checked_receiver(scenario));
}

// The near end of the range stands before emitter and lens.
void check_timed(const scenario::Scenario& scenario) {
    static_cast<void>(sensor::make_flight_layout(scenario));
}

template <class Settings, class Check>
DrawnScene first_accepted(std::uint64_t seed, int index, const std::filesystem::path& folder, const Settings& settings,
                          const Check& check) {
    DrawnScene scene;
    constexpr int most = 100000;
    for (int attempt = 0; attempt < most; ++attempt) {
        SceneDraw draw(seed, index, attempt, folder);
        scene.settings = settings(draw);
        try {
            scene.scenario = scenario::parse("", (folder / "scene.toml").string(), scene.settings);
            check(scene.scenario);
            return scene;
        } catch (const base::ScenarioError& error) {
            ++scene.rejected_for[error.problems().front().location.key];
        }
    }
    throw std::runtime_error(fmt::format("no scene {} of seed {} that the program takes", index, seed));
}

}  // namespace

DrawnScene draw_scene(std::uint64_t seed, int index, const std::filesystem::path& folder) {
    return first_accepted(
        seed, index, folder, [](SceneDraw& draw) { return draw.settings(); }, check_triangulation);
}

DrawnScene draw_timed_scene(std::uint64_t seed, int index, const std::filesystem::path& folder) {
    return first_accepted(
        seed, index, folder, [](SceneDraw& draw) { return draw.timed_settings(); }, check_timed);
}

}  // namespace spotwright::test
