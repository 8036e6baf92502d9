"""Still-target readings in plain vectorised NumPy: what the program is measured against.

The work, for each reading of a still part: Poisson electrons and normal read noise on every pixel, offset, gain,
rounding to digits and clipping, subtraction of the background, the run of pixels above threshold around the highest
one, the centroid of what stands above the threshold, and the calibration's displacement.

It is meant to be as good as NumPy is without a compiler of its own: the fastest bit generator (SFC64), normals drawn
as float32 into a kept buffer, arithmetic in place, constants folded, frames in blocks that stay in the cache, and the
centroid only on a strip around the peak.

With `--one-normal` a pixel takes one normal number of the variance of shot and read noise together in place of a count
and a normal number: less random numbers than the program draws, and the stronger peer where the light is not dim.

The mean frame and the calibration come from the file that `spotwright_expected_frame` writes.
"""

import argparse
import json
import time

import numpy as np

STRIP = 24  # pixels on either side of the highest one that a run above threshold may reach


def draw_digits_by_one_normal(rng, frame, window, noise):
    """The same with the Gaussian approximation of all noise together."""
    rng.standard_normal(out=noise, dtype=np.float32)
    noise *= frame["deviation_digit"][window]
    noise += frame["mean_digit"][window]
    np.floor(noise, out=noise)
    np.clip(noise, 0.0, np.float32(frame["top_digit"]), out=noise)


def draw_digits(rng, frame, window, noise):
    """One block of frames, digits left in `noise`. [DN]"""
    counts = rng.poisson(frame["electrons"][window], size=noise.shape)
    rng.standard_normal(out=noise, dtype=np.float32)
    noise *= np.float32(frame["read_noise_e"] * frame["gain_digit_per_e"])
    signal = counts.astype(np.float32)
    signal *= np.float32(frame["gain_digit_per_e"])
    noise += signal
    noise += frame["base_digit"][window]
    np.floor(noise, out=noise)
    np.clip(noise, 0.0, np.float32(frame["top_digit"]), out=noise)


def centroids(digits, frame, window):
    """Position of the strongest peak of each frame, NaN where there is none or it is saturated. [px]"""
    rows = np.arange(digits.shape[0])
    threshold = np.float32(frame["threshold_e"])
    saturated = digits.max(axis=1) >= frame["top_digit"]
    net = digits
    net -= frame["background_digit"][window]
    net *= np.float32(1.0 / frame["gain_digit_per_e"])
    highest = net.argmax(axis=1)

    reach = min(STRIP, (net.shape[1] - 1) // 2)
    centre = np.clip(highest, reach, net.shape[1] - 1 - reach)
    columns = centre[:, None] + np.arange(-reach, reach + 1)
    above = net[rows[:, None], columns] - threshold
    lit = above > 0.0
    peak = highest - centre + reach
    # The run around the peak: from it outwards until the first pixel that is not above threshold.
    place = np.arange(2 * reach + 1)
    right = np.logical_and.accumulate(lit | (place < peak[:, None]), axis=1)
    left = np.logical_and.accumulate((lit | (place > peak[:, None]))[:, ::-1], axis=1)[:, ::-1]
    above *= right & left
    total = above.sum(axis=1, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        moment = np.einsum("ij,j->i", above, place, dtype=np.float64)
        position = moment / total + (centre - reach) + window.start
    position[saturated | (total <= 0.0)] = np.nan
    return position


def load_frame(path):
    with open(path, encoding="utf-8") as file:
        frame = json.load(file)
    frame["electrons"] = np.asarray(frame["electrons"], dtype=np.float64)
    frame["background_digit"] = np.asarray(frame["background_digit"], dtype=np.float32)
    offset = np.asarray(frame["offset_e"], dtype=np.float32)
    # Half a digit turns the floor into rounding.
    frame["base_digit"] = (offset * frame["gain_digit_per_e"] + frame["black_level_digit"] + 0.5).astype(np.float32)
    gain = frame["gain_digit_per_e"]
    frame["mean_digit"] = (frame["base_digit"] + gain * frame["electrons"]).astype(np.float32)
    frame["deviation_digit"] = (gain * np.sqrt(frame["electrons"] + frame["read_noise_e"] ** 2)).astype(np.float32)
    return frame


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("frame", help="file written by spotwright_expected_frame")
    parser.add_argument("--readings", type=int, default=20000)
    parser.add_argument("--block", type=int, default=64, help="frames worked on at once")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--window", action="store_true", help="draw only the pixels that the program draws, not the whole array"
    )
    parser.add_argument("--one-normal", action="store_true", help="one normal number per pixel for all noise")
    options = parser.parse_args()

    draw = draw_digits_by_one_normal if options.one_normal else draw_digits
    frame = load_frame(options.frame)
    window = slice(*frame["drawn_pixels"]) if options.window else slice(0, len(frame["electrons"]))
    rng = np.random.Generator(np.random.SFC64(options.seed))
    buffer = np.empty((options.block, window.stop - window.start), dtype=np.float32)
    position = np.empty(options.readings)
    start = time.perf_counter()
    for first in range(0, options.readings, options.block):
        noise = buffer[: min(options.block, options.readings - first)]
        draw(rng, frame, window, noise)
        position[first : first + len(noise)] = centroids(noise, frame, window)
    table = frame["calibration"]
    displacement = np.interp(position, table["position_px"], table["displacement_um"])
    seconds = time.perf_counter() - start

    valid = np.isfinite(position)
    result = {
        "readings": options.readings,
        "valid": int(valid.sum()),
        "pixels_drawn": window.stop - window.start,
        "readings_per_s": options.readings / seconds,
        "position_sd_px": float(position[valid].std(ddof=1)),
        "mean_mm": float(displacement[valid].mean()) / 1000.0,
        "still_sd_um": float(displacement[valid].std(ddof=1)),
    }
    print(json.dumps(result, indent=2))


if __name__ == "__main__":
    main()
