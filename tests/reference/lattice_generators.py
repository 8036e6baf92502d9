"""Searches the generators of the lattice rules in sim/receiver/lattice.cpp.

A rule of N = 2^m points has the places frac(i (1, a, a^2, ..) / N), i = 0 .. N - 1 (N. Korobov, 1959). The generator a
is the one, of those tried, with the least worst-case error over functions with mixed smoothness,

    P_2 = 1 / N sum_i prod_j (1 + 2 pi^2 B_2(x_ij)) - 1,   B_2(x) = x^2 - x + 1/6

taken for four and for six axes and multiplied (I. Sloan, S. Joe, Lattice Methods for Multiple Integration (1994)). Up to 2^12 points every odd a is tried, above that
256 of them, spread by the golden ratio; for large N one of a few hundred is nearly as good as the best.

Run: /usr/bin/python3 tests/reference/lattice_generators.py
"""
import numpy as np

GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0


def worst_case(generator, count):
    """The product of the errors on four and on six axes: both matter alike."""
    i = np.arange(count, dtype=np.int64)
    product = np.ones(count)
    errors = 1.0
    place = i.copy()
    for axis in range(1, 7):
        x = place / count
        product *= 1.0 + 2.0 * np.pi**2 * (x * x - x + 1.0 / 6.0)
        if axis in (4, 6):
            errors *= product.mean() - 1.0
        place = place * generator % count
    return errors


def tried(count):
    if count <= 4096:
        return range(1, count // 2, 2)
    return [2 * int(count / 4 * ((k * GOLDEN) % 1.0)) + 1 for k in range(1, 257)]


if __name__ == "__main__":
    for m in range(10, 21):
        count = 2**m
        error, best = min((worst_case(a, count), a) for a in tried(count))
        print(f"{m}: {best}  product of both P_2 {error:.3e}", flush=True)
