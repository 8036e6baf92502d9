// Changes of light, lens and filter, and of how light is timed.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/measure/motion.hpp"
#include "sim/study/change_list.hpp"

namespace spotwright::study {

using base::mm, base::mW, base::nm, base::um, base::us;

void ChangeList::optics() {
    const scenario::Aperture& a = s_.receiver.aperture;
    for (const double factor : {0.6, 1.5, 2.0}) {
        const bool is_round = a.shape == scenario::ApertureShape::round;
        add("aperture", fmt::format("a receiver aperture {:g} times as wide", factor),
            {is_round ? set("receiver.aperture_mm", factor * a.in_plane / mm)
                      : set("receiver.aperture_mm", factor * a.in_plane / mm, factor * a.out_of_plane / mm)},
            0.0, 1);
    }
    constexpr double narrow = 5.0 * nm;
    const bool glows = s_.target.temperature.has_value();
    if (s_.receiver.filter_width > narrow && (glows || s_.surroundings.light != scenario::Light::none)) {
        add("filter", "a filter 5 nm wide", {set("receiver.filter_width_nm", narrow / nm)}, 0.0, 1);
    }
    // Light that is not the emitter's beside the peak: more than a tenth of it.
    constexpr double little = 0.1;
    if (result_.signal.lamps > little * result_.signal.peak) {
        add("shade", "a shade that leaves a tenth of the ambient light",
            {set("surroundings.illuminance_lx", 0.1 * s_.surroundings.illuminance)});
    }
    constexpr double blue = 450.0 * nm;
    if (result_.signal.glow > little * result_.signal.peak && s_.emitter.wavelength > blue) {
        const bool pulsed = !scenario::abilities_of(s_.principle).exposure;
        add("wavelength",
            pulsed ? std::string("light of 450 nm, where the part glows less: check its laser class")
                   : fmt::format("light of 450 nm, where the part glows less: laser class {} (estimated)",
                                 emitter::estimated_class(blue, s_.emitter.power)),
            {set("emitter.wavelength_nm", blue / nm)}, 0.0, 1);
    }
    const auto [in_plane, out_of_plane] = s_.emitter.waist_radius;
    if (scenario::abilities_of(s_.principle).array && out_of_plane < 4.0 * in_plane) {
        add("spot", "a spot drawn out to a short line across the plane of the mounting",
            {set("emitter.waist_radius_um", in_plane / um, std::min(10.0 * in_plane / um, 1e4))}, 0.0, 1);
    }
}

// Power and wavelength within the class that the scenario's own emitter is estimated to be in.
void ChangeList::light() {
    if (!scenario::abilities_of(s_.principle).exposure) return;  // pulses have limits of their own: their power stays
    const double now = s_.emitter.wavelength;
    const emitter::EmissionLimits limits = emitter::emission_limits(now);
    const std::array<double, 4> steps{limits.class_1, limits.class_2, limits.class_3r, limits.class_3b};
    const auto fits = [&](double limit) { return limit >= s_.emitter.power; };
    const auto own = std::find_if(steps.begin(), steps.end(), fits);
    if (own == steps.end()) return;
    const std::string name = emitter::estimated_class(now, s_.emitter.power);
    const auto index = static_cast<std::size_t>(own - steps.begin());
    constexpr double worth = 1.1;
    if (*own > worth * s_.emitter.power) {
        add("power", fmt::format("the whole {:.3g} mW that class {} is estimated to allow", *own / mW, name),
            {set("emitter.power_mW", std::floor(*own / mW * 1e4) / 1e4)}, 0.0, 1);
    }
    for (const double other : {520.0 * nm, 655.0 * nm, 850.0 * nm}) {
        if (std::abs(other - now) < 50.0 * nm) continue;
        const emitter::EmissionLimits there = emitter::emission_limits(other);
        const double limit = std::array{there.class_1, there.class_2, there.class_3r, there.class_3b}[index];
        if (limit <= 0.0) continue;  // the class does not exist there
        add("wavelength", fmt::format("light of {:g} nm, in the same class", other / nm),
            {set("emitter.wavelength_nm", other / nm), set("emitter.power_mW", std::min(s_.emitter.power, limit) / mW)},
            0.0, 1);
    }
}

void ChangeList::flight() {
    const auto by_pulses = [this](scenario::Pulsed) {
        for (const std::int64_t factor : {4, 16}) {
            add("pulses", fmt::format("{} pulses for a reading", factor * s_.flight.pulses),
                {fmt::format("flight.pulses={}", factor * s_.flight.pulses)});
        }
        add("timing", "time by constant fraction, against walk", {set("flight.timing", "constant-fraction")});
    };
    const auto by_phase = [this](scenario::PhaseShift) {
        if (s_.exposure.mode == scenario::ExposureMode::fixed && measure::is_moving_series(s_)) {
            for (const double part : {0.5, 0.125}) {
                const double exposure = part * s_.exposure.exposure / us;
                add("exposure", fmt::format("expose for {:.4g} us: the part moves less meanwhile", exposure),
                    {set("exposure.exposure_us", exposure)});
            }
        }
        if (s_.flight.buckets < 8) add("buckets", "8 buckets, against cyclic error", {"flight.buckets=8"});
        const double fastest = *std::max_element(s_.flight.modulation.begin(), s_.flight.modulation.end());
        if (s_.flight.modulation.size() == 1) {
            // A second frequency in the ratio 4 to 5 keeps what is unambiguous.
            add("modulation", "modulate at twice the frequency, and at 8/5 of it against wrong wraps",
                {set("flight.modulation_MHz", 2.0 * fastest / base::MHz, 1.6 * fastest / base::MHz)}, 0.0, 1);
        }
    };
    std::visit(base::Cases{by_pulses, by_phase, [](scenario::Triangulation) {}}, s_.principle);
    table();
}

// A table of corrections that reaches the light of the part.
void ChangeList::table() {
    const measure::TimedLight* light = measure::timed_light(result_.details);
    const bool walks =
        std::holds_alternative<scenario::Pulsed>(s_.principle) || s_.flight.walk != 0.0 || s_.flight.crosstalk > 0.0;
    if (light == nullptr || !walks || !(light->brightness > 0.0)) return;
    const auto [least, most] = s_.flight.intensity_range;
    constexpr std::int64_t enough = 32;
    const bool reaches = light->brightness >= least && light->brightness <= most;
    if (s_.flight.intensity_points >= enough && reaches) return;
    constexpr double room = 2.0;
    const std::int64_t points = std::max(enough, s_.flight.intensity_points);
    add("table", "calibrate with a table of corrections over the strength of the echo",
        {fmt::format("flight.intensity_table_points={}", points),
         set("flight.intensity_range", std::min(1.0, light->brightness) / room,
             std::max(1.0, light->brightness) * room)});
}

}  // namespace spotwright::study
