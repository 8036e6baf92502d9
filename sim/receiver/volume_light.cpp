#include "sim/receiver/volume_light.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/receiver/escape_batch.hpp"
#include "sim/receiver/volume_view.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"
#include "sim/target/volume_walk.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;
using target::LastScatter;

// A lattice of numbers in (0, 1): multiples of the powers of 1 / x, x^(d + 1) = x + 1 (M. Roberts' generalisation of
// the golden ratio, from memory).
template <std::size_t dimensions>
class GoldenLattice {
public:
    GoldenLattice() {
        double x = 2.0;
        for (int i = 0; i < 50; ++i) x = std::pow(1.0 + x, 1.0 / (static_cast<double>(dimensions) + 1.0));
        double step = 1.0;
        for (double& each : steps_) each = step /= x;
        place_.fill(0.5);
    }
    void next() {
        for (std::size_t i = 0; i < dimensions; ++i) {
            place_[i] += steps_[i];
            if (place_[i] >= 1.0) place_[i] -= 1.0;
        }
    }
    double operator[](std::size_t i) const { return std::max(place_[i], 1e-12); }

private:
    std::array<double, dimensions> steps_{};
    std::array<double, dimensions> place_{};
};

// The strip of the face that the row of pixels sees: places whose part along `up` lies about the middle.
struct Strip {
    Vector2d up = Vector2d::UnitY();
    double middle = 0.0;  // [m]
    double half = 0.0;    // [m]
};

// How far out of plane the rim of the lens throws the image of a place from where its centre has it, about the root
// mean square over the lens: the largest of the places about one standard deviation of the footprint from its middle.
double blur_across(const Receiver& receiver, const LensView& view, const BeamFootprint& footprint) {
    double largest = 0.0;
    for (const Vector2d& offset :
         {Vector2d(0.0, 0.0), Vector2d(0.5, 0.0), Vector2d(-0.5, 0.0), Vector2d(0.0, 0.5), Vector2d(0.0, -0.5)}) {
        const Vector2d place = footprint.at(offset).head<2>();
        const auto centre = view.image(place, 0.0, 0.0);
        const auto rim = view.image(place, 0.0, receiver.aperture.half_out_of_plane);
        if (centre && rim) largest = std::max(largest, 0.5 * std::abs(rim->v - centre->v));
    }
    return largest;
}

// Standard deviation along the array of the images of the footprint's places by all places of the lens, no more than
// what the array has room for. [m]
double deviation_along(const Receiver& receiver, const LensView& view, const BeamFootprint& footprint) {
    const double room = receiver.pitch * static_cast<double>(receiver.pixels) / std::sqrt(12.0);
    const auto centre = view.image({0.0, 0.0}, 0.0, 0.0);
    if (!centre) return room;
    double square = 0.0;
    for (const Vector2d& offset : {Vector2d(0.5, 0.0), Vector2d(0.0, 0.5)}) {
        const Vector2d place = footprint.at(offset).head<2>();
        const auto beside = view.image(place, 0.0, 0.0);
        const auto rim = view.image(place, receiver.aperture.half_in_plane, 0.0);
        if (!beside || !rim) return room;
        square += std::pow(beside->u - centre->u, 2) + 0.125 * std::pow(rim->u - beside->u, 2);
    }
    return std::min(std::sqrt(square), room);
}

// By the slopes of the image about the entry; diffraction and defocus widen what the row sees.
std::optional<Strip> seen_strip(const Receiver& receiver, const LensView& view, const BeamFootprint& footprint,
                                double wavelength) {
    constexpr double step = 1e-6;
    const auto centre = view.image({0.0, 0.0}, 0.0, 0.0);
    const auto right = view.image({step, 0.0}, 0.0, 0.0);
    const auto above = view.image({0.0, step}, 0.0, 0.0);
    if (!centre || !right || !above) return std::nullopt;
    const Vector2d slope((right->v - centre->v) / step, (above->v - centre->v) / step);
    const double scale = slope.norm();
    if (!(scale > 0.0)) return std::nullopt;
    const double half = 0.5 * receiver.height + diffraction_scale(receiver, wavelength, centre->u).across +
                        blur_across(receiver, view, footprint);
    return Strip{slope / scale, -centre->v / scale, half / scale};
}

// How far the 1/e^2 radii of the beam reach along `up`.
Vector2d reach_across(const BeamFootprint& footprint, const Strip& strip) {
    return {strip.up.dot(footprint.at({1.0, 0.0}).head<2>()), strip.up.dot(footprint.at({0.0, 1.0}).head<2>())};
}

AperturePoint place_in_aperture(const Receiver& receiver, double first, double second) {
    const Aperture& a = receiver.aperture;
    if (a.shape == ApertureShape::rectangular) {
        return {(2.0 * first - 1.0) * a.half_in_plane, (2.0 * second - 1.0) * a.half_out_of_plane, 0.0};
    }
    const double radius = a.half_in_plane * std::sqrt(first);
    const double angle = 2.0 * base::pi * second;
    return {radius * std::cos(angle), radius * std::sin(angle), 0.0};
}

// What of the face is of the translucent material: light enters and leaves there alone.
struct MarkedFace {
    const target::Markings* markings = nullptr;  // null: all of it
    target::Zone zone = target::Zone::bare;

    [[nodiscard]] double lets_in(const FlatFace& face, const Vector2d& at) const {
        return markings == nullptr ? 1.0 : target::weight_at(*markings, zone, face.out_of_plane(at.x(), at.y()));
    }
    [[nodiscard]] double lets_out(const FlatFace& face, const Vector2d& at) const {
        return markings == nullptr ? 1.0 : target::share_at(*markings, zone, face.out_of_plane(at.x(), at.y()));
    }
};

// Pairs scatters with places of the footprint and of the aperture.
class VolumeLight {
public:
    VolumeLight(const emitter::Beam& beam, const target::Hit& hit, const target::Volume& volume,
                const MarkedFace& marked, const Receiver& receiver, bool timed, const CollectBatch& collect)
        : beam_(beam),
          volume_(volume),
          marked_(marked),
          receiver_(receiver),
          timed_(timed),
          rays_(collect),
          face_(make_flat_face(beam, hit, receiver)),
          footprint_(beam, face_, hit.distance),
          view_(make_lens_view(receiver, face_, volume.index)),
          wavelength_(beam.wavelength) {
        const double s_share = target::s_share(beam.polarisation, -beam.direction, face_.normal);
        entered_ = beam.power * (1.0 - target::fresnel({volume.index, 0.0}, face_.incidence).mean(s_share));
        const double view2 = face_.view.head<2>().squaredNorm();
        shift_ = face_.view.head<2>() / std::sqrt(volume.index * volume.index - view2);
        mirrored_ = std::abs(face_.view.y()) < 1e-12;
    }

    void gather(std::span<const LastScatter> walk) {
        // A face that is seen from behind or edge-on sends nothing.
        if (face_.view.z() <= 0.0 || face_.incidence <= 0.0) return;
        const auto strip = seen_strip(receiver_, view_, footprint_, wavelength_);
        if (!strip) return;
        strip_ = *strip;
        const Vector2d reach = reach_across(footprint_, strip_);
        deviation_ = 0.5 * reach.norm();
        across_ = reach.normalized();
        const int pairs = pairs_of(walk.size());
        entered_ /= pairs;
        for (const LastScatter& scatter : walk) {
            for (int i = 0; i < pairs; ++i) {
                lattice_.next();
                take(scatter);
            }
        }
        hand_on();
        // What leaves far beside the strip comes through the aperture like the rest, and to no pixel.
        if (all_ > near_) rays_.add(beside_the_array, all_ - near_, 0.0);
        rays_.flush();
    }

private:
    // Places that stand for a scatter, from the beam's footprint, all of one ray but for where on the face it leaves.
    struct Places {
        static constexpr std::size_t most = EscapeBatch::neighbours;
        std::array<Vector2d, most> place;
        std::array<double, most> weight{};  // 0: far beside the strip
        std::size_t count = 0;

        void add(const Vector2d& at, double with) {
            place[count] = at;
            weight[count++] = with;
        }
    };

    // With how many places of footprint and aperture each scatter is paired: as many as the centroid of a wide image
    // takes to scatter by few hundredths of a thousandth of the array from one walk to another, up to four.
    [[nodiscard]] int pairs_of(std::size_t scatters) const {
        const double allowed = 2e-5 * receiver_.pitch * static_cast<double>(receiver_.pixels);
        constexpr double most = 4.0;
        const double places = std::pow(deviation_along(receiver_, view_, footprint_) / allowed, 2);
        return static_cast<int>(std::clamp(std::ceil(places / static_cast<double>(scatters)), 1.0, most));
    }

    static constexpr double natural = 0.1;  // share of draws that are left to fall where they may
    static constexpr double blur = 0.17;    // half width, a standard deviation of a tenth

    void take(const LastScatter& scatter) {
        const AperturePoint through = place_in_aperture(receiver_, lattice_[2], lattice_[3]);
        const bool turned = mirrored_ && lattice_[7] < 0.5;
        const Vector2d centre(scatter.centre[0], turned ? -scatter.centre[1] : scatter.centre[1]);
        const Vector3d before(scatter.before[0], turned ? -scatter.before[1] : scatter.before[1], -scatter.before[2]);
        const double size = std::sqrt(-2.0 * std::log(lattice_[0]));
        const double angle = 2.0 * base::pi * lattice_[1];
        // Standard normal numbers for the place in the footprint, along the strip's `up` and across it.
        Vector2d normal(size * std::cos(angle), size * std::sin(angle));
        const double start = strip_.up.dot(centre + scatter.depth * shift_);
        if (scatter.radius > deviation_) {
            for (const double side : {1.0, -1.0}) {
                const Places places = on_ring(scatter.radius, centre, start + deviation_ * normal.x(), side);
                project(scatter, before, normal, through, places);
            }
            return;
        }
        const double around = 2.0 * base::pi * lattice_[4];
        const Vector2d right(strip_.up.y(), -strip_.up.x());
        const double height = scatter.radius * std::sin(around);
        const double weight = draw_footprint(start + height, normal);
        // To both sides alike, in the footprint and of the ring, at the same height.
        for (const double side : {1.0, -1.0}) {
            const Vector2d place = height * strip_.up + side * scatter.radius * std::cos(around) * right;
            Places places;
            for (std::size_t i = 0; i < Places::most; ++i) {
                const double share = (static_cast<double>(i) + lattice_[6]) / Places::most;
                places.add((1.0 + blur * (2.0 * share - 1.0)) * (centre + place), 0.5 * weight / Places::most);
            }
            project(scatter, before, {normal.x(), side * normal.y()}, through, places);
        }
    }

    // Places along `up` are drawn from a density that falls off to either side as the light of a point does by
    // diffraction, (1 + (t / half)^2)^-1, and so never much faster than what the row of pixels receives from there.
    [[nodiscard]] double aim(double uniform) const {
        return strip_.middle + strip_.half * std::tan(base::pi * (uniform - 0.5));
    }
    [[nodiscard]] double aimed(double at) const {
        const double t = (at - strip_.middle) / strip_.half;
        return 1.0 / (base::pi * strip_.half * (1.0 + t * t));
    }

    // So far beside that no diffraction brings light of it to the pixels.
    [[nodiscard]] bool is_far(double at) const { return std::abs(at - strip_.middle) > 64.0 * strip_.half; }

    // Both places of a ring by which light leaves at the height drawn, each at several radii.
    [[nodiscard]] Places on_ring(double ring, const Vector2d& centre, double rest, double side) const {
        Places places;
        const Vector2d right(strip_.up.y(), -strip_.up.x());
        const bool wide = ring > strip_.half;
        const bool aims = wide && lattice_[5] >= natural;
        const double around = 2.0 * base::pi * lattice_[4];
        const double height = aims ? aim(lattice_[4]) : 0.0;
        const Vector2d free(side * std::cos(around), side * std::sin(around));
        for (std::size_t i = 0; i < Places::most; ++i) {
            const double share = (static_cast<double>(i) + lattice_[6]) / Places::most;
            const double radius = ring * (1.0 + blur * (2.0 * share - 1.0));
            double sine = free.y();
            double cosine = free.x();
            if (aims) {
                sine = (height - rest) / radius;
                cosine = side * std::sqrt(std::max(0.0, 1.0 - sine * sine));
            }
            if (std::abs(sine) >= 1.0 || (wide && is_far(rest + radius * sine))) {
                places.add(centre, 0.0);
                continue;
            }
            constexpr double half = 0.5 / Places::most;  // of two sides
            double weight = half;
            if (wide) {
                constexpr double even = 0.5 / base::pi;
                const double drawn = aimed(rest + radius * sine) * radius * std::abs(cosine) * 0.5;
                weight *= even / (natural * even + (1.0 - natural) * drawn);
            }
            places.add(centre + radius * (sine * strip_.up + cosine * right), weight);
        }
        return places;
    }

    // The place in the footprint by which light leaves at a height drawn, or any; with its weight.
    [[nodiscard]] double draw_footprint(double rest, Vector2d& normal) const {
        if (deviation_ < 0.5 * strip_.half) return 1.0;
        if (lattice_[5] >= natural) normal.x() = (aim((lattice_[5] - natural) / (1.0 - natural)) - rest) / deviation_;
        const double at = rest + deviation_ * normal.x();
        const double even = std::exp(-0.5 * normal.x() * normal.x()) / (deviation_ * std::sqrt(2.0 * base::pi));
        // Aimed beyond the footprint: nothing comes from there.
        if (is_far(at) || even * deviation_ < 1e-9) {
            normal.x() = 0.0;
            return 0.0;
        }
        return even / (natural * even + (1.0 - natural) * aimed(at));
    }

    static double in_lanes(target::Spread spread) {
        switch (spread) {
            case target::Spread::forward:
                return spread_forward;
            case target::Spread::backing:
                return spread_by_backing;
            case target::Spread::all_sides:
                break;
        }
        return spread_to_all_sides;
    }

    // Puts half of a scatter's light, which the places stand for, into the batch.
    void project(const LastScatter& scatter, const Vector3d& before, const Vector2d& normal,
                 const AperturePoint& through, const Places& places) {
        const Vector2d offset(0.5 * (normal.x() * across_.x() - normal.y() * across_.y()),
                              0.5 * (normal.x() * across_.y() + normal.y() * across_.x()));
        const Vector3d entry = footprint_.at(offset);
        const std::size_t i = batch_.count;
        batch_.from_x[i] = entry.x() + places.place[0].x();
        batch_.from_y[i] = entry.y() + places.place[0].y();
        batch_.depth[i] = scatter.depth;
        batch_.extinction[i] = scatter.extinction;
        batch_.spread[i] = in_lanes(scatter.spread);
        batch_.before_x[i] = before.x();
        batch_.before_y[i] = before.y();
        batch_.before_z[i] = before.z();
        batch_.in_plane[i] = through.in_plane;
        batch_.out_of_plane[i] = through.out_of_plane;
        batch_.power[i] = marked_.lets_in(face_, entry.head<2>()) * entered_ * scatter.power;
        if (timed_) until_[i] = emitter::path_to(beam_, on_face(entry.head<2>())) + volume_.index * scatter.length;
        for (std::size_t k = 0; k < Places::most; ++k) {
            batch_.beside_x[k][i] = places.place[k].x() - places.place[0].x();
            batch_.beside_y[k][i] = places.place[k].y() - places.place[0].y();
            weight_[k][i] = places.weight[k];
        }
        if (++batch_.count == batch_rays) hand_on();
    }

    // In the sensor's frame.
    [[nodiscard]] Vector3d on_face(const Vector2d& at) const { return face_.out_of_plane(at.x(), at.y()); }

    void hand_on() {
        follow_out(view_, volume_.anisotropy, batch_);
        for (std::size_t i = 0; i < batch_.count; ++i) {
            const double light = batch_.light[i];
            if (!(light > 0.0)) continue;
            const Vector2d exit(batch_.exit_x[i], batch_.exit_y[i]);
            all_ += 0.5 * light * marked_.lets_out(face_, exit);
            for (std::size_t k = 0; k < Places::most; ++k) {
                if (weight_[k][i] <= 0.0 || !std::isfinite(batch_.u[k][i])) continue;
                const Vector2d beside(batch_.beside_x[k][i], batch_.beside_y[k][i]);
                const double leaves = light * weight_[k][i] * marked_.lets_out(face_, exit + beside);
                const ArrayPoint at{batch_.u[k][i], batch_.v[k][i]};
                const double path =
                    timed_ ? until_[i] + batch_.way[i] + path_to_array(receiver_, on_face(exit + beside), at) : 0.0;
                rays_.add(at, leaves, path);
                near_ += leaves;
            }
        }
        batch_.count = 0;
    }

    const emitter::Beam& beam_;
    const target::Volume& volume_;
    MarkedFace marked_;
    const Receiver& receiver_;
    bool timed_;
    BatchWriter rays_;
    FlatFace face_;
    BeamFootprint footprint_;
    LensView view_;
    double wavelength_;
    double entered_ = 0.0;
    Vector2d shift_;  // of the place where light leaves, per depth
    bool mirrored_ = false;
    Strip strip_;
    double deviation_ = 0.0;               // of the footprint along the strip's `up`. [m]
    Vector2d across_ = Vector2d::UnitY();  // offsets of the beam that move the footprint along `up`, unit
    GoldenLattice<8> lattice_;
    EscapeBatch batch_;
    std::array<Lane, Places::most> weight_{};  // of the places of the batch
    Lane until_{};                             // optical length until the scatter; only if timed. [m]
    double all_ = 0.0;                         // light through the aperture. [W]
    double near_ = 0.0;                        // of it, what was collected ray by ray. [W]
};

}  // namespace

std::optional<target::WalkGeometry> walk_geometry(const emitter::Beam& beam, const target::Part& part,
                                                  const Receiver& receiver) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return std::nullopt;
    const FlatFace face = make_flat_face(beam, *hit, receiver);
    target::WalkGeometry geometry{face.incidence, {face.view.x(), face.view.y()}};
    if (face.incidence <= 0.0) return geometry;
    // Where a place is imaged has nothing to do with the index of the part.
    const BeamFootprint footprint(beam, face, hit->distance);
    if (const auto strip = seen_strip(receiver, make_lens_view(receiver, face, 1.0), footprint, beam.wavelength))
        geometry.tall = 0.5 * reach_across(footprint, *strip).norm();
    return geometry;
}

void gather_volume(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, std::span<const LastScatter> walk, const CollectBatch& collect,
                   target::Zone zone, bool timed) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    const MarkedFace marked{part.markings ? &*part.markings : nullptr, zone};
    if (hit) VolumeLight(beam, *hit, *surface.volume, marked, receiver, timed, collect).gather(walk);
}

void gather_volume(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, const target::CachedWalk* held, const CollectBatch& collect,
                   target::Zone zone, bool timed) {
    const auto geometry = walk_geometry(beam, part, receiver);
    if (!geometry) return;
    if (held != nullptr && target::matches(*held, *surface.volume, *geometry)) {
        gather_volume(beam, part, surface, receiver, held->scatters, collect, zone, timed);
    } else {
        gather_volume(beam, part, surface, receiver, target::walk_volume(*surface.volume, *geometry), collect, zone,
                      timed);
    }
}

}  // namespace spotwright::receiver
