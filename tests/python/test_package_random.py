"""Whatever stands in a scenario, it is refused by name or read: nothing else happens."""

import collections
import json
import math
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import spotwright as sw
from package_support import ROOT, scenario_file

KEYS = {key["key"]: key for key in sw.keys()}


def examples(most):
    return settings(max_examples=most, deadline=None, derandomize=True, database=None,
                    suppress_health_check=list(HealthCheck))


# Applied last, so that a reading takes milliseconds.
CAPS = {"run.readings": 8, "run.patches": 8, "run.trials": 100, "run.rays": 1000, "detector.pixels": 256, "detector.pitch_um": 28.0}
BASES = [sw.load(str(ROOT / scenario_file(number)), {"run.speckle": "off"}) for number in (1, 15, 19, 21, 24, 25, 26)]
NUMBER = r"[-+0-9.e]+"

ODD_NUMBERS = st.sampled_from([0.0, -0.0, 1.0, -1.0, math.nan, math.inf, -math.inf, 5e-324, 1e-300, 1e300, 10**18, 10**30])
ANYTHING = st.one_of(
    ODD_NUMBERS, st.integers(), st.text(max_size=5), st.booleans(), st.none(), st.binary(max_size=2),
    st.lists(st.one_of(ODD_NUMBERS, st.text(max_size=2)), max_size=3),
)


def bounds(key):
    """Of the numbers that a key takes, by the words of its table."""
    low = re.match(rf"({NUMBER}) <=? ", key["limits"])
    high = re.search(rf" <= ({NUMBER})", key["limits"].partition("value")[2])
    return float(low[1]) if low else -1e6, float(high[1]) if high else 1e6


def numbers(key, whole):
    low, high = bounds(key)
    kind = st.integers(math.ceil(low), int(high)) if whole else st.floats(low, high)
    # Most ranges span decades; near the default things happen.
    default = key["default"] if isinstance(key["default"], (int, float)) else 1.0
    near = st.sampled_from([0.1, 0.5, 0.9, 1.0, 1.1, 2.0, 10.0]).map(lambda factor: factor * (default or 1.0))
    near = near.map(lambda value: min(max(value, low), high))
    return st.one_of(near.map(int) if whole else near, kind)


def values(key):
    """Values inside the limits for the most part."""
    default = key["default"]
    if key["words"]:
        right = st.sampled_from(key["words"])
    elif isinstance(default, tuple):
        right = st.lists(numbers(key, False), min_size=len(default), max_size=max(2, len(default))).map(tuple)
    elif isinstance(default, (int, float)):
        right = numbers(key, isinstance(default, int))
    elif isinstance(default, list):
        right = st.lists(st.sampled_from(["white-ceramic", "mirror", "clear-glass", "x"]), max_size=3)
    else:
        right = st.one_of(st.sampled_from(["white-ceramic", "polished-steel", "translucent-polymer", "scheimpflug"]),
                          st.text(max_size=5), st.integers(0, 5), st.floats(0.01, 50.0))
    return st.one_of(right, right, right, right, ANYTHING)


@st.composite
def some_settings(draw, most):
    names = draw(st.lists(st.sampled_from(sorted(KEYS)), min_size=1, max_size=most, unique=True))
    return {name: draw(values(KEYS[name])) for name in names}


def allowed(error, chosen):
    """A TypeError or ValueError only for what no setting can hold."""
    if isinstance(error, sw.ScenarioError):
        return bool(error.problems) or bool(str(error))
    odd = [value for value in chosen.values() if value is None or isinstance(value, (bytes, str))]
    return bool(odd) and isinstance(error, (TypeError, ValueError))


def numbers_in(value):
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for each in value for number in numbers_in(each)]
    return [value] if isinstance(value, float) else []


def check_reading(scenario, outcomes):
    try:
        result = sw.read(scenario, threads=1)
    except sw.ScenarioError as error:
        assert str(error)
        outcomes["refused"] += 1
        return
    outcomes[result.verdict.level] += 1
    plain = result.to_dict()
    assert json.loads(result.to_json(), parse_constant=pytest.fail) == plain
    assert all(map(math.isfinite, numbers_in(plain)))
    assert 0.0 <= result.valid_share <= 1.0 and all(0.0 <= share <= 1.0 for share in result.invalid.values())
    assert result.valid_share + sum(result.invalid.values()) == pytest.approx(1.0, abs=1e-12)  # rounding of six shares
    assert result.verdict.level in ["stable", "marginal", "unstable", "unreadable"] and result.verdict.reasons


@examples(400)
@given(chosen=some_settings(most=4), base=st.sampled_from(BASES))
def test_settings_are_refused_by_name_or_taken_and_read_back(chosen, base):
    try:
        scenario = base.vary(chosen)
    except (ValueError, TypeError) as error:
        assert allowed(error, chosen), repr(error)
        return
    again = sw.parse(scenario.to_toml(), scenario.file)
    assert again == scenario and again.to_toml() == scenario.to_toml()
    for name, value in chosen.items():
        taken = scenario[name]
        if isinstance(value, float) and isinstance(taken, float):
            # SI inside: a unit's factor there and back, an epsilon or two; what is lost below the least normal number.
            assert taken == pytest.approx(value, rel=1e-15, abs=1e-300)
        elif isinstance(value, str):
            assert taken == value


def test_a_scenario_that_stands_is_read_or_refused():
    outcomes = collections.Counter()

    @examples(120)
    @given(chosen=some_settings(most=3), base=st.sampled_from(BASES), fast=st.booleans())
    def read_or_refused(chosen, base, fast):
        speckle = "statistical" if fast else "off"
        try:
            scenario = base.vary({**chosen, **CAPS, "run.speckle": speckle})
        except (ValueError, TypeError) as error:
            assert allowed(error, chosen), repr(error)
            return
        check_reading(scenario, outcomes)

    read_or_refused()
    # Else nothing much was tried. Which scenarios are drawn changes with every new key.
    read = outcomes["stable"] + outcomes["marginal"] + outcomes["unstable"]
    assert read > 5 and outcomes["unreadable"] > 5, outcomes


@examples(200)
@given(chosen=some_settings(most=3), base=st.sampled_from(BASES))
def test_a_layout_is_told_and_drawn_or_refused(chosen, base):
    try:
        scenario = base.vary(chosen)
        result = sw.layout(scenario)
    except (ValueError, TypeError) as error:
        assert allowed(error, chosen), repr(error)
        return
    assert all(map(math.isfinite, numbers_in(result.to_dict())))
    assert json.loads(result.to_json(), parse_constant=pytest.fail) == result.to_dict()
    assert sw.drawing(scenario).svg.rstrip().endswith("</svg>")


@examples(150)
@given(text=st.text(alphabet=st.characters(), max_size=60))
def test_any_text_is_a_scenario_or_refused(text):
    for toml in (text, f"[target]\nmaterial = 'mirror'\n{text}"):
        try:
            sw.parse(toml)
        except ValueError as error:
            assert isinstance(error, (sw.ScenarioError, UnicodeEncodeError))
