"""Fuzz targets under sanitizers, one after the other."""

import os
import re
import subprocess
import time

DICTIONARIES = ("keys.dict", "syntax.dict")


def run(campaign, deadline, folder):
    """Each target that is built gets an equal share of the time."""
    targets = sorted(path for path in folder.glob("fuzz_*") if path.is_file() and os.access(path, os.X_OK))
    if not targets:
        campaign.count("targets: not built (cmake --preset asan-ubsan)", 0)
        return
    source = campaign.folder / "corpus"
    source.mkdir()
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
        if target.name != "fuzz_models":
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
