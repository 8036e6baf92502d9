#include "sim/target/plate.hpp"

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"

namespace spotwright::target {

namespace {

void check_index(double index) {
    if (!(index >= 1.0 && std::isfinite(index))) throw base::DomainError("index of a plate", index, ">= 1");
}

struct Faces {
    Fresnel front;
    Fresnel back;
};

Faces faces(const Plate& plate, double cosine) {
    check_index(plate.index);
    const double n2 = plate.index * plate.index;
    const double inside = std::sqrt((cosine * cosine + n2 - 1.0) / n2);
    return {fresnel(plate.index, cosine), fresnel(plate.behind / plate.index, inside)};
}

// Calls `f(R1, R2)` for each polarisation.
template <class F>
Fresnel each(const Faces& at, const F& f) {
    return {f(at.front.s, at.back.s), f(at.front.p, at.back.p)};
}

void check_order(int order) {
    if (order < 0) throw base::DomainError("order of a reflection", order, ">= 0");
}

// tan a' and its derivative by u = tan a.
double tangent_inside(double index, double u) {
    return u / std::sqrt(index * index + (index * index - 1.0) * u * u);
}

double tangent_inside_slope(double index, double u) {
    const double n2 = index * index;
    return n2 / std::pow(n2 + (n2 - 1.0) * u * u, 1.5);
}

void check_angle(const char* name, double angle) {
    if (!(std::abs(angle) < 0.5 * base::pi)) throw base::DomainError(name, angle, "within half pi");
}

}  // namespace

// Equation (inside.4).
Fresnel plate_reflection(const Plate& plate, double cosine, int order) {
    check_order(order);
    return each(faces(plate, cosine), [order](double r1, double r2) {
        return order == 0 ? r1 : (1.0 - r1) * (1.0 - r1) * r2 * std::pow(r1 * r2, order - 1);
    });
}

Fresnel plate_reflections_from(const Plate& plate, double cosine, int first_order) {
    check_order(first_order);
    return each(faces(plate, cosine), [first_order](double r1, double r2) {
        if (r1 == 1.0) return first_order == 0 ? 1.0 : 0.0;  // grazing: nothing enters
        const double inner = (1.0 - r1) * (1.0 - r1) * r2 / (1.0 - r1 * r2);
        return first_order == 0 ? r1 + inner : inner * std::pow(r1 * r2, first_order - 1);
    });
}

Fresnel plate_passed(const Plate& plate, double cosine) {
    return each(faces(plate, cosine), [](double r1, double r2) { return (1.0 - r1) * (1.0 - r2); });
}

// Equation (inside.5).
double apparent_thickness(double thickness, double index, double emitter, double receiver) {
    check_index(index);
    check_angle("angle of the emitter in rad", emitter);
    check_angle("angle of the receiver in rad", receiver);
    const double e = std::tan(emitter);
    const double r = std::tan(receiver);
    // Both axes nearly one: the quotient becomes the derivative. At this limit either is good to 1e-10.
    if (std::abs(e + r) < 1e-6) return thickness * tangent_inside_slope(index, 0.5 * (e - r));
    return thickness * (tangent_inside(index, e) + tangent_inside(index, r)) / (e + r);
}

double thickness_from(double apparent, double index, double emitter, double receiver) {
    return apparent / apparent_thickness(1.0, index, emitter, receiver);
}

}  // namespace spotwright::target
