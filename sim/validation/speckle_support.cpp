#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/validation/speckle.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using receiver::SpecklePlan, receiver::SpeckleImage, receiver::SpeckleView;
using Places = std::vector<Eigen::Vector2d>;

// `measure(image)` of the pattern at each place, worked on by all threads.
template <class Measure>
std::vector<double> measured(const SpecklePlan& plan, const Places& places, int threads, const Measure& measure) {
    constexpr std::uint64_t surface = 11;
    std::vector<double> values(places.size());
    constexpr std::size_t chunk = 25;
    const std::size_t chunks = (places.size() + chunk - 1) / chunk;
    base::parallel_for(static_cast<std::int64_t>(chunks), threads, [&](std::int64_t part) {
        receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
        const std::size_t begin = static_cast<std::size_t>(part) * chunk;
        for (std::size_t i = begin; i < std::min(places.size(), begin + chunk); ++i) {
            values[i] = measure(receiver::speckle_image(plan, surface, places[i], workspace));
        }
    });
    return values;
}

double centroid_of(const SpeckleImage& image) {
    double sum = 0.0;
    double moment = 0.0;
    for (Eigen::Index i = 0; i < image.intensity.rows(); ++i) {
        const auto light = static_cast<double>(image.intensity.row(i).sum());
        sum += light;
        moment += light * (image.u_first + static_cast<double>(i) * image.u_step);
    }
    return moment / sum;
}

double middle_of(const SpeckleImage& image) {
    const Eigen::Index column = image.mean.rows() / 2;
    const Eigen::Index row = image.mean.cols() / 2;
    return static_cast<double>(image.intensity(column, row) / image.mean(column, row));
}

}  // namespace

SpeckleView plain_speckle_view(receiver::ApertureShape shape, double na, double angle, double radius) {
    constexpr double distance = 45.0 * mm;
    SpeckleView view;
    view.wavelength = worked_speckle_wavelength;
    const double cosine = std::cos(angle);
    // Round as the receiver sees it: longer on the surface.
    view.irradiance = Eigen::Vector2d(cosine * cosine, 1.0).asDiagonal();
    view.irradiance /= radius * radius;
    view.direction = {std::sin(angle), 0.0};
    view.direction_per_aperture_position = Eigen::Vector2d(cosine / distance, 1.0 / distance).asDiagonal();
    view.aperture = {shape, na * distance, na * distance};
    view.du_dx = cosine;
    view.dv_dy = 1.0;
    view.row = {1024, 7.0 * um, 10.0 * mm, 0.0, 0.0};
    return view;
}

std::vector<double> centroids(const SpecklePlan& plan, const Places& places, int threads) {
    return measured(plan, places, threads, centroid_of);
}

std::vector<double> middle_intensities(const SpecklePlan& plan, const Places& places, int threads) {
    return measured(plan, places, threads, middle_of);
}

Places separate_places(const SpecklePlan& plan, std::int64_t count) {
    Places places;
    for (std::int64_t i = 0; i < count; ++i) places.push_back(receiver::separate_patch(plan, i));
    return places;
}

Places moved(Places places, const Eigen::Vector2d& by) {
    for (Eigen::Vector2d& place : places) place += by;
    return places;
}

double deviation_of(const std::vector<double>& values) {
    return std::sqrt(boost::math::statistics::sample_variance(values));
}

}  // namespace spotwright::validation
