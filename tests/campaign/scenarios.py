"""Random scenarios that pass validation, from the program's own table of keys."""

import math
import re
from pathlib import Path

import spotwright as sw
from spotwright import _core

# Keys that name files, or change the cost and nothing else.
LEFT_ALONE = {"title", "sensor", "seed", "motion.path", "surroundings.temperature_path", "target.relief.file",
              "target.pattern.file", "run.readings", "run.patches", "run.model", "target.segments.material"}
SENSORS = ["short-45", "fine-10", "blue-24", "mirror-36", "middle-110", "infrared-160", "long-1000", "phase-3000",
           "pulse-6000", "short-45-line"]
SHAPES = ["plane", "step", "cylinder", "sphere", "groove", "wave", "plate"]
NUMBER = r"[-+0-9.e]+"
MATERIALS = sorted(each.stem for each in (Path(__file__).resolve().parents[2] / "scenarios/materials").glob("*.toml"))


def _bounds(limits):
    """(low, high) as the table's text has them; infinite where it has none."""
    numbers = [float(each) for each in re.findall(r"(?<![A-Za-z_])" + NUMBER + r"(?![A-Za-z_])", limits)
               if re.fullmatch(r"[-+]?[0-9.]+(e[-+]?[0-9]+)?", each)]
    if len(numbers) >= 2 and "<" in limits:
        return numbers[0], numbers[1]
    return -math.inf, math.inf


def _number(random, default, low, high):
    """Mostly near the default, sometimes anywhere within the bounds, sometimes at one."""
    choice = random.random()
    if choice < 0.05 and math.isfinite(low):
        return random.choice([low, high])
    if choice < 0.25 and math.isfinite(low):
        if low >= 0.0:
            least = max(low, 1e-6 * high)
            return math.exp(random.uniform(math.log(least), math.log(high)))
        return random.uniform(low, high) * 10.0 ** random.uniform(-4.0, 0.0)
    value = default * math.exp(random.gauss(0.0, 0.5)) if default else random.gauss(0.0, 1.0)
    return min(max(value, low), high)


def _value(random, key):
    low, high = _bounds(key["limits"])
    default = key["default"]
    if key["words"] and (isinstance(default, str) or random.random() < 0.3):
        return random.choice(key["words"])
    if isinstance(default, bool) or isinstance(default, str):
        return None
    if isinstance(default, int):
        return int(_number(random, default, low, high))
    if isinstance(default, float):
        return _number(random, default, low, high)
    if isinstance(default, tuple) and all(isinstance(each, float) for each in default):
        return tuple(sorted(_number(random, each, low, high) for each in default))
    return None


def settings(random):
    """Keys and values that most often are valid together."""
    chosen = {"target.material": random.choice(MATERIALS)}
    if random.random() < 0.7:
        chosen["sensor"] = random.choice(SENSORS)
    elif random.random() < 0.3:
        chosen["principle"] = random.choice(["phase-shift", "pulsed"])
    if random.random() < 0.6:
        chosen["target.shape"] = random.choice(SHAPES)
    if random.random() < 0.3:
        chosen["motion.along_mm_per_s"] = 10.0 ** random.uniform(-1.0, 3.5)
    keys = [key for key in _core.keys() if key["key"] not in LEFT_ALONE and key["key"] not in chosen]
    for key in random.sample(keys, random.randint(1, 8)):
        value = _value(random, key)
        if value is not None:
            chosen[key["key"]] = value
    return chosen


def scenario(random):
    """A scenario, or None where the keys contradict each other; then the error is one of the scenario."""
    try:
        return sw.Scenario(settings(random))
    except sw.ScenarioError:
        return None


def open_copy(scenario, changes):
    """The same without a sensor's file, so that every key may change, with some keys changed."""
    return sw.parse(scenario.to_toml()).vary(changes)
