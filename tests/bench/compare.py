"""Still-target readings: the program against a vectorised NumPy script of the same work, one thread against one.

Both are timed as whole programs, start-up included, in turns. Before any ratio is printed the two must agree on the
mean and on the standard deviation of the readings within their statistical error; if they do not, they did not do the
same work, and the exit code is 1. Times are printed and never decide the exit code.
"""

import argparse
import json
import math
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
ONE_THREAD = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}

REQUIRED_RATIO = 20.0
HOPED_RATIO = 50.0
START_BAR_S = 0.5
FEWEST_READINGS = 2  # the program takes no fewer

# Five standard errors: a false alarm in two million comparisons.
SAME_WORK_ERRORS = 5.0


def timed(command):
    """Output of a whole program run, its wall time and its processor time. [s]"""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    done = subprocess.run(command, stdout=subprocess.PIPE, check=True, env={**os.environ, **ONE_THREAD})
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return json.loads(done.stdout), wall, cpu


class Contender:
    """One side: its command, and the times of its runs."""

    def __init__(self, name, command, readings):
        self.name = name
        self.command = command
        self.readings = readings
        self.wall = []
        self.cpu = []
        self.result = {}

    def run(self):
        self.result, wall, cpu = timed(self.command)
        self.wall.append(wall)
        self.cpu.append(cpu)

    def row(self):
        values = [pick(times) for times in (self.wall, self.cpu) for pick in (min, statistics.median)]
        cells = [f"{value:10.3f}" for value in values]
        rate = self.readings / min(self.cpu)
        return f"{self.name:<34}{self.readings:>10}" + "".join(cells) + f"{rate:14.4g}"


def differences(a, b):
    """Mean and standard deviation of both sides, in standard errors of their difference."""
    n = (a["readings"], b["readings"])
    sd = (a["still_sd_um"], b["still_sd_um"])
    error_of_mean = math.sqrt(sum(s * s / k for s, k in zip(sd, n)))
    error_of_sd = math.sqrt(sum(s * s / (2.0 * (k - 1)) for s, k in zip(sd, n)))
    return abs(a["mean_mm"] - b["mean_mm"]) * 1000.0 / error_of_mean, abs(sd[0] - sd[1]) / error_of_sd


def same_work(a, b):
    ok = True
    for what, size in zip(("mean", "standard deviation"), differences(a.result, b.result)):
        agrees = size <= SAME_WORK_ERRORS
        ok = ok and agrees
        judged = "same" if agrees else "NOT THE SAME"
        print(f"  {what:<20} of {a.name} and {b.name}: {size:.2f} standard errors apart, {judged}")
    return ok


def verdict(value, bar, reached):
    return f"{value:8.3g}   bar {bar:g}: {'met' if reached else 'not met'}"


def parse():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("scenario", nargs="?", default=str(HERE / "still_target.toml"))
    parser.add_argument(
        "--program", default=os.environ.get("SPOTWRIGHT_PROGRAM"), help="spotwright; else SPOTWRIGHT_PROGRAM"
    )
    parser.add_argument("--expected-frame", help="spotwright_expected_frame; else looked for beside the program")
    parser.add_argument("--readings", type=int, default=200_000)
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args()
    if not options.program:
        parser.error("name the program with --program or SPOTWRIGHT_PROGRAM")
    if not options.expected_frame:
        options.expected_frame = str(Path(options.program).parent / "tests" / "bench" / "spotwright_expected_frame")
    return options


def main():
    options = parse()
    with tempfile.TemporaryDirectory() as folder:
        frame = str(Path(folder) / "frame.json")
        with open(frame, "wb") as file:
            subprocess.run([options.expected_frame, options.scenario], stdout=file, check=True)

        def program(readings):
            name = "spotwright" if readings > FEWEST_READINGS else "spotwright, start-up and two"
            setting = f"run.readings={readings}"
            command = [options.program, "read", options.scenario, "--json", "--threads", "1", "--set", setting]
            return Contender(name, command, readings)

        script = [sys.executable, str(HERE / "still_readings.py"), frame, "--readings", str(options.readings)]
        ours = program(options.readings)
        start = program(FEWEST_READINGS)
        numpy = Contender("NumPy", script, options.readings)
        window = Contender("NumPy, same window of pixels", [*script, "--window"], options.readings)
        contenders = (ours, start, numpy, window)
        for _ in range(options.runs):
            for contender in contenders:
                contender.run()

    print("whole program, one thread; best and median of", options.runs, "runs")
    print(f"{'':<34}{'readings':>10}{'wall s':>10}{'median':>10}{'cpu s':>10}{'median':>10}{'readings/s':>14}")
    for contender in contenders:
        print(contender.row())

    print(f"position sd of NumPy {numpy.result['position_sd_px']:.6f} px; displacement sd in um:", end="")
    print("".join(f" {c.name} {c.result['still_sd_um']:.6f}" for c in (ours, numpy, window)))
    ok = same_work(ours, numpy)
    ok = same_work(ours, window) and ok
    if not ok:
        print("the two sides did not do the same work: no ratio")
        return 1

    # Processor time: on a machine shared with others the wall time of the longer run suffers more.
    ratio = min(numpy.cpu) / min(ours.cpu)
    wall_ratio = min(numpy.wall) / min(ours.wall)
    print(f"ratio, whole program, cpu   {verdict(ratio, REQUIRED_RATIO, ratio >= REQUIRED_RATIO)}")
    print(f"                            {verdict(ratio, HOPED_RATIO, ratio >= HOPED_RATIO)} (hoped for)")
    print(f"ratio, whole program, wall  {verdict(wall_ratio, REQUIRED_RATIO, wall_ratio >= REQUIRED_RATIO)}")
    print(f"ratio, NumPy drawing the same window only, cpu {min(window.cpu) / min(ours.cpu):8.3g}   (no bar)")
    after_start = min(ours.cpu) - min(start.cpu)
    if after_start > 0.1 * min(start.cpu):
        print(f"readings per second of the program after start-up, cpu {options.readings / after_start:.4g}")
    print(f"start to verdict, wall s    {verdict(min(start.wall), START_BAR_S, min(start.wall) < START_BAR_S)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
