"""Spotwright simulates optical displacement sensors, from the emitter's light to the digit.

>>> import spotwright as sw
>>> scenario = sw.load("scenarios/01-white-tile.toml")
>>> sw.read(scenario).verdict.level
'stable'
"""

from __future__ import annotations

from typing import Any

from spotwright._arguments import in_words
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
    infer,
    keys,
    layout,
    linearity,
    load,
    materials,
    parse,
    picture,
    profile,
    read,
    report,
    scene,
    series,
    shortlist,
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
    "infer",
    "keys",
    "layout",
    "linearity",
    "load",
    "materials",
    "parse",
    "picture",
    "profile",
    "read",
    "report",
    "scene",
    "series",
    "shortlist",
    "simulate_log",
    "sweep",
]

# Functions and methods of the compiled module answer wrong arguments in words of this package.
for _name in __all__:
    if type(globals()[_name]).__name__ == "builtin_function_or_method":
        globals()[_name] = in_words(globals()[_name], _name)
for _name, _where in (("__init__", "Scenario"), ("vary", "Scenario.vary")):
    setattr(Scenario, _name, in_words(getattr(Scenario, _name), _where, method=True))
del _name, _where

for _public in (Drawing, Problem, Record, Scenario, ScenarioError, Section, Series):
    _public.__module__ = __name__
del _public


def __getattr__(name: str) -> Any:
    # Plots come with matplotlib, which takes longer to import than all the rest: only who draws waits for it.
    if name == "plot":
        import importlib

        return importlib.import_module("spotwright.plot")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*__all__, "plot"})
