"""What the package returns is what the command line prints and writes, byte for byte."""

import json

import numpy as np
import pytest
import xarray as xr

import spotwright as sw
from package_support import (CHEAP, DATE, FEW, PLATE, ROOT, advice_on_the_seal, printed, reading_of_a_plate,
                             scenario_file, set_options, warm_hall)

# Settings that make a run short; what is compared is whole.
SHORT = {"run.readings": 100, "run.patches": 8}
READINGS = {
    "still": (1, SHORT),
    "moving": (26, SHORT),
    "by phase": (21, SHORT),
    "by pulses": (24, SHORT),
    "no light": (2, SHORT),
    "by rays": (19, {**SHORT, "run.model": "ray", "run.rays": 2000}),
    "without speckle": (4, {**SHORT, "run.speckle": "off"}),
    "fast speckle": (9, {**SHORT, "run.speckle": "statistical"}),
}


@pytest.fixture(autouse=True)
def at_root(monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", DATE)


def test_the_thickness_of_a_plate_is_what_the_program_prints():
    wanted = printed("read", scenario_file(14), *set_options(PLATE), "--json")
    assert reading_of_a_plate().to_json() + "\n" == wanted


def both(number, settings):
    """Arguments of the command line, and the scenario."""
    path = scenario_file(number)
    return [path, *set_options(settings)], sw.load(path, settings)


@pytest.mark.parametrize("case", READINGS)
def test_a_reading_is_what_the_program_prints(case):
    arguments, scenario = both(*READINGS[case])
    assert sw.read(scenario).to_json() + "\n" == printed("read", *arguments, "--json")


@pytest.mark.parametrize("case", ["still", "by phase", "by pulses"])
def test_a_layout_is_what_the_program_prints_and_draws(case, tmp_path):
    arguments, scenario = both(*READINGS[case])
    drawn = tmp_path / "layout.svg"
    assert sw.layout(scenario).to_json() + "\n" == printed("layout", *arguments, "--json", "--out", drawn)
    sw.drawing(scenario).save(tmp_path / "package.svg")
    assert (tmp_path / "package.svg").read_bytes() == drawn.read_bytes()


def test_the_picture_of_a_reading_is_the_one_that_the_program_draws(tmp_path):
    arguments, scenario = both(*READINGS["still"])
    printed("read", *arguments, "--out", tmp_path / "reading.svg")
    assert sw.picture(scenario).svg == (tmp_path / "reading.svg").read_text()


def test_a_budget_is_what_the_program_prints():
    arguments, scenario = both(1, CHEAP)
    assert sw.budget(scenario).to_json() + "\n" == printed("budget", *arguments, "--json")


def test_advice_is_what_the_program_prints():
    advice = advice_on_the_seal()
    assert advice.reaching_stable and advice.others
    assert advice.to_json() + "\n" == printed("advise", scenario_file(2), *set_options(CHEAP), "--json")


def test_studies_of_a_reading_are_the_entries_that_the_program_prints():
    scenario = warm_hall()
    whole = json.loads(printed("read", scenario.file, *set_options(FEW), "--json", "--drift", "--allan"))
    assert sw.drift(scenario).to_dict() == whole["drift"]
    assert sw.allan(scenario).to_dict() == whole["allan"]


def test_what_averaging_does_is_the_entry_that_the_program_prints(tmp_path):
    arguments, scenario = both(1, {"run.readings": 100, "run.patches": 8})
    whole = json.loads(printed("read", *arguments, "--json", "--averaging", tmp_path / "chart.svg"))
    assert [error.to_dict() for error in sw.averaging(scenario)] == whole["averaging"]


def test_materials_are_what_the_program_prints():
    scenario = scenario_file(15)
    assert sw.materials().to_json() + "\n" == printed("materials", "--json")
    assert sw.materials(sw.load(scenario)).to_json() + "\n" == printed("materials", scenario, "--json")


@pytest.mark.parametrize("log, alone", [("grey-insert", True), ("grey-insert", False), ("zinc-plate-on-stage", True)])
def test_a_log_of_the_bench_is_told_as_the_program_tells_it(log, alone):
    path, scenario = f"scenarios/logs/{log}.csv", scenario_file(1)
    with_scenario = [] if alone else ["--scenario", scenario]
    assert sw.bench(path, None if alone else sw.load(scenario)).to_json() + "\n" == printed(
        "bench", path, *with_scenario, "--json"
    )


@pytest.mark.parametrize("places", [0, 3])
def test_a_simulated_log_is_the_one_that_the_program_writes(places, tmp_path):
    path = scenario_file(5)
    options = ["--places", places] if places else []
    printed("bench", "--simulate", tmp_path / "program.csv", "--scenario", path, *options)
    sw.simulate_log(sw.load(path), tmp_path / "package.csv", places=places)
    assert (tmp_path / "package.csv").read_bytes() == (tmp_path / "program.csv").read_bytes()


@pytest.mark.parametrize("extension", ["h5", "csv"])
def test_a_series_file_is_the_one_that_the_program_writes(extension, tmp_path):
    arguments, scenario = both(*READINGS["moving"])
    of_program, of_package = tmp_path / f"program.{extension}", tmp_path / f"package.{extension}"
    printed("read", *arguments, "--out", of_program)
    sw.read(scenario, out=of_package)
    assert of_package.read_bytes() == of_program.read_bytes()


@pytest.mark.parametrize("case", ["still", "moving", "by phase", "by pulses"])
@pytest.mark.parametrize("engine", ["h5netcdf", "netcdf4"])
def test_arrays_of_a_series_are_the_columns_of_its_file(case, engine, tmp_path):
    _, scenario = both(*READINGS[case])
    result = sw.read(scenario, out=tmp_path / "series.h5")
    series = sw.series(scenario)
    assert series.result == result
    with xr.open_dataset(tmp_path / "series.h5", engine=engine) as opened:
        file = opened.load()
    assert set(series.columns) == set(file.variables)
    for name in series.columns:
        column = getattr(series, name)
        assert column.dtype == file[name].dtype
        assert np.array_equal(column, file[name], equal_nan=column.dtype.kind == "f"), name
        assert series.units_of(name) == file[name].attrs["units"]
    labelled = series.to_xarray()
    assert labelled.attrs.pop("scenario_toml") == file.attrs["scenario"]
    file.attrs.clear()
    xr.testing.assert_identical(labelled, file)


def test_another_number_of_readings_is_a_setting(tmp_path):
    arguments, scenario = both(1, {"run.patches": 8})
    wanted = printed("read", *arguments, "--set", "run.readings=70", "--json")
    assert sw.read(scenario, readings=70).to_json() + "\n" == wanted
    assert len(sw.series(scenario, readings=70)) == 70


def test_what_the_light_on_the_array_gives_is_in_the_frames():
    """Frames are the profile times the exposure, noise and the gain aside: the same shape, at the same place."""
    scenario = sw.load(scenario_file(1))
    rate, frames = sw.profile(scenario), sw.frames(scenario, 64)
    assert frames.shape == (64, scenario.detector.pixels) and frames.dtype == rate.dtype == np.float32
    mean = frames.mean(axis=0) - np.median(frames)
    # Noise of 64 frames is far below a hundredth; a profile one pixel off correlates less than 0.98.
    assert np.corrcoef(mean, rate)[0, 1] > 0.999
    assert np.corrcoef(mean, np.roll(rate, 1))[0, 1] < 0.98
    assert np.array_equal(sw.frames(scenario, 2, first=62), frames[62:])
