#include "sim/target/volume_walk.hpp"

#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/target/fresnel.hpp"

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

// Uniform numbers one after another, fetched many at a time.
class VolumeRandom {
public:
    explicit VolumeRandom(std::uint64_t seed) : key_{seed, base::Stream::volume_walk} {}

    double uniform() {
        if (next_ == words_.size()) {
            base::fill_words(key_, batch_++, 0, words_);
            next_ = 0;
        }
        return (static_cast<double>(words_[next_++]) + 0.5) * 0x1p-32;
    }

private:
    base::RandomKey key_;
    std::int64_t batch_ = 0;
    std::array<std::uint32_t, 1024> words_{};
    std::size_t next_ = words_.size();
};

// A point of the unit circle, evenly drawn, without the cost of sine and cosine.
std::array<double, 2> draw_azimuth(VolumeRandom& random) {
    for (;;) {
        const double x = 2.0 * random.uniform() - 1.0;
        const double y = 2.0 * random.uniform() - 1.0;
        const double square = x * x + y * y;
        if (square > 1.0 || square < 1e-12) continue;
        const double scale = 1.0 / std::sqrt(square);
        return {x * scale, y * scale};
    }
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
    // Where a flight ends.
    enum class End { scatter, backing, outside };

    void follow(int photon) {
        place_ = Vector3d::Zero();
        direction_ = start_;
        power_ = 1.0;
        length_ = 0.0;
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
            const End end = fly(-std::log(uniform) / (is_last ? reduced_extinction_ : extinction_));
            if (end == End::outside) return;
            if (end == End::backing) {
                if (!return_from_backing()) return;
                met_backing = true;
                m = -1;
                continue;
            }
            if (is_last) break;
            power_ *= albedo_;
            // The last goes on as far as reduced coefficients let it, and what leaves must be counted so.
            keep_forward(m + 1 < forward_scatters_ ? extinction_ : reduced_extinction_);
            turn_forward();
            if (m == 0 && !met_backing) set_turns();
        }
        spread(photon);
    }

    // From the first scatter to all sides on.
    void spread(int photon) {
        centre_ = {place_.x(), place_.y()};
        int lot = 64;
        for (int scatters = 0;; ++scatters) {
            power_ *= reduced_albedo_;
            if (place_.z() * reduced_extinction_ > options_.diffusion_depth && !is_layer(volume_)) {
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
            direction_ = {sine * azimuth[0], sine * azimuth[1], cosine};
            End end = fly(-std::log(std::max(along, 1e-10)) / reduced_extinction_);
            while (end == End::backing) {
                power_ *= volume_.backing;
                if (!goes_on()) return;
                keep_spread(Spread::backing);
                direct_from_backing();
                end = fly(-std::log(random_.uniform()) / reduced_extinction_);
            }
            if (end == End::outside) return;
            if (scatters < lot) continue;
            lot *= 2;
            if (random_.uniform() < 0.5) return;
            power_ *= 2.0;
        }
    }

    // What becomes of light that spreads from a place deep below the face, by diffusion.
    void diffuse() {
        const double free_path = 1.0 / reduced_extinction_;
        const double pole = place_.z() + (random_.uniform() < 0.5 ? 0.0 : 2.0 * boundary_ * free_path);
        const double distance = pole / random_.uniform();
        const double radius = std::sqrt((distance - pole) * (distance + pole));
        const double cosine = draw_azimuth(random_)[0];
        const double gamma = -std::log(random_.uniform()) - std::log(random_.uniform()) * cosine * cosine;
        const double length = 0.75 * distance * distance * reduced_extinction_ / gamma;
        const double left = std::exp(-volume_.absorption * length);
        const bool deeper = random_.uniform() * (cos_view_ + boundary_) < cos_view_;
        const double steps = -std::log(random_.uniform()) - (deeper ? std::log(random_.uniform()) : 0.0);
        const std::array<double, 2> azimuth = draw_azimuth(random_);
        place_ += Vector3d(radius * azimuth[0], radius * azimuth[1], 0.0);
        place_.z() = steps * cos_view_ * free_path;
        length_ += length;
        power_ *= left * 4.0 * base::pi * milne_ * cos_view_ * (cos_view_ + boundary_) * std::exp(steps);
        keep_spread(Spread::all_sides);
    }

    // The backing sends light back, and its direction is then to be forgotten anew, about the vertical through the
    // place. False: too little is left.
    bool return_from_backing() {
        power_ *= volume_.backing;
        if (!goes_on()) return false;
        // One of the turns that the way until here may take.
        double left = random_.uniform();
        std::size_t turn = 0;
        while (turn + 1 < turn_count && left >= turns_[turn]) left -= turns_[turn++];
        const Vector3d pivot(pivot_[0], pivot_[1], 0.0);
        place_ = pivot + turned(place_ - pivot, turn);
        pivot_ = {place_.x(), place_.y()};
        turns_.fill(1.0 / static_cast<double>(turn_count));
        keep_backing();
        direct_from_backing();
        return true;
    }

    // As a matt face does; z leads into the volume.
    void direct_from_backing() {
        const double sine2 = random_.uniform();
        const double sine = std::sqrt(sine2);
        const std::array<double, 2> azimuth = draw_azimuth(random_);
        direction_ = {sine * azimuth[0], sine * azimuth[1], -std::sqrt(1.0 - sine2)};
    }

    // Of faint light one in ten goes on, ten times as strong.
    bool goes_on() {
        if (power_ > 1e-3) return true;
        if (power_ <= 0.0 || random_.uniform() >= 0.1) return false;
        power_ *= 10.0;
        return true;
    }

    // Moves on, and back from the front face where that reflects. Light that is outside was counted where it scattered.
    End fly(double length) {
        if (is_layer(volume_)) return fly_in_layer(length);
        return fly_to_front(length) ? End::scatter : End::outside;
    }

    // From face to face.
    End fly_in_layer(double left) {
        for (;;) {
            const double along = direction_.z();
            const double to_face = along > 0.0 ? (volume_.thickness - place_.z()) / along
                                               : (along < 0.0 ? -place_.z() / along : left + 1.0);
            if (left < to_face) {
                place_ += left * direction_;
                place_.z() = std::clamp(place_.z(), 0.0, volume_.thickness);
                length_ += left;
                return End::scatter;
            }
            place_ += to_face * direction_;
            length_ += to_face;
            left -= to_face;
            if (along > 0.0) {
                place_.z() = volume_.thickness;
                return End::backing;
            }
            place_.z() = 0.0;
            if (leaves_front()) return End::outside;
            direction_.z() = -direction_.z();
        }
    }

    [[nodiscard]] bool leaves_front() {
        const double sine2 = volume_.index * volume_.index * (1.0 - direction_.z() * direction_.z());
        if (sine2 >= 1.0) return false;
        const double reflected = fresnel({volume_.index, 0.0}, std::sqrt(1.0 - sine2)).unpolarised();
        return random_.uniform() >= reflected;
    }

    bool fly_to_front(double length) {
        place_ += length * direction_;
        length_ += length;
        while (place_.z() < 0.0) {
            if (leaves_front()) return false;
            place_.z() = -place_.z();
            direction_.z() = -direction_.z();
        }
        return true;
    }

    void turn_forward() {
        const double cosine = scatter_cosine(volume_.anisotropy, random_.uniform());
        const double sine = std::sqrt(std::max(0.0, 1.0 - cosine * cosine));
        const std::array<double, 2> azimuth = draw_azimuth(random_);
        const Vector3d side = direction_.unitOrthogonal();
        direction_ = cosine * direction_ + sine * (azimuth[0] * side + azimuth[1] * direction_.cross(side));
    }

    // The way after the first scatter may be turned about the vertical through it: the face knows no azimuth. How
    // likely each turn is follows from how the first scatter turns light into the direction that is then the first.
    void set_turns() {
        pivot_ = {place_.x(), place_.y()};
        double sum = 0.0;
        for (std::size_t i = 0; i < turn_count; ++i) {
            turns_[i] = phase_function(volume_.anisotropy, turned(direction_, i).dot(start_));
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
        const double share = std::exp(-extinction * place_.z() / cos_view_);
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
        const double escapes = std::exp(-extinction * place_.z() / cos_view_);
        const double often = how_often(square(place_.x()) + square(place_.y()));
        const Vector3d from_pivot = place_ - Vector3d(pivot_[0], pivot_[1], 0.0);
        for (std::size_t i = 0; i < turn_count; ++i) {
            if (turns_[i] <= 0.0) continue;
            const Vector3d before = turned(direction_, i);
            const double phase = phase_function(volume_.anisotropy, before.dot(view_));
            due_ -= often * turns_[i] * power_ * shows * phase;
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

    void keep_spread(Spread spread) {
        const double shows = shown(reduced_extinction_);
        if (shows <= 0.0) return;
        const double square_radius = square(place_.x() - centre_[0]) + square(place_.y() - centre_[1]);
        const double often = how_often(square_radius);
        const double phase = spread == Spread::backing ? cos_view_ / base::pi : 0.25 / base::pi;
        due_ -= often * power_ * phase * shows;
        if (due_ >= 0.0) return;
        LastScatter scatter;
        scatter.radius = std::sqrt(square_radius);
        scatter.centre = centre_;
        scatter.spread = spread;
        scatter.extinction = reduced_extinction_;
        scatter.power = share_ / phase / often / std::exp(-reduced_extinction_ * place_.z() / cos_view_);
        keep(scatter);
    }

    // The backing where light comes to it by a way that is known.
    void keep_backing() {
        const double extinction = forward_scatters_ > 0 ? extinction_ : reduced_extinction_;
        const double shows = shown(extinction);
        if (shows <= 0.0) return;
        const double often = how_often(square(place_.x()) + square(place_.y()));
        const double phase = cos_view_ / base::pi;
        due_ -= often * power_ * phase * shows;
        if (due_ >= 0.0) return;
        LastScatter scatter;
        scatter.centre = {place_.x(), place_.y()};
        scatter.spread = Spread::backing;
        scatter.extinction = extinction;
        scatter.power = share_ / (often * phase) / std::exp(-extinction * place_.z() / cos_view_);
        keep(scatter);
    }

    // One for every `share_` of what all of them contribute.
    void keep(LastScatter& scatter) {
        scatter.depth = place_.z();
        scatter.length = length_;
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
    Vector3d start_;
    Vector3d view_;
    double cos_view_ = 1.0;
    double tall_ = 1.0;  // see `WalkGeometry::tall`
    double share_ = 1.0;
    double due_ = 0.0;
    Vector3d place_;
    Vector3d direction_;
    std::array<std::array<double, 2>, turn_count> circle_{};
    std::array<double, turn_count> turns_{};
    std::array<double, 2> pivot_{0, 0};
    double boundary_ = 0.0;  // how far above the face the light of diffusion vanishes, in reduced free paths
    double milne_ = 0.0;     // scale of the radiance below the face, cosine + boundary_, of light that leaves
    std::array<double, 2> centre_{0, 0};
    double power_ = 1.0;
    double length_ = 0.0;
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
