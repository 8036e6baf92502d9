"""Photons followed at random through a translucent half-space, seen by a triangulation receiver: what the ray model is
checked against. Written from the theory alone; it shares no code with the program.

    python3 tests/reference/photon_walk.py [--photons N] [--seed N]

prints for each case, with standard errors: light through the aperture per incident light, the share of it on the row of
pixels, and the centroid on the row within 150 pixels of where an opaque white face would be seen. [px]

Theory. Steps are exponential with sigma_t = sigma_s + sigma_a, sigma_s = sigma_s' / (1 - g); the phase function is that
of Henyey and Greenstein; the face reflects from inside by Fresnel's equations, unpolarised. At each scatter the light
that leaves straight for the centre of the lens is counted: w p(cos) exp(-sigma_t l) (1 - R) dOmega, with Snell's ray
through the face. A point at (x, z) is imaged by the ray through the lens centre onto an array that stands at the angle
beta = 90 deg - tilt to the axis, tilt after Scheimpflug.
"""
import argparse

import numpy as np

# Lengths in millimetres. The default mount of a scenario: square beam of 40 um radius, receiver at 30 deg, 45 mm, f 18.
MOUNT = dict(theta=30.0, distance=45.0, focal=18.0, aperture=4.0, pitch=0.007, height=0.060, waist=0.040)
CASES = {
    "polymer": (dict(scattering=4.0, absorption=0.004, index=1.49, g=0.0), MOUNT),
    "forward": (dict(scattering=2.55, absorption=0.0011, index=1.3, g=0.75), MOUNT),
    "tall": (dict(scattering=2.19, absorption=0.0021, index=1.5, g=0.6),
             dict(MOUNT, theta=27.0, distance=62.0, height=3.0, waist=0.050)),
}
WINDOW = 150.0


def passed(index, cos_in, cos_out):
    """1 - R between inside (index) and air."""
    s = (index * cos_in - cos_out) / (index * cos_in + cos_out)
    p = (index * cos_out - cos_in) / (index * cos_out + cos_in)
    return 1.0 - 0.5 * (s * s + p * p)


def turn(direction, g, random):
    """New directions after a scatter."""
    count = direction.shape[1]
    u = random.random(count)
    c = 2 * u - 1 if g == 0 else (1 + g * g - ((1 - g * g) / (1 - g + 2 * g * u)) ** 2) / (2 * g)
    s = np.sqrt(np.maximum(0.0, 1 - c * c))
    phi = 2 * np.pi * random.random(count)
    helper = np.where(np.abs(direction[2]) < 0.9, [[0.0], [0.0], [1.0]], [[1.0], [0.0], [0.0]])
    a = np.cross(direction, helper, axis=0)
    a /= np.linalg.norm(a, axis=0)
    b = np.cross(direction, a, axis=0)
    new = c * direction + s * (np.cos(phi) * a + np.sin(phi) * b)
    return new / np.linalg.norm(new, axis=0)


def seen(place, direction, weight, medium, mount):
    """Light to the aperture from scatters at `place` (depth third), and the pixel and height where it lands."""
    n, g = medium["index"], medium["g"]
    sigma_t = medium["scattering"] / (1 - g) + medium["absorption"]
    theta = np.radians(mount["theta"])
    lens = mount["distance"] * np.array([np.sin(theta), 0.0, np.cos(theta)])
    way = lens[:2, None] - place[:2]
    distance = np.hypot(way[0], way[1])
    depth, height = place[2], lens[2]
    t = np.arctan2(distance, height + depth / n)  # angle outside; Newton's iteration from without refraction's bend
    for _ in range(6):
        ti = np.arcsin(np.sin(t) / n)
        miss = distance - height * np.tan(t) - depth * np.tan(ti)
        t = t + miss / (height / np.cos(t) ** 2 + depth / np.cos(ti) ** 2 * np.cos(t) / (n * np.cos(ti)))
    ti = np.arcsin(np.sin(t) / n)
    unit = way / distance
    # Solid angle inside per area square to the ray at the lens: rings 2 pi sin ti dti against 2 pi d dd cos t.
    slope = height / np.cos(t) ** 2 + depth / np.cos(ti) ** 2 * np.cos(t) / (n * np.cos(ti))
    omega = np.sin(ti) * np.cos(t) / (n * np.cos(ti)) / (distance * slope * np.cos(t))
    exit_ = place[:2] + depth * np.tan(ti) * unit
    outward = np.array([np.sin(t) * unit[0], np.sin(t) * unit[1], np.cos(t)])
    cos_lens = outward[0] * np.sin(theta) + outward[2] * np.cos(theta)
    c = direction[0] * np.sin(ti) * unit[0] + direction[1] * np.sin(ti) * unit[1] - direction[2] * np.cos(ti)
    phase = (1 - g * g) / (4 * np.pi * (1 + g * g - 2 * g * c) ** 1.5)
    area = np.pi * (mount["aperture"] / 2) ** 2
    light = weight * phase * np.exp(-sigma_t * depth / np.cos(ti)) * passed(n, np.cos(ti), np.cos(t)) * omega
    light *= area * cos_lens
    a, f = mount["distance"], mount["focal"]
    b = 1 / (1 / f - 1 / a)
    beta = np.pi / 2 - np.arctan(b / a / np.tan(theta))
    axial = a - exit_[0] * np.sin(theta)
    ratio = -exit_[0] * np.cos(theta) / axial
    u = b * ratio / (np.sin(beta) - ratio * np.cos(beta))
    v = (b + u * np.cos(beta)) * exit_[1] / axial
    return light, u / mount["pitch"], v


def walk(medium, mount, photons, random):
    n, g = medium["index"], medium["g"]
    sigma_s = medium["scattering"] / (1 - g)
    sigma_t = sigma_s + medium["absorption"]
    place = np.zeros((3, photons))
    place[:2] = 0.5 * mount["waist"] * random.standard_normal((2, photons))
    direction = np.zeros((3, photons))
    direction[2] = 1.0
    entered = passed(n, 1.0, 1.0)
    weight = np.full(photons, entered / photons)
    steps = 0
    sums = np.zeros(4)  # all light, on the row, in the window, its moment
    while place.shape[1] > 0:
        step = -np.log(1 - random.random(place.shape[1])) / sigma_t
        place = place + step * direction
        alive = np.ones(place.shape[1], bool)
        while True:
            above = alive & (place[2] < 0)
            if not above.any():
                break
            cos_in = -direction[2, above]
            sine2 = n * n * (1 - cos_in ** 2)
            cos_out = np.sqrt(np.maximum(0.0, 1 - sine2))
            through = np.where(sine2 < 1, passed(n, cos_in, cos_out), 0.0)
            leaves = random.random(through.size) < through
            index = np.flatnonzero(above)
            alive[index[leaves]] = False
            back = index[~leaves]
            place[2, back] *= -1
            direction[2, back] *= -1
        place, direction, weight = place[:, alive], direction[:, alive], weight[alive]
        weight = weight * (sigma_s / sigma_t)
        if not weight.size:
            break
        light, pixel, v = seen(place, direction, weight, medium, mount)
        row = np.abs(v) < mount["height"] / 2
        near = row & (np.abs(pixel) < WINDOW)
        sums += [light.sum(), light[row].sum(), light[near].sum(), (light * pixel)[near].sum()]
        direction = turn(direction, g, random)
        steps += 1
        if steps >= 32 and steps & (steps - 1) == 0:  # of long ways a quarter goes on, with four times the weight
            lives = random.random(weight.size) < 0.25
            place, direction, weight = place[:, lives], direction[:, lives], 4 * weight[lives]
    return np.array([sums[0], sums[1] / sums[0], sums[3] / sums[2]])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photons", type=int, default=20000, help="in each of 16 batches")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    random = np.random.default_rng(options.seed)
    print("case      light per incident    share on the row      centroid in px")
    for name, (medium, mount) in CASES.items():
        runs = np.array([walk(medium, mount, options.photons, random) for _ in range(16)])
        mean, error = runs.mean(axis=0), runs.std(axis=0, ddof=1) / 4
        print(f"{name:9s} {mean[0]:.4e} +- {error[0]:.1e}  {mean[1]:.5f} +- {error[1]:.5f}  "
              f"{mean[2]:.3f} +- {error[2]:.3f}", flush=True)


if __name__ == "__main__":
    main()
