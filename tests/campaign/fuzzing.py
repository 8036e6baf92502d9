"""Fuzz targets under sanitizers, one after the other."""

import os
import re
import subprocess
import time

from common import SOURCE

DICTIONARIES = ("keys.dict", "syntax.dict")


def _seeds():
    """Files of each kind, after the byte that tells the kind: see fuzz_texts.cpp."""
    for path in sorted((SOURCE / "scenarios/materials").glob("*.toml"))[:12]:
        yield b"\x00" + path.read_bytes()
    yield b"\x01x_mm,height_mm\n-5,0\n0,0.05\n5,0.1\n"
    yield b"\x02P5\n4 2\n255\n01234567"
    yield b"\x03time_s,along_mm,across_mm\n0,0,0\n0.5,1,0.1\n1,3,0\n"
    yield b"\x04time_s,temperature_C\n0,20\n3600,24.5\n"
    yield b"\x05time_ms,reading_mm,signal_share\n0,0.01,0.5\n0.125,0.011,0.5\n0.25,nan,\n0.375,0.009,0.4\n"
    yield b"\x05reference_mm;reading_mm\n-1;-1,01\n0;0,0\n1;0,99\n"
    for kind, folder in ((b"\x06", "sheets"), (b"\x0d", "jobs")):
        for path in sorted((SOURCE / "scenarios" / folder).glob("*.toml")):
            yield kind + path.read_bytes()


def run(campaign, deadline, folder):
    """Each target that is built gets an equal share of the time."""
    targets = sorted(path for path in folder.glob("fuzz_*") if path.is_file() and os.access(path, os.X_OK))
    if not targets:
        campaign.count("targets: not built (cmake --preset asan-ubsan)", 0)
        return
    seeds = campaign.folder / "seeds"
    seeds.mkdir()
    for number, text in enumerate(_seeds()):
        (seeds / str(number)).write_bytes(text)
    here = os.path.join(os.path.dirname(__file__), "..", "fuzz")
    with open(campaign.folder / "words.dict", "w", encoding="utf-8") as dictionary:
        for name in DICTIONARIES:
            with open(os.path.join(here, name), encoding="utf-8") as part:
                dictionary.write(part.read())
    share = (deadline - time.monotonic()) / len(targets)
    for target in targets:
        found = campaign.keep / target.name
        found.mkdir(parents=True, exist_ok=True)
        corpora = [str(found / "corpus")]
        os.makedirs(corpora[0], exist_ok=True)
        if target.name == "fuzz_texts":
            corpora.append(str(seeds))
        if target.name == "fuzz_scenario":
            corpora.append(os.path.join(here, "corpus"))
        command = [str(target), f"-max_total_time={max(1, int(share))}", "-timeout=60", "-rss_limit_mb=2048",
                   "-print_final_stats=1", f"-dict={campaign.folder / 'words.dict'}", f"-artifact_prefix={found}/",
                   *corpora]
        done = subprocess.run(command, capture_output=True, text=True, errors="replace",
                              env={**os.environ, "UBSAN_OPTIONS": "print_stacktrace=1"})
        units = re.search(r"number_of_executed_units: *(\d+)", done.stderr)
        campaign.count(f"inputs of {target.name}", int(units.group(1)) if units else 0)
        accepted = re.search(r"accepted scenarios: (\d+)", done.stderr)
        if accepted:
            campaign.count("scenarios accepted", int(accepted.group(1)))
        if done.returncode != 0:
            campaign.find("a", f"{target.name}: exit code {done.returncode}: {done.stderr[-1500:]}", command)
