#include "sim/study/linearity.hpp"

#include <Eigen/Core>
#include <boost/math/tools/toms748_solve.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/linear.hpp"
#include "sim/base/parallel.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/real_error.hpp"

namespace spotwright::study {

namespace {

using Curve = std::span<const double>;

void require_finite(Curve values, const char* what) {
    for (const double value : values) {
        if (!std::isfinite(value)) throw base::DomainError(what, value, "finite");
    }
}

// How far the errors stray from a line.
NonLinearity strayed(Curve reference, Curve error, double offset, double slope) {
    NonLinearity result{offset, slope, 0.0};
    for (std::size_t i = 0; i < reference.size(); ++i) {
        result.largest = std::max(result.largest, std::abs(error[i] - offset - slope * reference[i]));
    }
    return result;
}

NonLinearity terminal(Curve reference, Curve error) {
    const double slope = (error.back() - error.front()) / (reference.back() - reference.front());
    return strayed(reference, error, error.front() - slope * reference.front(), slope);
}

// The line through the near end: largest distance above it and below it as functions of the slope k, max(r - k d) and
// max(k d - r) with d and r from the near end. The first falls, the second rises; the least of the larger is where they
// meet, on the two errors that are farthest there.
NonLinearity zero_based(Curve reference, Curve error) {
    struct Farthest {
        double distance = 0.0;
        std::size_t at = 0;
    };
    const auto farthest = [&](double slope, double sign) {
        Farthest result;
        for (std::size_t i = 1; i < reference.size(); ++i) {
            const double away = sign * (error[i] - error.front() - slope * (reference[i] - reference.front()));
            if (away > result.distance) result = {away, i};
        }
        return result;
    };
    const auto balance = [&](double slope) { return farthest(slope, 1.0).distance - farthest(slope, -1.0).distance; };
    double least = (error[1] - error.front()) / (reference[1] - reference.front());
    double greatest = least;
    for (std::size_t i = 2; i < reference.size(); ++i) {
        const double slope = (error[i] - error.front()) / (reference[i] - reference.front());
        least = std::min(least, slope);
        greatest = std::max(greatest, slope);
    }
    double slope = least;
    if (balance(least) > 0.0 && balance(greatest) < 0.0) {
        std::uintmax_t steps = 200;
        const auto [low, high] = boost::math::tools::toms748_solve(balance, least, greatest,
                                                                   boost::math::tools::eps_tolerance<double>(), steps);
        slope = 0.5 * (low + high);
        // Exactly, on the two errors found.
        const std::size_t above = farthest(slope, 1.0).at;
        const std::size_t below = farthest(slope, -1.0).at;
        if (above > 0 && below > 0) {
            slope = (error[above] + error[below] - 2.0 * error.front()) /
                    (reference[above] + reference[below] - 2.0 * reference.front());
        }
    }
    return strayed(reference, error, error.front() - slope * reference.front(), slope);
}

// Upper (sign 1) or lower (-1) convex hull, by indices. Source: A. M. Andrew, Inf. Process. Lett. 9, 216 (1979).
std::vector<std::size_t> hull_of(Curve reference, Curve error, double sign) {
    std::vector<std::size_t> hull;
    const auto turns_inwards = [&](std::size_t a, std::size_t b, std::size_t c) {
        const double first = (reference[b] - reference[a]) * (error[c] - error[a]);
        const double second = (reference[c] - reference[a]) * (error[b] - error[a]);
        return sign * (first - second) >= 0.0;
    };
    for (std::size_t i = 0; i < reference.size(); ++i) {
        while (hull.size() > 1 && turns_inwards(hull[hull.size() - 2], hull.back(), i)) hull.pop_back();
        hull.push_back(i);
    }
    return hull;
}

// The narrowest strip, measured along the error, that holds all points: one of its edges lies on an edge of the hull,
// for its width is a convex function of the slope with bends at the slopes of these edges alone.
NonLinearity independent(Curve reference, Curve error) {
    const std::vector<std::size_t> upper = hull_of(reference, error, 1.0);
    const std::vector<std::size_t> lower = hull_of(reference, error, -1.0);
    const auto extreme = [&](const std::vector<std::size_t>& hull, double slope, double sign) {
        double best = error[hull.front()] - slope * reference[hull.front()];
        for (const std::size_t i : hull) {
            const double offset = error[i] - slope * reference[i];
            if (sign * offset > sign * best) best = offset;
        }
        return best;
    };
    NonLinearity best;
    bool found = false;
    for (const auto* hull : {&upper, &lower}) {
        for (std::size_t k = 0; k + 1 < hull->size(); ++k) {
            const std::size_t a = (*hull)[k];
            const std::size_t b = (*hull)[k + 1];
            const double slope = (error[b] - error[a]) / (reference[b] - reference[a]);
            const double high = extreme(upper, slope, 1.0);
            const double low = extreme(lower, slope, -1.0);
            if (found && 0.5 * (high - low) >= best.largest) continue;
            found = true;
            best = {0.5 * (high + low), slope, 0.5 * (high - low)};
        }
    }
    return strayed(reference, error, best.offset, best.slope);
}

NonLinearity least_squares(Curve reference, Curve error) {
    const auto n = static_cast<Eigen::Index>(reference.size());
    const Eigen::Map<const Eigen::VectorXd> x(reference.data(), n);
    const Eigen::Map<const Eigen::VectorXd> y(error.data(), n);
    const double middle = x.mean();  // about which offset and slope do not disturb each other
    Eigen::MatrixXd design(n, 2);
    design.col(0).setOnes();
    design.col(1) = (x.array() - middle).matrix();
    const Eigen::Vector2d line = base::fit_linear(design, y).parameters;
    return strayed(reference, error, line[0] - line[1] * middle, line[1]);
}

// Whether the library has the material's values at the scenario's wavelength.
bool known_at_wavelength(const scenario::Scenario& s) {
    try {
        static_cast<void>(sensor::surface_of(s));
        return true;
    } catch (const base::DomainError&) {
        return false;
    }
}

LinearityCurve read_over_range(const sensor::Setup& setup, int places, int threads) {
    const scenario::Scenario& s = scenario_of(setup);
    const scenario::Pair range = s.mount.range;
    const auto count = static_cast<std::size_t>(places);
    std::vector<std::optional<double>> truth(count);
    std::vector<std::optional<double>> found(count);
    base::parallel_for(places, threads, [&](std::int64_t i) {
        const double share = static_cast<double>(i) / static_cast<double>(places - 1);
        const double displacement = std::lerp(range[0], range[1], share);
        const auto k = static_cast<std::size_t>(i);
        truth[k] = sensor::lit_displacement(s, displacement);
        if (truth[k]) found[k] = noiseless_reading(setup, displacement);
    });
    LinearityCurve curve;
    curve.material = s.target.made_of.name;
    for (std::size_t k = 0; k < count; ++k) {
        if (!found[k]) {
            ++curve.unread;
            continue;
        }
        curve.displacement.push_back(*truth[k]);
        curve.error.push_back(real_error(*found[k] - *truth[k]));
    }
    if (curve.displacement.size() >= 3) curve.figures = linearity_of(curve.displacement, curve.error);
    return curve;
}

}  // namespace

LinearityFigures linearity_of(std::span<const double> reference, std::span<const double> error) {
    if (reference.size() != error.size() || reference.size() < 3) {
        throw base::DomainError("number of errors", static_cast<double>(error.size()),
                                "one for each reference, at least 3");
    }
    require_finite(reference, "reference");
    require_finite(error, "error");
    for (std::size_t i = 1; i < reference.size(); ++i) {
        if (!(reference[i] > reference[i - 1])) throw base::DomainError("reference", reference[i], "rising references");
    }
    return {terminal(reference, error), zero_based(reference, error), independent(reference, error),
            least_squares(reference, error)};
}

double hysteresis_of(std::span<const double> rising, std::span<const double> falling) {
    if (rising.size() != falling.size() || rising.empty()) {
        throw base::DomainError("number of falling errors", static_cast<double>(falling.size()),
                                "one for each rising one, at least 1");
    }
    require_finite(rising, "rising error");
    require_finite(falling, "falling error");
    double largest = 0.0;
    for (std::size_t i = 0; i < rising.size(); ++i) largest = std::max(largest, std::abs(falling[i] - rising[i]));
    return largest;
}

std::vector<std::string> materials_compared() {
    return {"white-ceramic", "grey-card",          "black-rubber", "blasted-steel",
            "ground-steel",  "white-glossy-paint", "white-pom",    "translucent-polymer"};
}

std::vector<LinearityCurve> linearity_study(const sensor::Setup& setup, std::span<const std::string> others, int places,
                                            int threads,
                                            const std::function<void(std::int64_t, std::int64_t)>& progress) {
    if (places < 3) throw base::DomainError("places", places, "at least 3");
    scenario::Scenario own = scenario_of(setup);
    own.exposure.mode = scenario::ExposureMode::automatic;
    own.motion = {};
    std::vector<LinearityCurve> curves{read_over_range(with_part(setup, own), places, threads)};
    const auto all = static_cast<std::int64_t>(others.size() + 1);
    std::int64_t done = 1;
    for (const std::string& name : others) {
        if (progress) progress(done++, all);
        if (own.target.made_of.name == name) continue;
        scenario::Scenario other = own;
        other.target = {};
        other.target.material = name;
        other.target.made_of = scenario::library_material(name);
        other.target.segments.made_of.clear();
        other.target.plate.backing_made_of.reset();
        if (known_at_wavelength(other)) curves.push_back(read_over_range(with_part(setup, other), places, threads));
    }
    if (progress) progress(all, all);
    return curves;
}

}  // namespace spotwright::study
