"""Random valid scenarios through the commands, judged by what must hold whatever the scenario is."""

import csv
import io
import time

import h5py
import numpy as np
import spotwright as sw

import scenarios
from common import CPU_SECONDS, MEMORY_MIB, died, finite_json

READINGS = 64
# Instruction sets of Highway to take one after the other: SSSE3, SSE4, AVX2.
VECTORS = ["0x1000", "0x1800", "0x1a00"]


def _judged(campaign, result, words, command, may_refuse=True):
    """The JSON of a run if it has any; a find where the run broke a promise."""
    campaign.count("commands")
    campaign.most["cpu s"] = max(campaign.most["cpu s"], result.cpu)
    campaign.most["MiB"] = max(campaign.most["MiB"], result.mib)
    if result.code is None:
        campaign.find("b", f"{words}: hangs", command)
    elif died(result.code) or result.code not in ((0, 1, 2) if may_refuse else (0, 1)):
        campaign.find("b", f"{words}: exit code {result.code}: {result.err[-300:]}", command)
    elif result.code == 2 and not result.err.strip():
        campaign.find("b", f"{words}: refused without a word", command)
    if result.cpu > CPU_SECONDS:
        campaign.find("b", f"{words}: {result.cpu:.1f} s of processor time", command)
    if result.mib > MEMORY_MIB:
        campaign.find("b", f"{words}: {result.mib:.0f} MiB", command)
    if result.code not in (0, 1):
        return None
    try:
        return finite_json(result.out)
    except ValueError as error:
        campaign.find("b", f"{words}: {error}", command)
        return None


def _read(campaign, text, words, name="a.toml", extra=(), environment=None, may_refuse=True):
    file = campaign.folder / name
    file.write_text(text)
    command = ["read", file, "--json", "--set", f"run.readings={READINGS}", "--set", "run.patches=32", *extra]
    result = campaign.run(command, environment)
    return _judged(campaign, result, words, command, may_refuse), result, command


def _at(value, path):
    for name in path.split("."):
        value = value.get(name) if isinstance(value, dict) else None
    return value


def _same(a, b, relative):
    return a is None and b is None or None not in (a, b) and abs(a - b) <= relative * max(abs(a), abs(b))


def _threads_and_vectors(campaign, text, result):
    for extra, environment, words in [(["--threads", "3"], None, "3 threads")] + [
            ([], {"LD_PRELOAD": campaign.targets, "VECTORS": each}, f"instruction sets {each}") for each in VECTORS[:1]]:
        other, again, command = _read(campaign, text, words, extra=extra, environment=environment)
        campaign.count("invariants")
        if other is not None and again.out != result.out:
            campaign.find("b", f"{words} change the result", command)


def _seed(campaign, scenario, value):
    other, _, command = _read(campaign, scenarios.open_copy(scenario, {"seed": 4711}).to_toml(), "another seed", "s.toml")
    first, _, _ = _read(campaign, scenarios.open_copy(scenario, {"seed": value["seed"]}).to_toml(), "its own seed", "s0.toml")
    campaign.count("invariants")
    if other is None or first is None:
        return
    # A seed draws the paths inside translucent parts, too: images scatter by a share of their light.
    share = 0.05 if scenario.target.material in TRANSLUCENT or first["model"] == "ray" else 1e-9
    for path in ("true_mm", "signal.received_power_uW", "sampling_kHz", "signal.background_e"):
        if path == "true_mm" and _moves(scenario):
            continue  # the mean over the valid readings, and noise decides which are valid
        if path != "sampling_kHz" and scenario.exposure.mode == "automatic":
            continue
        if not _same(_at(first, path), _at(other, path), share):
            campaign.find("b", f"the seed changes {path}: {_at(first, path)} {_at(other, path)}", command)


def _moves(scenario):
    m = scenario.motion
    return any([m.along_mm_per_s, *m.across_mm_per_s, m.vibration_um, m.rotation_rpm])


TRANSLUCENT = {path.stem for path in (scenarios.Path(__file__).resolve().parents[2] / "scenarios/materials").glob("*.toml")
               if "[volume]" in path.read_text()}


def _mirrored(campaign, scenario):
    """The sensor's plane is a mirror: tilts out of it turn their sign, and the light stays."""
    if scenario.target.shape not in ("plane", "step", "cylinder", "wave") or scenario.target.material in TRANSLUCENT:
        return
    still = {"motion.along_mm_per_s": 0.0, "motion.across_mm_per_s": (0.0, 0.0), "motion.vibration_um": 0.0,
             "motion.rotation_rpm": 0.0, "target.texture.deviation": 0.0, "target.lay_deg": 0.0,
             "target.pattern.kind": "none", "target.feed_marks.spacing_um": 0.0, "run.model": "spot",
             "emitter.out_of_plane_mm": 0.0, "exposure.mode": "fixed"}
    tilts = {key: getattr(getattr(scenario, key.split(".")[0]), "tilt_deg") for key in ("mount.tilt_deg", "target.tilt_deg")}
    try:
        one = scenarios.open_copy(scenario, still).to_toml()
        other = scenarios.open_copy(scenario, {**still, **{key: (pair[0], -pair[1]) for key, pair in tilts.items()}}).to_toml()
    except sw.ScenarioError:
        return
    a, _, _ = _read(campaign, one, "before the mirror", "m0.toml")
    b, _, command = _read(campaign, other, "in the mirror", "m1.toml")
    campaign.count("invariants")
    if a is None or b is None:
        return
    # Images are exact to a thousandth of the light on the row; a detector of time of flight is lit by as few rays as
    # suit it.
    share = 0.005 if a["principle"] == "triangulation" else 0.03
    least = 1e-9
    pa, pb = _at(a, "signal.received_power_uW") or 0.0, _at(b, "signal.received_power_uW") or 0.0
    if max(pa, pb) > least and not _same(pa, pb, share):
        campaign.find("b", f"the mirror image receives {pb} uW and not {pa} uW", command)


def _energy(campaign, scenario):
    """Twice the power over half the time is the same energy; the same exposure with more power is no noisier."""
    if _moves(scenario) or scenario.exposure.mode == "automatic" or scenario.principle != "triangulation":
        return
    dark = {"surroundings.light": "none", "detector.dark_current_e_per_s": 0.0, "run.model": "spot"}
    power, exposure = scenario.emitter.power_mW, scenario.exposure.exposure_us
    try:
        texts = [scenarios.open_copy(scenario, {**dark, **more}).to_toml() for more in
                 ({}, {"emitter.power_mW": 2.0 * power, "exposure.exposure_us": 0.5 * exposure},
                  {"emitter.power_mW": 2.0 * power})]
    except sw.ScenarioError:
        return
    one, halved, more = (_read(campaign, text, "energy", f"e{i}.toml") for i, text in enumerate(texts))
    campaign.count("invariants", 2)
    if None in (one[0], halved[0], more[0]):
        return
    a, b, c = one[0], halved[0], more[0]
    if not _same(_at(a, "signal.peak_e"), _at(b, "signal.peak_e"), 1e-5):
        campaign.find("b", f"equal energy, peaks {_at(a, 'signal.peak_e')} and {_at(b, 'signal.peak_e')} e", halved[2])
    unsaturated = (_at(c, "signal.peak_share") or 1.0) < 0.8
    sound = a["valid_share"] == 1.0 and c["valid_share"] == 1.0 and unsaturated
    first, second = a.get("still_sd_interval_um"), c.get("still_sd_interval_um")
    # Where the threshold leaves one pixel, readings stand on it and do not scatter at all.
    sound = sound and a["still_sd_um"] is not None and a["still_sd_um"] > 0.0
    # Intervals of 95 % each, drawn from the same numbers: a find is a deviation of some three standard deviations.
    if sound and first and second and second[0] > 1.2 * first[1]:
        campaign.find("b", f"twice the light scatters more: {second} um after {first} um", more[2])


def _formats(campaign, scenario, value):
    """JSON, CSV, HDF5 and Python hold the same readings."""
    file = campaign.folder / "a.toml"
    columns = {}
    for ending in ("csv", "h5"):
        out = campaign.folder / f"out.{ending}"
        out.unlink(missing_ok=True)
        result = campaign.run(["read", file, "--json", "--set", f"run.readings={READINGS}", "--set", "run.patches=32",
                               "--out", out])
        if result.code not in (0, 1):
            campaign.find("b", f"--out {ending}: exit code {result.code}: {result.err[-200:]}", ["read", file])
            return
        if ending == "csv":
            rows = csv.DictReader(io.StringIO("".join(
                line + "\n" for line in out.read_text().split("\n") if line and not line.startswith("#"))))
            columns[ending] = np.array([float(row["output_mm"] or "nan") for row in rows])
        else:
            with h5py.File(out) as h5:
                name = "output_mm" if "output_mm" in h5 else "output"
                columns[ending] = np.array(h5[name])
    campaign.count("invariants", 2)
    a, b = columns["csv"], columns["h5"]
    if a.shape != b.shape or not np.array_equal(a, b, equal_nan=True):
        campaign.find("b", "CSV and HDF5 differ", ["read", file])
    python = sw.read(sw.load(file, {"run.readings": READINGS, "run.patches": 32}))
    for name in ("mean_mm", "still_sd_um", "valid_share", "replaced_sd_um"):
        if name in value and python.get(name) != value[name]:
            campaign.find("b", f"Python has {name} = {python.get(name)}, JSON {value[name]}", ["read", file])


def _others(campaign, text):
    """One of the other commands, within its limits."""
    file = campaign.folder / "a.toml"
    file.write_text(text)
    small = ["--set", f"run.readings={READINGS}", "--set", "run.patches=32"]
    command = campaign.random.choice([
        ["layout", file, "--json"], ["budget", file, "--json", "--set", "run.trials=100", *small],
        ["sweep", file, "--json", "--over", "target.displacement_mm=-0.1,0.1", *small],
        ["read", file, "--json", "--drift", *small], ["read", file, "--json", "--allan", *small],
        ["layout", file, "--json", "--out", campaign.folder / f"l.{campaign.random.choice(['svg', 'dxf'])}"],
        ["read", file, "--json", "--out", campaign.folder / "r.html", *small]])
    _judged(campaign, campaign.run(command), " ".join(str(each) for each in command[:1]), command)


def run(campaign, deadline):
    """Until the deadline."""
    while time.monotonic() < deadline:
        scenario = scenarios.scenario(campaign.random)
        campaign.count("scenarios drawn")
        if scenario is None:
            continue
        campaign.count("scenarios accepted")
        text = scenario.to_toml()
        value, result, command = _read(campaign, text, "read")
        if value is None:
            campaign.count("refused by a model" if result.code == 2 else "failed")
            continue
        campaign.count("scenarios read")
        checks = [lambda: _threads_and_vectors(campaign, text, result), lambda: _seed(campaign, scenario, value),
                  lambda: _mirrored(campaign, scenario), lambda: _energy(campaign, scenario),
                  lambda: _formats(campaign, scenario, value), lambda: _others(campaign, text)]
        for check in campaign.random.sample(checks, 3):
            if time.monotonic() < deadline:
                (campaign.folder / "a.toml").write_text(text)
                check()
