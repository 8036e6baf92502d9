"""What sheets and jobs cost: `infer` on every sheet, and `shortlist` on a shelf of forty sensors and a job of four parts.

The shelf is the library and variants of its sensors, all lengths along the light scaled, or another power; invented for the
measurement.
"""

import argparse
import os
import re
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from compare import timed  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
SCALED = ["reference_distance_mm", "baseline_mm", "distance_mm", "focal_length_mm", "aperture_mm"]
FACTORS = [0.94, 1.07]  # near enough to 1 that the array still holds the range
PARTS = ROOT / "scenarios/jobs/seal-seats.toml"


def scaled(text, factor):
    """The sensor with these keys multiplied, wherever they stand at the start of a line."""
    keys = "|".join(SCALED)
    return re.sub(rf"^({keys}) = ([\d.]+)", lambda m: f"{m[1]} = {float(m[2]) * factor:.6g}", text, flags=re.M)


def dimmed(text, factor):
    return re.sub(r"^power_mW = ([\d.]+)", lambda m: f"power_mW = {float(m[1]) * factor:.6g}", text, flags=re.M)


def write_shelf(folder, count):
    """Writes `count` sensor files. @return Their number."""
    library = sorted((ROOT / "scenarios/sensors").glob("*.toml"))
    changes = [("", lambda text: text)]
    changes += [(f"-at-{factor:g}", lambda text, factor=factor: scaled(text, factor)) for factor in FACTORS]
    changes += [("-dim", lambda text: dimmed(text, 0.7))]
    sensors = [(f"{file.stem}{name}.toml", change(file.read_text())) for name, change in changes for file in library]
    for name, text in sensors[:count]:
        (folder / name).write_text(text)
    return len(sensors[:count])


def measure(what, command):
    _, wall, cpu = timed(command)
    print(f"{what:<44}{cpu:8.1f} s processor{wall:8.1f} s wall", flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", default=os.environ.get("SPOTWRIGHT_PROGRAM", ROOT / "build/spotwright"))
    parser.add_argument("--sensors", type=int, default=40)
    parser.add_argument("--threads", default="2")
    parser.add_argument("--only", choices=["infer", "shortlist"])
    options = parser.parse_args()
    program = str(options.program)
    if options.only != "infer":
        with tempfile.TemporaryDirectory() as folder:
            count = write_shelf(Path(folder), options.sensors)
            measure(f"shortlist, {count} sensors, 4 parts", [program, "shortlist", str(PARTS), "--sensors", folder,
                                                             "--json", "--quiet", "--threads", options.threads])
    if options.only != "shortlist":
        for sheet in sorted((ROOT / "scenarios/sheets").glob("*.toml")):
            measure(f"infer {sheet.stem}", [program, "infer", str(sheet), "--json", "--quiet", "--threads",
                                            options.threads])


if __name__ == "__main__":
    main()
