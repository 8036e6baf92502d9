"""Sensors of a data sheet, narrowed by a log: the package as the program."""

import json
import os
import pathlib
import subprocess

import pytest

import spotwright as sw

ROOT = pathlib.Path(__file__).resolve().parents[2]
SHEET = ROOT / "scenarios/sheets/workshop-45.toml"
TILE = "tile-at-0.21us"


def program(*arguments):
    run = subprocess.run([os.environ["SPOTWRIGHT_PROGRAM"], *arguments], capture_output=True, text=True, timeout=300)
    assert run.returncode == 0, run.stderr
    return run.stdout


@pytest.fixture
def log(tmp_path):
    """The tile before a sensor that the sheet belongs to."""
    (tmp_path / "tile.toml").write_text('sensor = "short-45"\n[target]\nmaterial = "white-ceramic"\n'
                                        '[exposure]\nmode = "fixed"\nexposure_us = 0.21\n[run]\nreadings = 1000\n')
    program("bench", "--scenario", str(tmp_path / "tile.toml"), "--simulate", str(tmp_path / "tile.csv"))
    return tmp_path / "tile.csv"


def test_logs_narrow_as_in_the_program(log):
    inferred = sw.infer(SHEET, sensors=4, logs={TILE: log})
    printed = json.loads(program("infer", str(SHEET), "--sensors", "4", "--log", f"{TILE}={log}", "--json", "--quiet"))
    assert inferred.before_logs > 4
    assert inferred.logs[0].measurement == TILE
    assert inferred.logs[0].contradicted == printed["logs"][0]["contradicted"]
    assert inferred.sensors == printed["sensors"]


def test_what_is_no_measurement_is_told(log):
    with pytest.raises(sw.ScenarioError, match="tile-moved=FILE"):
        sw.infer(SHEET, sensors=2, logs={"tile": log})


def test_what_all_sensors_of_a_sheet_come_to_is_that_of_the_program(tmp_path):
    sw.infer("reference_distance_mm = 45\nrange_mm = [-8, 8]\n", sensors=3, out=tmp_path / "sensor.toml")
    case = tmp_path / "case.toml"
    case.write_text('sensor = "sensor.toml"\n[target]\nmaterial = "white-ceramic"\n'
                    '[run]\nreadings = 100\npatches = 8\ntrials = 100\n')
    for command, result in [("read", sw.read), ("budget", sw.budget)]:
        printed = json.loads(program(command, str(case), "--json", "--quiet"))
        assert printed["ensemble"]["members"] == 3
        assert json.loads(result(sw.load(case)).to_json()) == printed
