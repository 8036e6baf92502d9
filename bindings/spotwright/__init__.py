"""Spotwright simulates optical displacement sensors, from the emitter's light to the digit.

>>> import spotwright as sw
>>> scenario = sw.load("scenarios/01-white-tile.toml")
>>> sw.read(scenario).verdict.level
'stable'
"""

from spotwright._core import (
    Scenario,
    Section,
    __version__,
    advise,
    allan,
    averaging,
    bench,
    budget,
    crossover,
    drawing,
    drift,
    frames,
    keys,
    layout,
    linearity,
    load,
    materials,
    parse,
    picture,
    profile,
    read,
    scene,
    series,
    simulate_log,
)
from spotwright._drawing import Drawing
from spotwright._errors import Problem, ScenarioError
from spotwright._record import Record
from spotwright._series import Series
from spotwright._sweep import sweep

__all__ = [
    "Drawing",
    "Problem",
    "Record",
    "Scenario",
    "ScenarioError",
    "Section",
    "Series",
    "__version__",
    "advise",
    "allan",
    "averaging",
    "bench",
    "budget",
    "crossover",
    "drawing",
    "drift",
    "frames",
    "keys",
    "layout",
    "linearity",
    "load",
    "materials",
    "parse",
    "picture",
    "profile",
    "read",
    "scene",
    "series",
    "simulate_log",
    "sweep",
]

for _public in (Drawing, Problem, Record, Scenario, ScenarioError, Section, Series):
    _public.__module__ = __name__
del _public
