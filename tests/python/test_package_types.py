"""What the type files promise is what is there."""

import collections
import collections.abc
import os
import subprocess
import sys
import tempfile
import types
import typing

import pytest

import spotwright as sw
from package_support import ROOT, advice_on_the_seal, linearity_of_the_warm_hall, reading_of_a_plate, scenario_file
from spotwright import results

SHORT = {"run.readings": 100, "run.patches": 8, "run.trials": 100, "run.speckle": "off"}
PACKAGE = os.path.dirname(sw.__file__)


def load(number, **more):
    return sw.load(str(ROOT / scenario_file(number)), {**SHORT, **more})


def samples():
    """Results of each kind, as different as they come."""
    log = str(ROOT / "scenarios/logs") + "/"
    white, moving, thermal = load(1), load(26), load(29)
    phase, pulsed = load(21), load(24)
    turning = load(26, **{"run.readings": 2000})
    roll = load(6, **{"target.shape": "cylinder", "target.cylinder.radius_mm": 20.0,
                      "target.cylinder.position_mm": -3.0, "motion.across_mm_per_s": (75.0, 0.0),
                      "run.readings": 500})
    by_waves = load(1, **{"run.speckle": "coherent"})
    housed = sw.parse('sensor = "short-45"\n[target]\nmaterial = "white-ceramic"\n', "housed.toml")
    yield (results.Reading, reading_of_a_plate())
    yield from [(results.Reading, sw.read(each)) for each in [
        white, by_waves, moving, turning, roll, load(39, **{"run.specimens": 2}), load(25), load(28), thermal, phase, pulsed, load(2), load(23),
        load(19, **{"run.model": "ray", "run.rays": 1000})]]
    yield from [(results.Layout, sw.layout(each)) for each in [white, phase, pulsed, load(8), housed]]
    yield from [(results.Budget, sw.budget(each)) for each in [white, pulsed, thermal]]
    yield from [(results.Advice, sw.advise(white)), (results.Advice, advice_on_the_seal())]
    yield from [(results.Drift, sw.drift(each)) for each in [white, thermal]]
    yield from [(results.Allan, sw.allan(each)) for each in [white, load(2)]]
    yield from [(list[results.LinearityCurve], linearity_of_the_warm_hall())]
    yield from [(list[results.AveragedError], sw.averaging(by_waves))]
    yield from [(results.Crossover, sw.crossover(load(2)))]
    yield from [(results.Materials, sw.materials())]
    sheet = (ROOT / "scenarios/sheets/workshop-45.toml").read_text()
    inferred = sw.infer(sheet, sensors=2)
    yield (results.Inference, inferred)
    yield from [(results.Inference, sw.infer("reference_distance_mm = 45\nrange_mm = [-8, 8]\n", sensors=2))]
    shelf = os.path.join(tempfile.mkdtemp(), "shelf")
    os.mkdir(shelf)
    with open(os.path.join(shelf, "inferred.toml"), "w") as file:
        file.write(inferred.sensor_toml)
    before_part = sw.parse('sensor = "inferred.toml"\n[target]\nmaterial = "white-ceramic"\n'
                           "[run]\nreadings = 100\npatches = 8\ntrials = 100\n", file=os.path.join(shelf, "case.toml"))
    yield from [(results.Reading, sw.read(before_part)), (results.Budget, sw.budget(before_part)),
                (results.Advice, sw.advise(before_part))]
    for job in [ROOT / "scenarios/jobs/polished-ring.toml",
                "[job]\nat_mm = 45\nspan_mm = 0.2\n[run]\npatches = 8\nreadings = 200\n[[part]]\n[part.target]\n"
                'material = "white-ceramic"\n',
                # A first pose that cannot be read ends the poses of a sensor.
                "[job]\nat_mm = 45\nspan_mm = 6\n[run]\npatches = 8\nreadings = 200\n[[part]]\n[part.target]\n"
                'material = "clear-glass"\n']:
        yield from [(results.Shortlist, sw.shortlist(job)), (results.Shortlist, sw.shortlist(job, sensors=shelf))]
    for each in [None, white]:
        yield from [(results.Bench, sw.bench(log + "grey-insert.csv", each)),
                    (results.Bench, sw.bench(log + "zinc-plate-on-stage.csv", each))]


class Seen:
    """How often a type of record came, and each of its entries; entries that never had a value are told apart."""

    def __init__(self):
        self.records = collections.Counter()
        self.entries = collections.Counter()
        self.none = collections.Counter()

    def walk(self, hint, value, where):
        origin, arguments = typing.get_origin(hint), typing.get_args(hint)
        if origin is typing.Annotated:
            self.walk(arguments[0], value, where)
        elif origin in (types.UnionType, typing.Union):
            kinds = [each for each in arguments if each is not type(None)]
            assert value is not None or type(None) in arguments, f"{where} is None"
            if value is not None:
                self.walk(kinds[0] if len(kinds) == 1 else self.chosen(kinds, value), value, where)
        elif origin is list:
            assert isinstance(value, list), where
            for each in value:
                self.walk(arguments[0], each, f"{where}[]")
        elif origin is collections.abc.Mapping:
            assert isinstance(value, sw.Record), where
            for each in value.values():
                self.walk(arguments[1], each, f"{where}{{}}")
        elif isinstance(hint, type) and issubclass(hint, sw.Record):
            self.record(hint, value, where)
        elif hint is float:
            assert isinstance(value, (int, float)) and not isinstance(value, bool), f"{where} is {value!r}"
        elif hint is not typing.Any:
            assert type(value) is hint, f"{where} is {value!r}"

    @staticmethod
    def chosen(kinds, value):
        for kind in kinds:
            if isinstance(value, sw.Record) == (isinstance(kind, type) and issubclass(kind, sw.Record)):
                return kind
        raise AssertionError(f"none of {kinds} is {value!r}")

    def record(self, kind, value, where):
        assert isinstance(value, sw.Record), f"{where} is {value!r}"
        hints = typing.get_type_hints(kind, include_extras=True)
        hints = {name: hint for name, hint in hints.items() if not name.startswith("_")}
        assert set(value) <= set(hints), f"{where} ({kind.__name__}): {set(value) - set(hints)} not annotated"
        missing = {name for name in hints if name not in value and not sometimes(hints[name])}
        assert not missing, f"{where} ({kind.__name__}): {missing} missing"
        self.records[kind] += 1
        for name, each in value.items():
            self.entries[kind, name] += 1
            self.none[kind, name] += each is None
            self.walk(hints[name], each, f"{where}.{name}")


def sometimes(hint):
    return typing.get_origin(hint) is typing.Annotated and results.SOMETIMES in hint.__metadata__


@pytest.fixture(scope="module")
def seen():
    seen = Seen()
    for hint, result in samples():
        seen.walk(hint, result, getattr(hint, "__name__", "list"))
    return seen


def kinds():
    return [kind for kind in vars(results).values()
            if isinstance(kind, type) and issubclass(kind, sw.Record) and kind is not sw.Record]


def test_every_entry_that_is_promised_comes_and_no_other(seen):
    assert [kind.__name__ for kind in kinds() if not seen.records[kind]] == []
    for kind in kinds():
        for name, hint in typing.get_type_hints(kind, include_extras=True).items():
            if name.startswith("_"):
                continue
            come = seen.entries[kind, name]
            assert come, f"{kind.__name__}.{name} never came"
            if sometimes(hint):
                assert come < seen.records[kind], f"{kind.__name__}.{name} always came"


def test_no_entry_hides_behind_a_method_of_records():
    for kind in kinds():
        assert set(vars(kind).get("__annotations__", {})) & set(dir(sw.Record)) == set()


def run(*command):
    environment = dict(os.environ, MYPYPATH=os.path.dirname(PACKAGE))
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=180)


# Every class of pybind11 has a metaclass, and one without a constructor an `__init__` that says so.
NOT_FOR_STUBS = r"""
spotwright\._core\.(Scenario|Section|Sweep|SweepFile|SweepPoints)
spotwright\._core\.(Section|SweepPoints)\.__init__
"""


def test_the_types_of_the_module_are_those_of_its_stub(tmp_path):
    (tmp_path / "allowed").write_text(NOT_FOR_STUBS)
    checked = run(sys.executable, "-m", "mypy.stubtest", "spotwright._core", "--allowlist", str(tmp_path / "allowed"),
                  "--mypy-config-file", "pyproject.toml")
    assert checked.returncode == 0, checked.stdout + checked.stderr


EXAMPLE = """
import numpy as np
from numpy.typing import NDArray

import spotwright as sw
from spotwright import results

scenario: sw.Scenario = sw.load("a.toml", {"target.tilt_deg": (5, 0)}).vary(seed=3)
reading: results.Reading = sw.read(scenario, readings=100)
level: str = reading.verdict.level
reasons: list[str] = reading.verdict.reasons
if reading.mean_mm is not None:
    print(reading.mean_mm + 1.0)
largest: results.Contribution = max(sw.budget(scenario).contributions, key=lambda line: line.standard_uncertainty_um)
output: NDArray[np.float64] = sw.series(scenario).output_mm
rate: NDArray[np.float32] = sw.profile(scenario)
try:
    sw.parse("")
except sw.ScenarioError as error:
    lines: list[int] = [problem.line for problem in error.problems]
names: list[str] = [material.name for material in sw.materials().materials]
dataset = sw.sweep(scenario, {"seed": range(5)})
"""
MISTAKES = """
import spotwright as sw

scenario = sw.load("a.toml")
scenario.vary(seed=3).vary(5)
sw.read(scenario).verdict.levl
sw.read("a.toml")
sw.frames(scenario)
len(sw.read(scenario).seed)
"""


def test_the_package_and_programs_that_use_it_check_strictly(tmp_path):
    (tmp_path / "example.py").write_text(EXAMPLE)
    (tmp_path / "mistakes.py").write_text(MISTAKES)
    cache = ["--cache-dir", str(tmp_path / "cache"), "--config-file", "pyproject.toml"]
    clean = run(sys.executable, "-m", "mypy", *cache, PACKAGE, str(tmp_path / "example.py"))
    assert clean.returncode == 0, clean.stdout + clean.stderr
    wrong = run(sys.executable, "-m", "mypy", *cache, str(tmp_path / "mistakes.py"))
    lines = sorted({int(line.split(":")[1]) for line in wrong.stdout.splitlines() if ": error:" in line})
    assert lines == [5, 6, 7, 8, 9], wrong.stdout
