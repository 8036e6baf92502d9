// Noise, jitter and light of a sensor that sends pulses, and what both kinds of time of flight have in common.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/study/sheet_ranges.hpp"
#include "sim/study/sheet_trial.hpp"

namespace spotwright::study {

namespace {

using base::ps, base::nW;
using scenario::Scenario;

class PulseSolver {
public:
    explicit PulseSolver(SheetTrial& trial) : t_(trial), s_(trial.s) {}

    bool solve();

private:
    void set_clock(double wanted);
    [[nodiscard]] std::optional<double> scatter();
    bool solve_noise(double wanted);
    bool solve_jitter(double wanted);
    bool solve_light(double wanted);
    // Scatter of a reading by a deviation of each pulse's time. [m]
    [[nodiscard]] double reading_of(double time) const {
        return 0.5 * base::speed_of_light * time / std::sqrt(static_cast<double>(s_.flight.pulses));
    }
    [[nodiscard]] double clock() const {
        constexpr double uniform = 12.0;
        return reading_of(
            std::sqrt(s_.flight.jitter * s_.flight.jitter + s_.flight.digitiser * s_.flight.digitiser / uniform));
    }

    SheetTrial& t_;
    Scenario& s_;
};

// Of the variance of a pulse's time the share that jitter and the digitiser have. Equation (sheet.13).
void PulseSolver::set_clock(double wanted) {
    const double time = wanted / reading_of(1.0);
    const double variance = t_.draw(Open::clock_share) * time * time;
    constexpr double most_of_it = 6.0;  // the digitiser's, step^2 / 12, is at most half
    s_.flight.digitiser = std::min(s_.flight.digitiser, std::sqrt(most_of_it * variance));
    const double jitter = std::sqrt(variance - s_.flight.digitiser * s_.flight.digitiser / (2.0 * most_of_it));
    s_.flight.jitter = std::min(jitter, range_of(Open::jitter).high * ps);
}

std::optional<double> PulseSolver::scatter() {
    t_.carry_over();
    return single_scatter(*t_.candidate.setup);
}

// Time noise of the comparator goes as the amplifier's, but for shot noise. Equation (sheet.14).
bool PulseSolver::solve_noise(double wanted) {
    const OpenRange& range = range_of(Open::amplifier_noise);
    for (int i = 0; i < solver_steps; ++i) {
        const std::optional<double> found = scatter();
        if (!found) {
            if (s_.flight.noise <= range.low * nW) break;
            constexpr double quieter = 0.25;  // the tile is lost in noise
            s_.flight.noise = std::max(quieter * s_.flight.noise, range.low * nW);
            continue;
        }
        if (std::abs(*found / wanted - 1.0) < solver_close) return true;
        const double clock_square = clock() * clock();
        const double excess = std::max(*found * *found - clock_square, solver_close * wanted * wanted);
        const double next = s_.flight.noise * std::sqrt((wanted * wanted - clock_square) / excess);
        if (next > range.high * nW) return solve_jitter(wanted);
        if (next < range.low * nW) return solve_light(wanted);
        s_.flight.noise = next;
    }
    const std::optional<double> last = scatter();
    if (!last) {
        t_.miss_tile();
        return false;
    }
    return true;  // not quite solved: `judge` says whether it is near enough
}

// All the noise of an amplifier is less than the wanted scatter: jitter makes up for the rest.
bool PulseSolver::solve_jitter(double wanted) {
    const OpenRange& range = range_of(Open::jitter);
    s_.flight.noise = std::min(s_.flight.noise, range_of(Open::amplifier_noise).high * nW);
    for (int i = 0; i < solver_steps; ++i) {
        const std::optional<double> found = scatter();
        if (!found) break;
        if (std::abs(*found / wanted - 1.0) < solver_close) return true;
        const double per_jitter = reading_of(1.0);
        const double square =
            s_.flight.jitter * s_.flight.jitter + (wanted * wanted - *found * *found) / (per_jitter * per_jitter);
        const double next = std::sqrt(std::max(0.0, square));
        if (next > range.high * ps) {
            t_.miss(SheetFigure::repeatability, Misfit::noise, wanted / *found, t_.figure_from(*found));
            return false;
        }
        s_.flight.jitter = next;
    }
    if (scatter()) return true;
    t_.miss_tile();
    return false;
}

// With the quietest amplifier pulses still scatter too much: more light makes their slope steeper.
bool PulseSolver::solve_light(double wanted) {
    s_.flight.noise = range_of(Open::amplifier_noise).low * nW;
    std::optional<double> found;
    for (int i = 0; i < solver_steps; ++i) {
        found = scatter();
        if (!found || std::abs(*found / wanted - 1.0) < solver_close) break;
        const double clock_square = clock() * clock();
        const double excess = std::max(*found * *found - clock_square, solver_close * wanted * wanted);
        LightSearch light{std::sqrt(excess / (wanted * wanted - clock_square))};
        const double asked = light.factor;
        light.take_from_receiver(lens_diameters(t_.sheet), s_);
        if (!t_.build()) return false;
        if (light.factor == asked) break;  // nothing is left to change
    }
    if (!found) {
        t_.miss_tile();
        return false;
    }
    constexpr double near = 0.03;
    if (*found <= wanted * (1.0 + near)) return true;
    t_.miss(SheetFigure::repeatability, Misfit::quiet, *found / wanted, t_.figure_from(*found));
    return false;
}

bool PulseSolver::solve() {
    if (!t_.asks_for(SheetFigure::repeatability)) return true;
    const double wanted = t_.wanted_scatter();
    set_clock(wanted);
    return solve_noise(wanted) && t_.build();
}

// Whether noise leaves readings of the tile valid at a place.
bool is_read_at(const sensor::FlightSetup& setup, double displacement) {
    constexpr std::int64_t readings = 24;
    constexpr std::int64_t enough = 22;
    const sensor::FlightPose pose = sensor::make_flight_pose(setup, displacement);
    std::int64_t valid = 0;
    for (std::int64_t i = 0; i < readings; ++i) {
        if (sensor::take_reading(setup, pose, i).validity == reading::Validity::valid) ++valid;
    }
    return valid >= enough;
}

}  // namespace

bool reads_over_range(SheetTrial& t) {
    const auto& setup = std::get<sensor::FlightSetup>(*t.candidate.setup);
    for (const double end : t.s.mount.range) {
        if (is_read_at(setup, end)) continue;
        t.miss(Misfit::geometry, 1.0);
        t.candidate.obstacle = fmt::format("a matt white tile gives invalid readings at {:g} mm, an end of the range",
                                           (t.s.mount.reference_distance + end) / base::mm);
        return false;
    }
    return true;
}

bool solve_delay_drift(SheetTrial& t) {
    constexpr double most = 100.0 * ps;
    return t.solve_drift([](Scenario& s) -> double& { return s.flight.delay_drift; }, t.draw(Open::delay_drift) * ps,
                         most);
}

void solve_pulses(SheetTrial& t) {
    if (!t.build()) return;
    if (!PulseSolver(t).solve() || !solve_delay_drift(t) || !reads_over_range(t)) return;
    t.judge();
}

}  // namespace spotwright::study
