"""What a pose of a sweep costs: processor time of one thread, for kinds of parts and sensors.

Each kind is swept twice, over few and over more poses; the difference of both times is free of start-up and of the
calibration that poses share.
"""

import argparse
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from compare import timed  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
FAST = ["run.readings=100", "run.speckle=statistical"]
WAVES = ["run.readings=100"]
TILT = "target.tilt_deg[0]"

# Name, scenario, settings, key that is swept and its ends, few poses, more poses.
KINDS = [
    ("matt plane, fast speckle", "01-white-tile", FAST, TILT, (0, 10), 10, 210),
    ("matt plane, speckle by waves", "01-white-tile", WAVES, TILT, (0, 10), 2, 42),
    ("ground steel, fast speckle", "09-ground-plate", FAST, TILT, (0, 5), 4, 44),
    ("polished ring in a specular mount", "08-polished-ring-specular", FAST, TILT, (0, 0.5), 2, 12),
    ("clear cover, two faces", "14-clear-cover", FAST, TILT, (0, 0.5), 2, 12),
    ("translucent cap, fast speckle", "15-translucent-cap", FAST, TILT, (0, 5), 2, 12),
    ("matt roll, fast speckle", "18-roll-diameter", FAST, TILT, (0, 2), 4, 24),
    ("time of flight by phase", "21-pallet-white", FAST, TILT, (0, 10), 4, 104),
    ("another sensor for each pose", "01-white-tile", FAST, "receiver.distance_mm", (45, 46), 4, 44),
]


def processor_time(program, kind, poses):
    _, scenario, settings, key, (first, last), _, _ = kind
    command = [program, "sweep", str(ROOT / "scenarios" / f"{scenario}.toml"), "--threads", "1", "--json", "--quiet",
               "--over", f"{key}={first}:{last}:{poses}"]
    for setting in settings:
        command += ["--set", setting]
    result, _, cpu = timed(command)
    read = sum(1 for point in result["results"] if point["obstacle"] is None)
    if read < poses:
        raise SystemExit(f"{kind[0]}: {poses - read} of {poses} poses have no reading")
    return cpu


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", default=os.environ.get("SPOTWRIGHT_PROGRAM", str(ROOT / "build" / "spotwright")))
    program = parser.parse_args().program
    print("| kind of pose | ms | poses an hour and core |\n| --- | ---: | ---: |")
    for kind in KINDS:
        few, more = kind[5], kind[6]
        each = (processor_time(program, kind, more) - processor_time(program, kind, few)) / (more - few)
        an_hour = f"{3600 / each:,.0f}".replace(",", " ")
        print(f"| {kind[0]} | {1e3 * each:.3g} | {an_hour} |", flush=True)


if __name__ == "__main__":
    main()
