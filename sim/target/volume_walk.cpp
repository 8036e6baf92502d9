#include "sim/target/volume_walk.hpp"

#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/volume_photon.hpp"

namespace spotwright::target {

namespace {

using Eigen::Vector3d;

// Sine of the refracted angle squared, and cosine inside.
double cosine_behind(double sine2_outside, double index) {
    return std::sqrt(1.0 - sine2_outside / (index * index));
}

double square(double x) {
    return x * x;
}

double share_of_golden(std::int64_t i, double step) {
    const double place = 0.5 + static_cast<double>(i) * step;
    return place - std::floor(place);
}

// Follows photons and keeps scatters.
class VolumeWalker {
public:
    VolumeWalker(const Volume& volume, const WalkGeometry& geometry, const WalkOptions& options)
        : volume_(volume),
          options_(options),
          extinction_(scattering(volume) + volume.absorption),
          reduced_extinction_(extinction(volume)),
          albedo_(scattering(volume) / extinction_),
          reduced_albedo_(volume.reduced_scattering / reduced_extinction_),
          random_(options.seed) {
        const double incident2 = std::max(0.0, 1.0 - geometry.incidence * geometry.incidence);
        start_ = {std::sqrt(incident2) / volume.index, 0.0, cosine_behind(incident2, volume.index)};
        const double view2 = geometry.view[0] * geometry.view[0] + geometry.view[1] * geometry.view[1];
        // Inside, upwards.
        cos_view_ = cosine_behind(std::min(view2, 1.0), volume.index);
        view_ = {geometry.view[0] / volume.index, geometry.view[1] / volume.index, -cos_view_};
        for (std::size_t i = 0; i < turn_count; ++i) {
            const double angle = 2.0 * base::pi * static_cast<double>(i) / static_cast<double>(turn_count);
            circle_[i] = {std::cos(angle), std::sin(angle)};
        }
        // In half reduced free paths; below one the footprint is a point.
        const double tall = 2.0 * geometry.tall * reduced_extinction_;
        if (tall > 1.0) tall_ = tall;
        const double g = std::abs(volume.anisotropy);
        if (g > 0.0) {
            // A layer sends light back after few scatters, which similarity makes 2 to 7 % darker at a tenth.
            constexpr double memory_of_layer = 0.01;
            const double memory = std::min(options.memory, is_layer(volume) ? memory_of_layer : 1.0);
            const double most = std::log(memory) / std::log(g);
            forward_scatters_ = static_cast<int>(std::min(std::ceil(most), 400.0));
        }
        photons_ = std::max(options.photons, 1) * (forward_scatters_ > 0 ? 2 : 1);
        // What a photon contributes on average, were the light that leaves spread as from a matt face.
        const double leaving =
            diffuse_reflectance(volume) * volume.index * volume.index * cos_view_ /
            (base::pi * (1.0 - fresnel({volume.index, 0.0}, std::sqrt(1.0 - std::min(view2, 0.98))).unpolarised()));
        share_ = std::max(leaving, 1e-12) * photons_ / std::max(options.scatters, 1);
        due_ = 0.5 * share_;
        const Dipole dipole = make_dipole(volume);
        boundary_ = 0.5 * (dipole.virtual_depth / dipole.real_depth - 1.0);
        const auto leaves = [&](double cosine) {
            const double sine2 = volume.index * volume.index * (1.0 - cosine * cosine);
            if (sine2 >= 1.0) return 0.0;
            const double passed = 1.0 - fresnel({volume.index, 0.0}, std::sqrt(1.0 - sine2)).unpolarised();
            return 2.0 * base::pi * (cosine + boundary_) * cosine * passed;
        };
        const double critical = std::sqrt(1.0 - 1.0 / (volume.index * volume.index));
        milne_ = 1.0 / boost::math::quadrature::gauss<double, 30>::integrate(leaves, critical, 1.0);
    }

    std::vector<LastScatter> run() {
        kept_.reserve(static_cast<std::size_t>(options_.scatters) * 3 / 2);
        for (int photon = 0; photon < photons_; ++photon) follow(photon);
        for (LastScatter& scatter : kept_) scatter.power /= photons_;
        return std::move(kept_);
    }

private:
    void follow(int photon) {
        photon_ = {Vector3d::Zero(), start_, 1.0, 0.0};
        turns_.fill(0.0);
        turns_[0] = 1.0;
        pivot_ = {0.0, 0.0};
        const double first = (photon + 0.5) / photons_;
        bool flies_first = true;
        bool met_backing = false;
        for (int m = 0;; ++m) {
            const bool is_last = m == forward_scatters_;
            const double uniform = flies_first ? first : random_.uniform();
            flies_first = false;
            const FlightEnd end =
                fly(volume_, photon_, random_, -std::log(uniform) / (is_last ? reduced_extinction_ : extinction_));
            if (end == FlightEnd::outside) return;
            if (end == FlightEnd::backing) {
                if (!return_from_backing()) return;
                met_backing = true;
                m = -1;
                continue;
            }
            if (is_last) break;
            photon_.power *= albedo_;
            // The last goes on as far as reduced coefficients let it, and what leaves must be counted so.
            keep_forward(m + 1 < forward_scatters_ ? extinction_ : reduced_extinction_);
            turn_forward(volume_, photon_, random_);
            if (m == 0 && !met_backing) set_turns();
        }
        spread(photon);
    }

    // From the first scatter to all sides on.
    void spread(int photon) {
        centre_ = {photon_.place.x(), photon_.place.y()};
        int lot = 64;
        for (int scatters = 0;; ++scatters) {
            photon_.power *= reduced_albedo_;
            if (photon_.place.z() * reduced_extinction_ > options_.diffusion_depth && !is_layer(volume_)) {
                diffuse();
                return;
            }
            keep_spread(Spread::all_sides);
            // The first step is the one that counts most: its direction and length fill their range evenly.
            const bool one = scatters == 0;
            const double up = one ? share_of_golden(photon, 0.7548776662466927) : random_.uniform();
            const double along = one ? share_of_golden(photon, 0.5698402909980532) : random_.uniform();
            const double cosine = 2.0 * up - 1.0;
            const double sine = std::sqrt(1.0 - cosine * cosine);
            const std::array<double, 2> azimuth = draw_azimuth(random_);
            photon_.direction = {sine * azimuth[0], sine * azimuth[1], cosine};
            FlightEnd end = fly(volume_, photon_, random_, -std::log(std::max(along, 1e-10)) / reduced_extinction_);
            while (end == FlightEnd::backing) {
                photon_.power *= volume_.backing;
                if (!goes_on()) return;
                keep_spread(Spread::backing);
                leave_backing(photon_, random_);
                end = fly(volume_, photon_, random_, -std::log(random_.uniform()) / reduced_extinction_);
            }
            if (end == FlightEnd::outside) return;
            if (scatters < lot) continue;
            lot *= 2;
            if (random_.uniform() < 0.5) return;
            photon_.power *= 2.0;
        }
    }

    // What becomes of light that spreads from a place deep below the face, by diffusion.
    void diffuse() {
        const double free_path = 1.0 / reduced_extinction_;
        const double pole = photon_.place.z() + (random_.uniform() < 0.5 ? 0.0 : 2.0 * boundary_ * free_path);
        const double distance = pole / random_.uniform();
        const double radius = std::sqrt((distance - pole) * (distance + pole));
        const double cosine = draw_azimuth(random_)[0];
        const double gamma = -std::log(random_.uniform()) - std::log(random_.uniform()) * cosine * cosine;
        const double length = 0.75 * distance * distance * reduced_extinction_ / gamma;
        const double left = std::exp(-volume_.absorption * length);
        const bool deeper = random_.uniform() * (cos_view_ + boundary_) < cos_view_;
        const double steps = -std::log(random_.uniform()) - (deeper ? std::log(random_.uniform()) : 0.0);
        const std::array<double, 2> azimuth = draw_azimuth(random_);
        photon_.place += Vector3d(radius * azimuth[0], radius * azimuth[1], 0.0);
        photon_.place.z() = steps * cos_view_ * free_path;
        photon_.length += length;
        photon_.power *= left * 4.0 * base::pi * milne_ * cos_view_ * (cos_view_ + boundary_) * std::exp(steps);
        // Every depth shows the same light. By lot the deep ones would scatter without a bound.
        keep_spread(Spread::all_sides, std::exp(-steps));
    }

    // The backing sends light back, and its direction is then to be forgotten anew, about the vertical through the
    // place. False: too little is left.
    bool return_from_backing() {
        photon_.power *= volume_.backing;
        if (!goes_on()) return false;
        // One of the turns that the way until here may take.
        double left = random_.uniform();
        std::size_t turn = 0;
        while (turn + 1 < turn_count && left >= turns_[turn]) left -= turns_[turn++];
        const Vector3d pivot(pivot_[0], pivot_[1], 0.0);
        photon_.place = pivot + turned(photon_.place - pivot, turn);
        pivot_ = {photon_.place.x(), photon_.place.y()};
        turns_.fill(1.0 / static_cast<double>(turn_count));
        keep_backing();
        leave_backing(photon_, random_);
        return true;
    }

    // Of faint light one in ten goes on, ten times as strong.
    bool goes_on() {
        if (photon_.power > 1e-3) return true;
        if (photon_.power <= 0.0 || random_.uniform() >= 0.1) return false;
        photon_.power *= 10.0;
        return true;
    }

    // The way after the first scatter may be turned about the vertical through it: the face knows no azimuth. How
    // likely each turn is follows from how the first scatter turns light into the direction that is then the first.
    void set_turns() {
        pivot_ = {photon_.place.x(), photon_.place.y()};
        double sum = 0.0;
        for (std::size_t i = 0; i < turn_count; ++i) {
            turns_[i] = phase_function(volume_.anisotropy, turned(photon_.direction, i).dot(start_));
            sum += turns_[i];
        }
        for (double& turn : turns_) turn /= sum;
    }

    Vector3d turned(const Vector3d& v, std::size_t i) const {
        const auto& [c, s] = circle_[i];
        return {c * v.x() - s * v.y(), s * v.x() + c * v.y(), v.z()};
    }

    // Share of light from the depth of the place that leaves unscattered; what is deep is looked at by lot, and then
    // counts more. 0: not looked at.
    double shown(double extinction) {
        const double share = std::exp(-extinction * photon_.place.z() / cos_view_);
        const double chance = 4.0 * share;
        if (chance >= 1.0) return share;
        return random_.uniform() < chance ? 0.25 : 0.0;
    }

    // Near scatters are kept more often than far ones, for a row of pixels sees more of them; but not where the
    // footprint is so tall that each of them lies on the row for some of its light.
    [[nodiscard]] double how_often(double square_radius) const {
        const double scaled = 4.0 * square_radius * square(reduced_extinction_);
        if (tall_ > 1.0) return std::clamp(tall_ / std::sqrt(std::max(scaled, tall_ * tall_)), 0.25, 1.0);
        return scaled < 0.0625 ? 4.0 : scaled > 16.0 ? 0.25 : 1.0 / std::sqrt(scaled);
    }

    void keep_forward(double extinction) {
        const double shows = shown(extinction);
        if (shows <= 0.0) return;
        const double escapes = std::exp(-extinction * photon_.place.z() / cos_view_);
        const double often = how_often(square(photon_.place.x()) + square(photon_.place.y()));
        const Vector3d from_pivot = photon_.place - Vector3d(pivot_[0], pivot_[1], 0.0);
        for (std::size_t i = 0; i < turn_count; ++i) {
            if (turns_[i] <= 0.0) continue;
            const Vector3d before = turned(photon_.direction, i);
            const double phase = phase_function(volume_.anisotropy, before.dot(view_));
            due_ -= often * turns_[i] * photon_.power * shows * phase;
            if (due_ >= 0.0) continue;
            LastScatter scatter;
            const Vector3d place = turned(from_pivot, i);
            scatter.centre = {pivot_[0] + place.x(), pivot_[1] + place.y()};
            scatter.before = {before.x(), before.y(), before.z()};
            scatter.spread = Spread::forward;
            scatter.extinction = extinction;
            scatter.power = share_ / (often * escapes * phase);
            keep(scatter);
        }
    }

    void keep_spread(Spread spread) { keep_spread(spread, shown(reduced_extinction_)); }

    // @param shows  See `shown`.
    void keep_spread(Spread spread, double shows) {
        if (shows <= 0.0) return;
        const double square_radius = square(photon_.place.x() - centre_[0]) + square(photon_.place.y() - centre_[1]);
        const double often = how_often(square_radius);
        const double phase = spread == Spread::backing ? cos_view_ / base::pi : 0.25 / base::pi;
        due_ -= often * photon_.power * phase * shows;
        if (due_ >= 0.0) return;
        LastScatter scatter;
        scatter.radius = std::sqrt(square_radius);
        scatter.centre = centre_;
        scatter.spread = spread;
        scatter.extinction = reduced_extinction_;
        scatter.power = share_ / phase / often / std::exp(-reduced_extinction_ * photon_.place.z() / cos_view_);
        keep(scatter);
    }

    // The backing where light comes to it by a way that is known.
    void keep_backing() {
        const double extinction = forward_scatters_ > 0 ? extinction_ : reduced_extinction_;
        const double shows = shown(extinction);
        if (shows <= 0.0) return;
        const double often = how_often(square(photon_.place.x()) + square(photon_.place.y()));
        const double phase = cos_view_ / base::pi;
        due_ -= often * photon_.power * phase * shows;
        if (due_ >= 0.0) return;
        LastScatter scatter;
        scatter.centre = {photon_.place.x(), photon_.place.y()};
        scatter.spread = Spread::backing;
        scatter.extinction = extinction;
        scatter.power = share_ / (often * phase) / std::exp(-extinction * photon_.place.z() / cos_view_);
        keep(scatter);
    }

    // One for every `share_` of what all of them contribute.
    void keep(LastScatter& scatter) {
        scatter.depth = photon_.place.z();
        scatter.length = photon_.length;
        while (due_ < 0.0) {
            due_ += share_;
            kept_.push_back(scatter);
        }
        if (kept_.size() > 8 * static_cast<std::size_t>(std::max(options_.scatters, 1))) thin_out();
    }

    // Where far more comes than was expected, as of a beam that is thrown straight back: every second one stands for
    // two.
    void thin_out() {
        std::size_t left = 0;
        for (std::size_t i = 0; i + 1 < kept_.size(); i += 2) {
            kept_[left] = kept_[i];
            kept_[left++].power *= 2.0;
        }
        kept_.resize(left);
        share_ *= 2.0;
    }

    static constexpr std::size_t turn_count = 16;

    const Volume& volume_;
    const WalkOptions& options_;
    double extinction_;
    double reduced_extinction_;
    double albedo_;
    double reduced_albedo_;
    int forward_scatters_ = 0;
    int photons_ = 1;
    VolumeRandom random_;
    VolumePhoton photon_;
    Vector3d start_;
    Vector3d view_;
    double cos_view_ = 1.0;
    double tall_ = 1.0;  // see `WalkGeometry::tall`
    double share_ = 1.0;
    double due_ = 0.0;
    std::array<std::array<double, 2>, turn_count> circle_{};
    std::array<double, turn_count> turns_{};
    std::array<double, 2> pivot_{0, 0};
    double boundary_ = 0.0;  // how far above the face the light of diffusion vanishes, in reduced free paths
    double milne_ = 0.0;     // scale of the radiance below the face, cosine + boundary_, of light that leaves
    std::array<double, 2> centre_{0, 0};
    std::vector<LastScatter> kept_;
};

}  // namespace

// The random walk of (inside.13).
std::vector<LastScatter> walk_volume(const Volume& volume, const WalkGeometry& geometry, const WalkOptions& options) {
    static_cast<void>(make_dipole(volume));  // for what it refuses
    return VolumeWalker(volume, geometry, options).run();
}

bool is_equivalent(const WalkGeometry& a, const WalkGeometry& b) {
    constexpr double little = 1e-6;
    return std::abs(a.incidence - b.incidence) < little && std::abs(a.view[0] - b.view[0]) < little &&
           std::abs(a.view[1] - b.view[1]) < little;
}

CachedWalk cache_walk(const Volume& volume, const WalkGeometry& geometry, const WalkOptions& options) {
    return {volume, geometry, walk_volume(volume, geometry, options)};
}

bool matches(const CachedWalk& walk, const Volume& volume, const WalkGeometry& geometry) {
    return walk.volume == volume && is_equivalent(walk.geometry, geometry);
}

}  // namespace spotwright::target
