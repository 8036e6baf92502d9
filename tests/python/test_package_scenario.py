"""Scenarios as objects: what goes in comes out, what cannot be is refused by name, whatever it is."""

import copy
import itertools
import operator
import pathlib
import pickle
import shutil

import numpy as np
import pytest

import spotwright as sw
from package_support import ROOT, run_program, scenario_file

# Of both principles, with lists, pairs, words, files and segments in them.
FILES = [scenario_file(number) for number in (1, 17, 21, 24, 25, 29)]
WHITE = {"target.material": "white-ceramic"}


@pytest.fixture(autouse=True)
def at_root(monkeypatch):
    monkeypatch.chdir(ROOT)


@pytest.fixture(params=FILES)
def scenario(request):
    return sw.load(request.param)


def test_every_key_is_an_attribute_and_an_item(scenario):
    for key in sw.keys():
        value = operator.attrgetter(key["key"])(scenario)
        assert value == scenario[key["key"]]
        section, _, name = key["key"].rpartition(".")
        within = scenario.to_dict()
        for part in filter(None, section.split(".")):
            assert part in dir(scenario) or "." in section
            within = within[part]
        assert within[name] == value


def test_a_default_scenario_has_the_defaults_that_keys_tell():
    scenario = sw.Scenario(WHITE)
    differing = [key["key"] for key in sw.keys() if scenario[key["key"]] != key["default"]]
    assert differing == ["target.material"]


def test_text_reads_back_to_the_same_scenario(scenario):
    again = sw.parse(scenario.to_toml(), scenario.file)
    assert again == scenario and hash(again) == hash(scenario)
    assert again.to_dict() == scenario.to_dict()


def test_what_is_shown_makes_the_same_scenario():
    for path in FILES[:-1]:  # the last names a file beside itself
        scenario = sw.load(path)
        again = eval(repr(scenario), {"Scenario": sw.Scenario})
        assert again.to_toml() == scenario.to_toml()


@pytest.mark.parametrize("copied", [copy.copy, copy.deepcopy, lambda s: pickle.loads(pickle.dumps(s))])
def test_copies_are_equal(scenario, copied):
    again = copied(scenario)
    assert again == scenario and again.file == scenario.file
    assert copied(scenario.target) == scenario.target
    result = sw.layout(scenario)
    assert copied(result) == result and copied(result).to_json() == result.to_json()


def test_a_copy_needs_no_file(tmp_path):
    shutil.copy(FILES[0], tmp_path / "a.toml")
    scenario = sw.load(tmp_path / "a.toml")
    (tmp_path / "a.toml").unlink()
    assert pickle.loads(pickle.dumps(scenario)) == scenario == copy.deepcopy(scenario)


def test_a_scenario_does_not_change():
    scenario = sw.Scenario(WHITE)
    changed = scenario.vary({"seed": 5}, title="another")
    assert (scenario.seed, scenario.title, changed.seed, changed.title) == (1, "", 5, "another")
    with pytest.raises(AttributeError, match="does not change"):
        scenario.seed = 3
    with pytest.raises(AttributeError, match="does not change"):
        scenario.target.shape = "step"
    with pytest.raises(AttributeError, match="did you mean target"):
        scenario.tarket


def test_scenarios_differ_from_anything_else():
    scenario = sw.Scenario(WHITE)
    assert scenario != scenario.vary(seed=2)
    assert scenario != 5 and scenario.target != 5 and scenario.target != scenario.mount
    assert len({scenario, sw.Scenario(WHITE), scenario.vary(seed=2)}) == 2


@pytest.mark.parametrize("value", [
    (5.0, -0.0), [5, 0], np.array([5.0, 0.0]), np.array([5, 0], dtype=np.uint8), [np.float32(5), np.int64(0)],
    (np.array(5.0), 0), range(5, -1, -5),
], ids=repr)
def test_numbers_of_any_kind_are_taken(value):
    assert sw.Scenario(WHITE).vary({"target.tilt_deg": value}).target.tilt_deg == (5.0, 0.0)


def test_texts_of_any_kind_are_taken():
    class Text(str):
        pass

    for text in ["", "5", "[1, 2]", "a\0b", "\"'\\", "\u4e2d\u6587 \u2028 \U0001f600", Text("x"), np.str_("y")]:
        scenario = sw.Scenario(WHITE).vary({Text("title"): text})
        assert scenario.title == text and type(scenario.title) is str
        assert pickle.loads(pickle.dumps(scenario)).title == text
        assert sw.layout(scenario) and scenario.vary({"run.speckle": "off"}).title == text


NUMBERS_OUT_OF_PLACE = [float("nan"), float("inf"), -float("inf"), np.float32("nan"), 10**30, -10**30, 1e308, True,
                        np.bool_(True), "5", "", [], (), [1, 2, 3], np.zeros(0), np.zeros(3)]
NEITHER = [None, b"abc", bytearray(b"abc"), 1 + 2j, object(), {"a": 1}, {1, 2}, [[1, 2]], [None], np.zeros((2, 2)),
           np.array([1j]), iter([1.0]), pathlib.Path("x"), np.datetime64("2001-01-01")]
ENDLESS = []
ENDLESS.append(ENDLESS)


@pytest.mark.parametrize("key", ["target.displacement_mm", "seed"])
def test_numbers_that_cannot_be_are_refused_by_key(key):
    for value in NUMBERS_OUT_OF_PLACE:
        with pytest.raises(sw.ScenarioError) as caught:
            sw.Scenario(WHITE).vary({key: value})
        assert caught.value.key == key


@pytest.mark.parametrize("key", ["target.displacement_mm", "title", "target.tilt_deg", "motion.path", "reading.choose"])
def test_what_is_neither_number_nor_text_is_a_type_error_that_names_the_key(key):
    for value in [*NEITHER, ENDLESS]:
        with pytest.raises((TypeError, sw.ScenarioError), match=key):
            sw.Scenario(WHITE).vary({key: value})


def test_what_no_setting_can_hold_is_a_value_error():
    for value in ["\ud800", range(10**12), 10**5000]:
        for key in ["title", "seed", "target.tilt_deg"]:
            with pytest.raises(ValueError):
                sw.Scenario(WHITE).vary({key: value})


def test_keys_that_cannot_be_are_refused():
    for key in ["", "seed\n", "seed=5 #", "title=\"a", "a.b.c.d", "." * 50, "seed[0]", "target.tilt_deg[2]", "\u4e2d", "\0"]:
        with pytest.raises(sw.ScenarioError):
            sw.Scenario(WHITE).vary({key: 1})
    for key in [5, b"seed", None, ("seed",)]:
        with pytest.raises(TypeError, match="a key must be a str"):
            sw.Scenario(WHITE).vary({key: 1})
    with pytest.raises(ValueError):
        sw.Scenario(WHITE).vary({"\ud800": 1})
    for settings in [None, [("seed", 1)], "seed=1", 5]:
        with pytest.raises(TypeError):
            sw.Scenario(WHITE).vary(settings)
    assert sw.Scenario(WHITE).vary({}) == sw.Scenario(WHITE)
    with pytest.raises(sw.ScenarioError, match="target.material: required"):
        sw.Scenario({})


def test_paths_of_any_kind_are_taken(tmp_path):
    odd = tmp_path / "a \u4e2d ~"
    odd.mkdir()
    shutil.copy(FILES[0], odd / "~x.toml")
    scenario = sw.load(str(odd / "~x.toml"))
    assert scenario == sw.load(odd / "~x.toml") == sw.load(bytes(odd / "~x.toml"))
    assert sw.read(scenario, readings=8, out=bytes(odd / "out.csv")).readings == 8
    assert (odd / "out.csv").exists()
    # A name that is no text.
    raw = bytes(tmp_path) + b"/\xff.toml"
    shutil.copy(FILES[0], raw)
    scenario = sw.load(raw)
    assert pickle.loads(pickle.dumps(scenario)).file == scenario.file
    assert sw.read(scenario.vary(title=""), readings=8).readings == 8
    with pytest.raises(OSError, match="no such file"):
        sw.load(bytes(tmp_path) + b"/\xfe.toml")


@pytest.mark.parametrize("path", ["", ".", "~/none.toml", "x" * 5000, "a/" * 3000, pathlib.Path("~/none.toml"), "/dev/null"])
def test_files_that_are_not_there_are_os_errors(path):
    for ask in [sw.load, sw.bench]:
        with pytest.raises(OSError, match="cannot read"):
            ask(path)


def test_paths_that_cannot_be_are_refused():
    scenario = sw.Scenario(WHITE)
    asks = [sw.load, sw.bench, lambda path: sw.read(scenario, readings=8, out=path),
            lambda path: sw.simulate_log(scenario, path), lambda path: sw.parse("", path)]
    for ask in asks:
        for path in ["a\0b.csv", b"a\0b.csv", "\ud800.csv"]:
            with pytest.raises(ValueError):
                ask(path)
        for path in [5, 1.5, object()]:
            with pytest.raises(TypeError):
                ask(path)
    for path in ["/no/such/folder/a.csv", "/dev/null/a.csv"]:
        with pytest.raises(OSError, match="cannot write"):
            sw.read(scenario, readings=8, out=path)
    for path in ["a.txt", "", "h5"]:
        with pytest.raises(sw.ScenarioError):
            sw.read(scenario, readings=8, out=path)


def test_arguments_beside_the_scenario_are_checked():
    scenario = sw.Scenario(WHITE)
    for threads in [-1, 1025]:
        for ask in [sw.read, sw.series, sw.profile, sw.budget, sw.advise, sw.drift, sw.linearity, sw.allan,
                    sw.averaging, sw.crossover, sw.picture, lambda s, threads: sw.frames(s, 1, threads=threads)]:
            with pytest.raises(ValueError, match="threads must be"):
                ask(scenario, threads=threads)
    for count, first in [(-1, 0), (1, -1), (2**62, 0), (1, 2**63 - 1)]:
        with pytest.raises(ValueError, match="count must be"):
            sw.frames(scenario, count, first=first)
    for date in [5, b"2001-01-01"]:
        with pytest.raises(TypeError, match="date must be a str"):
            sw.read(scenario, readings=8, date=date)
    for wrong in [5, None, "scenario"]:
        for ask in [sw.read, sw.layout, sw.drawing, sw.profile]:
            with pytest.raises(TypeError):
                ask(wrong)
    with pytest.raises(TypeError):
        sw.materials(5)


WRONG = """
[target]
material = "black-ruber"
tilt_deg = 5

[detector]
pich_um = 7.0
pixels = -3
"""


def test_errors_are_the_text_of_the_program_with_every_problem(tmp_path):
    path = tmp_path / "wrong.toml"
    path.write_text(WRONG)
    with pytest.raises(sw.ScenarioError) as caught:
        sw.load(path, {"emitter.power_mW": "much"})
    error = caught.value
    run = run_program("read", path, "--set", "emitter.power_mW=much")
    assert run.returncode == 2
    assert str(error) + "\n" == run.stderr.decode()

    problems = {problem.key: problem for problem in error.problems}
    assert len(error.problems) == len(problems) == 5
    material = problems["target.material"]
    assert (material.file, material.line, material.column) == (str(path), 3, 12)
    assert "black-ruber" in material.message and "white-ceramic" in material.allowed and "black-rubber" in material.hint
    assert problems["target.tilt_deg"].line == 4 and "two numbers" in problems["target.tilt_deg"].message
    assert "detector.pitch_um" in problems["detector.pich_um"].hint and problems["detector.pich_um"].line == 7
    assert "<= value" in problems["detector.pixels"].allowed and problems["detector.pixels"].line == 8
    assert problems["emitter.power_mW"].line == 0 and "--set" in problems["emitter.power_mW"].file
    first = error.problems[0]
    assert (error.file, error.line, error.key) == (first.file, first.line, first.key)
    assert isinstance(error, ValueError)
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == str(error) and again.problems == error.problems


def test_errors_of_the_geometry_are_scenario_errors():
    scenario = sw.load(scenario_file(1)).vary({"mount.range_mm": (-45.0, 10.0)})
    run = run_program("layout", scenario_file(1), "--set", "mount.range_mm=[-45.0,10.0]")
    assert run.returncode == 2
    with pytest.raises(sw.ScenarioError) as caught:
        sw.layout(scenario)
    assert str(caught.value) == run.stderr.decode().rstrip("\n")
    for ask, number in itertools.product([sw.profile, sw.scene, sw.averaging], [21, 24]):
        with pytest.raises(sw.ScenarioError, match="triangulation"):
            ask(sw.load(scenario_file(number)))


def test_a_log_that_is_no_log_is_refused_with_its_line(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(b"time_ms,reading_mm\n1,2\n2,\xff\xfe\n")
    with pytest.raises(sw.ScenarioError) as caught:
        sw.bench(path)
    assert caught.value.line == 3
    assert str(caught.value) + "\n" == run_program("bench", path).stderr.decode(errors="replace")


@pytest.mark.parametrize(("call", "words"), [
    (lambda s: sw.read("01-white-tile.toml"), "read: scenario must be a Scenario, as sw.load or sw.parse make it, got str"),
    (lambda s: sw.read(), "read: scenario is missing"),
    (lambda s: sw.read(s, 100), "read: takes 1 argument by position, got 2; give readings, out"),
    (lambda s: sw.read(s, reading=100), "read: no argument 'reading'; did you mean 'readings'?"),
    (lambda s: sw.read(s, threads="two"), "read: threads must be a whole number, got str 'two'"),
    (lambda s: sw.frames(s, 2.5), "frames: count must be a whole number, got float 2.5"),
    (lambda s: sw.frames(s), "frames: count is missing: must be a whole number"),
    (lambda s: sw.layout(None), "layout: scenario must be a Scenario"),
    (lambda s: sw.Scenario("mirror"), "Scenario: settings must be a dict"),
    (lambda s: sw.Scenario(), "Scenario: settings is missing"),
    (lambda s: s.vary(5), "Scenario.vary: settings must be a dict"),
    (lambda s: sw.load(__file__, 5), "load: settings must be a dict"),
])
def test_wrong_arguments_are_answered_in_words(call, words):
    scenario = sw.Scenario({"target.material": "mirror"})
    with pytest.raises(TypeError) as error:
        call(scenario)
    assert words in str(error.value)
    assert "_core" not in str(error.value) and "incompatible" not in str(error.value)


def test_functions_still_tell_what_they_are():
    assert sw.read.__name__ == "read" and sw.read.__module__ == "spotwright"
    assert sw.read.__doc__.startswith("read(scenario")
