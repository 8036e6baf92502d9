"""A series file opens as labelled data in every reader, and says the same in both formats."""

import csv
import os
import re
import resource
import subprocess
import tomllib

import numpy as np
import pytest
import xarray as xr

# At this exposure the peak of the white tile wavers about the threshold, so that valid readings and others are mixed.
SCENARIO = """
title = "Gauge block, \\"edge\\" \\u00b5"
seed = 11
[exposure]
exposure_us = 0.098
[target]
material = "white-ceramic"
displacement_mm = -1.25
[reading]
average = 3
[run]
readings = 6000
speckle = "off"
"""

VARIABLES = ["time_ms", "position_px", "displacement_mm", "output_mm", "peak_e", "validity"]
UNITS = {"reading": "1", "time_ms": "ms", "position_px": "px", "displacement_mm": "mm", "output_mm": "mm",
         "peak_e": "e", "validity": "1"}
WORDS = ["valid", "too_dark", "saturated", "no_peak", "out_of_range", "ambiguous"]
ENGINES = ["h5netcdf", "netcdf4", None]


def read(folder, name, scenario=SCENARIO, date=1_000_000_000):
    """Runs the program; the path of the file it wrote."""
    path = folder / name
    source = folder / "scenario.toml"
    source.write_text(scenario, encoding="utf-8")
    environment = dict(os.environ, SOURCE_DATE_EPOCH=str(date))
    subprocess.run([os.environ["SPOTWRIGHT_PROGRAM"], "read", source, "--out", path], env=environment, check=True,
                   stdout=subprocess.DEVNULL, timeout=60)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("series")


@pytest.fixture(scope="module")
def h5_path(folder):
    return read(folder, "a.h5")


@pytest.fixture(scope="module")
def csv_path(folder):
    return read(folder, "a.csv")


def opened(path, engine):
    with xr.open_dataset(path, **({"engine": engine} if engine else {})) as dataset:
        return dataset.load()


@pytest.fixture(params=ENGINES)
def series(request, h5_path):
    return opened(h5_path, request.param)


def comments(path):
    with open(path, encoding="utf-8", newline="\n") as lines:
        return [line[2:].rstrip("\n") for line in lines if line.startswith("# ")]


def rows(path):
    with open(path, encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_readings_are_the_dimension_and_its_coordinate(series):
    assert dict(series.sizes) == {"reading": 6000}
    assert set(series.coords) == {"reading", "time_ms"}
    assert set(series.variables) == {"reading", *VARIABLES}
    assert all(series[name].dims == ("reading",) for name in series.variables)
    assert np.array_equal(series.reading, np.arange(6000))


def test_the_dimension_is_unlimited(h5_path):
    with xr.open_dataset(h5_path, engine="h5netcdf") as dataset:
        assert dataset.encoding["unlimited_dims"] == {"reading"}


def test_types_are_the_promised_ones(series):
    types = {name: str(series[name].dtype) for name in series.variables}
    floats = dict.fromkeys(["time_ms", "position_px", "displacement_mm", "output_mm"], "float64")
    assert types == {"reading": "int64", "peak_e": "float32", "validity": "uint8", **floats}


def test_every_variable_has_its_unit_and_a_name_for_people(series):
    assert {name: series[name].attrs["units"] for name in series.variables} == UNITS
    names = [series[name].attrs["long_name"] for name in series.variables]
    assert all(len(name) > 10 for name in names) and len(set(names)) == len(names)


def test_validity_is_a_flag_with_its_meanings(series):
    attributes = series.validity.attrs
    assert attributes["flag_meanings"].split() == WORDS
    assert attributes["flag_values"].dtype == np.uint8
    assert list(attributes["flag_values"]) == list(range(6))


def test_only_readings_that_are_not_valid_lack_a_displacement(series):
    valid = series.validity.values == 0
    assert 0.05 < valid.mean() < 0.95  # else this test tries nothing
    for name in ["position_px", "displacement_mm", "output_mm"]:
        assert np.array_equal(np.isfinite(series[name]), valid), name
    assert np.isfinite(series.peak_e).all()


def test_the_scenario_in_the_file_is_the_one_that_ran(series, csv_path):
    stored = tomllib.loads(series.attrs["scenario"])
    written = tomllib.loads(SCENARIO)
    for key, value in written.items():
        if isinstance(value, dict):
            assert value.items() <= stored[key].items()
        else:
            assert stored[key] == value
    lines = comments(csv_path)
    assert tomllib.loads("\n".join(lines[lines.index("scenario, as TOML:") + 1:])) == stored


def test_the_file_says_what_it_is_and_where_from(series):
    attributes = series.attrs
    assert attributes["Conventions"] == "CF-1.10"
    assert attributes["format"] == "spotwright series"
    assert list(attributes["format_version"]) == [1, 1]
    assert attributes["title"] == "Gauge block, \"edge\" \u00b5"
    told = subprocess.run([os.environ["SPOTWRIGHT_PROGRAM"], "--version"], capture_output=True, text=True,
                          check=True).stdout.strip()
    assert f"{attributes['source']} (revision {attributes['revision']})" == told
    assert attributes["seed"] == 11
    assert attributes["date"] == "2001-09-09T01:46:40Z"


def test_results_in_the_file_are_those_of_its_readings(series):
    output = series.output_mm.dropna("reading")[2:]  # the first windows of the average are not full
    attributes = series.attrs
    # Rounding: as many sums as readings, each off by an epsilon of values near 1.25 mm. [mm]
    rounding = 6000 * np.finfo(float).eps * 1.25
    mean, deviation = float(output.mean()), float(output.std(ddof=1))
    assert attributes["true_mm"] == -1.25
    assert attributes["mean_mm"] == pytest.approx(mean, rel=0, abs=rounding)
    assert attributes["bias_um"] == pytest.approx(1e3 * (mean + 1.25), rel=0, abs=1e3 * rounding)
    assert attributes["still_sd_um"] == pytest.approx(1e3 * deviation, rel=0, abs=1e3 * rounding)
    assert attributes["valid_share"] == (series.validity == 0).mean()
    assert attributes["verdict"] in ["stable", "marginal", "unstable", "unreadable"]


def test_both_formats_hold_the_same_values(series, csv_path):
    table = rows(csv_path)
    assert list(table[0]) == ["reading", *VARIABLES]
    assert [int(row["reading"]) for row in table] == list(series.reading.values)
    assert [row["validity"] for row in table] == [WORDS[value] for value in series.validity.values]
    for name in ["time_ms", "position_px", "displacement_mm", "output_mm", "peak_e"]:
        values = np.array([float(row[name] or "nan") for row in table]).astype(series[name].dtype)
        assert np.array_equal(values, series[name].values, equal_nan=True), name


def test_comments_name_the_job(csv_path):
    lines = comments(csv_path)
    assert "title: Gauge block, \"edge\" \u00b5" in lines
    assert "seed: 11" in lines
    assert [line for line in lines if re.fullmatch(r"revision: \S+", line)]


@pytest.mark.parametrize("extension", ["h5", "csv"])
def test_the_same_seed_and_date_give_the_same_bytes(folder, extension):
    first = read(folder, f"first.{extension}").read_bytes()
    assert read(folder, f"second.{extension}").read_bytes() == first
    assert read(folder, f"third.{extension}", date=1_000_000_001).read_bytes() != first
    assert read(folder, f"fourth.{extension}", SCENARIO.replace("seed = 11", "seed = 12")).read_bytes() != first


@pytest.mark.parametrize("engine", ENGINES)
def test_a_series_without_any_valid_reading_opens_too(tmp_path, engine):
    dark = SCENARIO.replace("exposure_us = 0.098", "exposure_us = 0.001")
    series = opened(read(tmp_path, "dark.h5", dark), engine)
    assert np.isnan(series.displacement_mm).all() and np.isnan(series.output_mm).all()
    assert series.attrs["verdict"] == "unreadable"
    assert series.attrs["valid_share"] == 0
    assert all(np.isnan(series.attrs[name]) for name in ["mean_mm", "bias_um", "still_sd_um"])


@pytest.mark.parametrize("title", ["", "x" * 200_000, "two\\nlines\\u0000and a zero", "\u4e2d\u6587 \u2028 \U0001f600"],
                         ids=["empty", "long", "control", "wide"])
def test_any_title_opens(tmp_path, title):
    scenario = SCENARIO.replace("Gauge block, \\\"edge\\\" \\u00b5", title).replace("6000", "10")
    wanted = tomllib.loads(scenario)["title"]
    path = read(tmp_path, "a.h5", scenario)
    for engine in ENGINES:
        attributes = opened(path, engine).attrs
        assert tomllib.loads(attributes["scenario"])["title"] == wanted
        # A title is one line: U+2028, which separates lines, is replaced.
        assert attributes["title"] == wanted.replace("\n", " ").replace("\0", " ").replace("\u2028", "\ufffd")
    assert len(rows(read(tmp_path, "a.csv", scenario))) == 10


def test_times_follow_a_sampling_period_that_automatic_exposure_has_lengthened(tmp_path):
    dim = SCENARIO.replace("[exposure]", "[emitter]\npower_mW = 0.001\n[exposure]\nmode = \"automatic\"\n"
                           "period_us = [125.0, 2000.0]")
    series = opened(read(tmp_path, "a.h5", dim), "h5netcdf")
    period = float(series.time_ms[1])
    assert 0.125 < period < 2.0
    # Each is a product of the index and the period, rounded twice.
    assert np.allclose(series.time_ms, period * np.arange(6000), rtol=4e-16, atol=0)
    table = rows(read(tmp_path, "a.csv", dim))
    assert [float(row["time_ms"]) for row in table] == list(series.time_ms.values)


@pytest.mark.parametrize("extension", ["h5", "csv"])
@pytest.mark.parametrize("room", [0, 1000, 20_000, 50_000])
def test_a_disk_that_runs_full_ends_the_program_with_code_3_and_no_half_file(tmp_path, extension, room):
    source = tmp_path / "scenario.toml"
    source.write_text(SCENARIO, encoding="utf-8")
    path = tmp_path / f"a.{extension}"
    # The signal that goes with the limit is ignored, as Python has it, so that writing fails as on a full disk.
    run = subprocess.run([os.environ["SPOTWRIGHT_PROGRAM"], "read", source, "--out", path], restore_signals=False,
                         preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (room, room)),
                         capture_output=True, text=True, timeout=60)
    assert run.returncode == 3
    assert f"cannot write {path}: File too large" in run.stderr
    assert list(tmp_path.iterdir()) == [source]


@pytest.mark.parametrize("engine", ENGINES)
def test_raw_frames_are_labelled_data(folder, engine):
    path, source = folder / "frames.h5", folder / "scenario.toml"
    source.write_text(SCENARIO, encoding="utf-8")
    subprocess.run([os.environ["SPOTWRIGHT_PROGRAM"], "read", source, "--out", path, "--frames", "70"], check=True,
                   stdout=subprocess.DEVNULL, timeout=60)
    series = opened(path, engine)
    frames = series.frame_dn
    assert frames.dims == ("frame", "pixel") and frames.shape == (70, 1024) and frames.dtype == np.uint16
    assert np.array_equal(series.frame, np.arange(70)) and np.array_equal(series.pixel, np.arange(1024))
    assert frames.attrs["units"] == "1" and series.pixel.attrs["units"] == "1"
    # 200 000 electrons come to the top of 12 bits, less a black level of 1/64 (docs/theory/detector.md).
    top, black = 4095.0, 64.0
    assert frames.attrs["electrons_per_digit"] == pytest.approx(200_000 / (top - black), rel=0.01)
    # The brightest pixel of each frame, in electrons above the background, is the peak of its reading.
    peak = (frames.max("pixel") - frames.attrs["black_level_dn"]) * frames.attrs["electrons_per_digit"]
    read = series.peak_e[:70]
    found = np.isfinite(read.values)
    assert found.sum() > 20
    assert np.allclose(peak.values[found], read.values[found], atol=4 * 200_000 / (top - black))
    assert frames.std("frame").max() > 0  # noise differs from frame to frame


def test_a_series_without_frames_has_none(series):
    assert "frame_dn" not in series and "pixel" not in series.dims
