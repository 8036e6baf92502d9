// Several doubles side by side, with the operators of one: for kernels that are compiled once per instruction set.
// Included by kernels after hwy/foreach_target.h; no include guard, but one per target.
#if defined(SPOTWRIGHT_REAL_LANES_INL_HPP) == defined(HWY_TARGET_TOGGLE)
#ifdef SPOTWRIGHT_REAL_LANES_INL_HPP
#undef SPOTWRIGHT_REAL_LANES_INL_HPP
#else
#define SPOTWRIGHT_REAL_LANES_INL_HPP
#endif

#include <cstddef>

#include <hwy/highway.h>

// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using RealTag = hn::ScalableTag<double>;
using RealMask = hn::Mask<RealTag>;

/// Multiplications and additions stay apart (no fused ones), so that every instruction set rounds alike.
struct Real {
    hn::Vec<RealTag> v;

    // Trivial: what the compiler makes up by itself it does not compile for the instruction set of this place.
    Real() = default;
    HWY_INLINE Real(double value) : v(hn::Set(RealTag(), value)) {}  // NOLINT(google-explicit-constructor): a number
    HWY_INLINE explicit Real(hn::Vec<RealTag> vector) : v(vector) {}

    static HWY_INLINE Real load(const double* from) { return Real(hn::Load(RealTag(), from)); }
    HWY_INLINE void store(double* to) const { hn::Store(v, RealTag(), to); }
};

HWY_INLINE Real operator+(Real a, Real b) {
    return Real(hn::Add(a.v, b.v));
}
HWY_INLINE Real operator-(Real a, Real b) {
    return Real(hn::Sub(a.v, b.v));
}
HWY_INLINE Real operator*(Real a, Real b) {
    return Real(hn::Mul(a.v, b.v));
}
HWY_INLINE Real operator/(Real a, Real b) {
    return Real(hn::Div(a.v, b.v));
}
HWY_INLINE Real operator-(Real a) {
    return Real(hn::Neg(a.v));
}
HWY_INLINE RealMask operator<(Real a, Real b) {
    return hn::Lt(a.v, b.v);
}
HWY_INLINE RealMask operator<=(Real a, Real b) {
    return hn::Le(a.v, b.v);
}
HWY_INLINE RealMask operator>(Real a, Real b) {
    return hn::Gt(a.v, b.v);
}
HWY_INLINE RealMask both(RealMask a, RealMask b) {
    return hn::And(a, b);
}
HWY_INLINE Real select(RealMask where, Real yes, Real no) {
    return Real(hn::IfThenElse(where, yes.v, no.v));
}
/// 0 elsewhere.
HWY_INLINE Real only(RealMask where, Real value) {
    return Real(hn::IfThenElseZero(where, value.v));
}
HWY_INLINE Real root(Real a) {
    return Real(hn::Sqrt(a.v));
}
HWY_INLINE Real larger(Real a, Real b) {
    return select(a < b, b, a);
}
HWY_INLINE Real smaller(Real a, Real b) {
    return select(b < a, b, a);
}
HWY_INLINE Real magnitude(Real a) {
    return Real(hn::Abs(a.v));
}

/// exp of a number that is not positive, relative error below 1e-13; 0 below -700.
/// exp(x) = 2^n exp(r), n = round(x / ln 2), exp(r) by its series to order 12, |r| <= 0.347: 0.347^13 / 13! = 2e-16.
HWY_INLINE Real exp_of_negative(Real x) {
    const RealTag d;
    const hn::RebindToSigned<RealTag> di;
    constexpr double least = -700.0;
    const Real held = larger(x, Real(least));
    // Adding 1.5 * 2^52 rounds to a whole number, which then stands in the low bits.
    const Real magic(6755399441055744.0);
    const Real shifted = held * Real(1.4426950408889634) + magic;
    const Real n = shifted - magic;
    const Real r = (held - n * Real(0.693145751953125)) - n * Real(1.42860682030941723212e-6);
    constexpr double inverse_factorials[] = {
        1.0 / 39916800.0, 1.0 / 3628800.0, 1.0 / 362880.0, 1.0 / 40320.0, 1.0 / 5040.0, 1.0 / 720.0,
        1.0 / 120.0,      1.0 / 24.0,      1.0 / 6.0,      0.5,           1.0,          1.0};
    Real sum(1.0 / 479001600.0);
    for (const double c : inverse_factorials) sum = sum * r + Real(c);
    const auto exponent = hn::ShiftLeft<52>(hn::Add(hn::BitCast(di, shifted.v), hn::Set(di, 1023)));
    return only(x > Real(least), sum * Real(hn::BitCast(d, exponent)));
}

/// Natural logarithm of a normal positive number, relative error below 1e-12: 2 atanh((m - 1) / (m + 1)) by its series,
/// m the number over a power of two, from sqrt(1/2) to sqrt(2).
HWY_INLINE Real logarithm(Real x) {
    const RealTag d;
    const hn::RebindToSigned<RealTag> di;
    const auto bits = hn::BitCast(di, x.v);
    // The exponent as a double: its bits under those of 2^52, less 2^52.
    const auto biased = hn::Or(hn::ShiftRight<52>(bits), hn::Set(di, 0x4330000000000000));
    Real exponent = Real(hn::BitCast(d, biased)) - Real(4503599627370496.0 + 1023.0);
    Real m =
        Real(hn::BitCast(d, hn::Or(hn::And(bits, hn::Set(di, 0x000FFFFFFFFFFFFF)), hn::Set(di, 0x3FF0000000000000))));
    const RealMask large = m > Real(1.4142135623730951);
    m = select(large, m * Real(0.5), m);
    exponent = select(large, exponent + Real(1.0), exponent);
    const Real z = (m - Real(1.0)) / (m + Real(1.0));
    const Real z2 = z * z;
    Real sum(1.0 / 17.0);
    for (const double c : {1.0 / 15.0, 1.0 / 13.0, 1.0 / 11.0, 1.0 / 9.0, 1.0 / 7.0, 1.0 / 5.0, 1.0 / 3.0, 1.0}) {
        sum = sum * z2 + Real(c);
    }
    return Real(2.0) * z * sum + exponent * Real(0.6931471805599453);
}

struct Real3 {
    Real axial;
    Real transverse;
    Real out_of_plane;
};

HWY_INLINE Real dot(const Real3& a, const Real3& b) {
    return a.axial * b.axial + a.transverse * b.transverse + a.out_of_plane * b.out_of_plane;
}
HWY_INLINE Real3 operator+(const Real3& a, const Real3& b) {
    return {a.axial + b.axial, a.transverse + b.transverse, a.out_of_plane + b.out_of_plane};
}
HWY_INLINE Real3 operator-(const Real3& a, const Real3& b) {
    return {a.axial - b.axial, a.transverse - b.transverse, a.out_of_plane - b.out_of_plane};
}
HWY_INLINE Real3 operator*(Real a, const Real3& b) {
    return {a * b.axial, a * b.transverse, a * b.out_of_plane};
}
HWY_INLINE Real3 cross(const Real3& a, const Real3& b) {
    return {a.transverse * b.out_of_plane - a.out_of_plane * b.transverse,
            a.out_of_plane * b.axial - a.axial * b.out_of_plane, a.axial * b.transverse - a.transverse * b.axial};
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#endif  // per target
