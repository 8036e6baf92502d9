"""Makes sim/receiver/edge_spread_table.cpp: the pattern of a round aperture in focus, integrated over rectangles.

The pattern is Airy's, distances counted in lambda N. The share of its light in the rectangle from its centre to (x, y) is

    D(x, y) = 1 / (2 pi) int_0^(pi/2) EE(R(t)) dt,   R(t) = min(x / cos t, y / sin t),   EE(r) = 1 - J0^2(pi r) - J1^2(pi r)

(Rayleigh's encircled energy; M. Born, E. Wolf, Principles of Optics, ch. 8.5.2). Along either axis D tends to half the
edge spread e(x) = 2 D(x, infinity), so that e(x) e(y) has the right limits and misses D by 0.018 at most. The rest is
symmetric; its eigenfunctions (Nystroem's method on Gauss-Legendre nodes of x / (1 + x), weighted by that) take it up:

    D(x, y) = e(x) e(y) + sum_r sign_r t_r(x) t_r(y).

Run: /usr/bin/python3 tests/reference/round_aperture_pattern.py > sim/receiver/edge_spread_table.cpp
`--check` prints how far the sum is from D, as a share of the light of the pixel at the centre of the pattern.
"""
import sys

import numpy as np
from scipy.special import j0, j1

TERMS = 7
STEP = 1.0 / 32.0
END = 32.0
NODES = 48

gauss, gauss_weight = np.polynomial.legendre.leggauss(240)


def encircled(radius):
    v = np.pi * radius
    return 1.0 - j0(v) ** 2 - j1(v) ** 2


def sector(side, angle):
    """int_0^angle EE(side / cos t) dt, for arrays."""
    t = 0.5 * angle[..., None] * (gauss + 1.0)
    return 0.5 * angle * np.sum(gauss_weight * encircled(side[..., None] / np.cos(t)), axis=-1)


def rectangle(x, y):
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    angle = np.arctan2(y, x)
    return (sector(x, angle) + sector(y, np.pi / 2.0 - angle)) / (2.0 * np.pi)


def edge(x):
    # Beyond 1e7 lies less than 1e-8 of the light.
    return 2.0 * rectangle(x, 1e7)


class Expansion:
    def __init__(self):
        t, weight = np.polynomial.legendre.leggauss(NODES)
        t = 0.5 * (t + 1.0)
        self.root = np.sqrt(0.5 * weight)
        self.places = t / (1.0 - t)
        self.damping = t
        self.edges = edge(self.places)
        rest = rectangle(self.places[:, None], self.places[None, :]) - np.outer(self.edges, self.edges)
        weighted = rest * np.outer(self.root / self.damping, self.root / self.damping)
        values, vectors = np.linalg.eigh(weighted)
        order = np.argsort(-np.abs(values))[:TERMS]
        self.values = values[order]
        self.vectors = vectors[:, order]

    def terms(self, x):
        """e and t_1, t_2, ... at x: shape (len(x), 1 + TERMS)."""
        x = np.atleast_1d(np.asarray(x, float))
        result = np.zeros((len(x), 1 + TERMS))
        away = x > 0.0
        e = edge(x[away])
        rest = rectangle(x[away, None], self.places[None, :]) - e[:, None] * self.edges[None, :]
        result[away, 0] = e
        result[away, 1:] = (rest * self.root / self.damping) @ self.vectors / self.values * np.sqrt(np.abs(self.values))
        return result

    def signs(self):
        return np.concatenate([[1.0], np.sign(self.values)])


def check(expansion):
    signs = expansion.signs()

    def summed(x, y):
        return np.sum(signs * expansion.terms(x)[0] * expansion.terms(y)[0])

    def odd(f, x, y):
        return np.sign(x) * np.sign(y) * f(abs(x), abs(y))

    def pixel(f, x, y, a, b):
        return odd(f, x + a, y + b) - odd(f, x - a, y + b) - odd(f, x + a, y - b) + odd(f, x - a, y - b)

    for half in [(0.1, 0.1), (0.1, 0.5), (0.1, 3.0), (0.1, 20.0), (0.4, 0.4), (0.5, 8.0)]:
        exact = lambda x, y: float(rectangle(x, y)) if x > 0.0 and y > 0.0 else 0.0
        centre = pixel(exact, 0.0, 0.0, *half)
        errors = [
            (pixel(summed, x, y, *half) - pixel(exact, x, y, *half)) / centre
            for x in (0.0, 0.3, 0.7, 1.2, 2.0, 2.2, 3.3, 6.0, 15.0)
            for y in (0.0, 0.3, 0.7, 1.2, 2.0, 2.2, 3.3, 15.0)
        ]
        print(f"half widths {half}: largest error {max(map(abs, errors)):.1e}, at the centre {errors[0]:.1e}")


def write(expansion):
    grid = np.arange(round(END / STEP) + 1) * STEP
    table = expansion.terms(grid)
    signs = ", ".join(f"{s:.1f}" for s in expansion.signs())
    print("// Made by tests/reference/round_aperture_pattern.py, which says how. Not written by hand.")
    print('#include "sim/receiver/edge_spread_table.hpp"')
    print("\nnamespace spotwright::receiver {\n")
    print("// clang-format off")
    print(f"const PatternTerms round_aperture_signs{{{{{signs}}}}};\n")
    print("const std::array<PatternTerms, round_aperture_entries> round_aperture_table{{")
    for row in table:
        print("    PatternTerms{{" + ", ".join(f"{value:.9g}" for value in row) + "}},")
    print("}};")
    print("// clang-format on")
    print("\n}  // namespace spotwright::receiver")


if __name__ == "__main__":
    made = Expansion()
    check(made) if "--check" in sys.argv else write(made)
