"""A sweep opens as labelled data in every reader, equals what `read` says, and goes on after it was killed."""

import csv
import json
import os
import re
import signal
import struct
import subprocess
import time

import numpy as np
import pytest
import xarray as xr

SCENARIO = """
title = "Gauge block \\u00b5"
seed = 11
[target]
material = "white-ceramic"
[run]
readings = 40
patches = 4
speckle = "statistical"
"""

OVER = ["target.displacement_mm=-1:1.5:3", "target.tilt_deg=[0,0],[7.5,2]",
        "target.material=white-ceramic,black-rubber", "reading.average=1,4"]
SHAPE = (3, 2, 2, 2)
ENGINES = ["h5netcdf", "netcdf4"]


def command(folder, out, over, *more):
    source = folder / "scenario.toml"
    source.write_text(SCENARIO, encoding="utf-8")
    axes = [word for axis in over for word in ("--over", axis)]
    target = ["--out", folder / out] if out else []
    return [os.environ["SPOTWRIGHT_PROGRAM"], "sweep", source, *axes, *target, *more]


def environment(date=1_000_000_000):
    return dict(os.environ, SOURCE_DATE_EPOCH=str(date))


def sweep(folder, out, over=OVER, *more):
    subprocess.run(command(folder, out, over, *more), env=environment(), check=True, capture_output=True, timeout=120)
    return folder / out


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("sweep")


@pytest.fixture(scope="module")
def h5_path(folder):
    return sweep(folder, "a.h5")


@pytest.fixture(scope="module")
def csv_path(folder):
    return sweep(folder, "a.csv", OVER, "--threads", "1")


@pytest.fixture(params=ENGINES)
def data(request, h5_path):
    with xr.open_dataset(h5_path, engine=request.param) as opened:
        yield opened.load()


def test_engines_read_the_same(h5_path):
    with xr.open_dataset(h5_path, engine="h5netcdf") as one, xr.open_dataset(h5_path, engine="netcdf4") as other:
        xr.testing.assert_identical(one.load(), other.load())


def test_each_axis_is_a_labelled_dimension(data):
    assert list(data.sizes) == [axis.split("=")[0] for axis in OVER]
    assert data.bias_um.shape == SHAPE
    displacement = data["target.displacement_mm"]
    assert displacement.dtype == np.float64 and displacement.attrs["units"] == "mm" and displacement.attrs["long_name"]
    assert displacement.values.tolist() == [-1.0, 0.25, 1.5]
    assert data["reading.average"].dtype == np.int64
    assert data["target.material"].values.tolist() == ["white-ceramic", "black-rubber"]
    assert data["target.tilt_deg"].values.tolist() == ["[0.0, 0.0]", "[7.5, 2.0]"]
    for index, values in enumerate([[0.0, 7.5], [0.0, 2.0]]):
        beside = data.coords[f"target.tilt_deg[{index}]"]
        assert beside.dims == ("target.tilt_deg",) and beside.attrs["units"] == "deg"
        assert beside.values.tolist() == values


def test_every_quantity_tells_its_unit_and_what_it_is(data):
    for name, variable in data.data_vars.items():
        assert variable.dims == tuple(data.sizes) and variable.attrs["long_name"]
        if name == "obstacle":
            continue
        units = variable.attrs["units"]
        assert units in ("1", "%") or f"_{units}" in name or name == "electrons_per_pulse"
    assert data.verdict.dtype == np.uint8
    assert data.verdict.attrs["flag_values"].tolist() == [0, 1, 2, 3]
    assert data.verdict.attrs["flag_meanings"].split() == ["stable", "marginal", "unstable", "unreadable"]


def test_the_file_tells_where_it_comes_from(data):
    assert data.attrs["Conventions"] == "CF-1.10" and data.attrs["title"] == "Gauge block \u00b5"
    assert data.attrs["format"] == "spotwright sweep" and data.attrs["format_version"].tolist() == [1, 0]
    assert data.attrs["seed"] == 11 and data.attrs["schema_version"] == 1
    assert data.attrs["date"] == "2001-09-09T01:46:40Z" and data.attrs["source"].startswith("spotwright ")
    assert re.fullmatch(r"unknown|[-+.~_A-Za-z0-9]+", data.attrs["revision"])
    assert "readings = 40" in data.attrs["scenario"]


def test_a_point_picked_by_its_labels_is_what_read_says(data, folder):
    labels = {"target.displacement_mm": 0.25, "target.tilt_deg": "[7.5, 2.0]", "target.material": "white-ceramic",
              "reading.average": 4}
    point = data.sel(labels)
    settings = [word for key, value in labels.items() for word in ("--set", f"{key}={value}")]
    out = subprocess.run([os.environ["SPOTWRIGHT_PROGRAM"], "read", folder / "scenario.toml", "--json", *settings],
                         check=True, capture_output=True, timeout=60).stdout
    alone = json.loads(out)
    for name in ["valid_share", "true_mm", "mean_mm", "bias_um", "still_sd_um", "replaced_sd_um", "sampling_kHz"]:
        assert float(point[name]) == alone[name]  # to the last bit
    assert float(point.peak_e) == alone["signal"]["peak_e"]
    assert float(point.speckle_sd_um) == alone["speckle"]["sd_um"]
    assert float(point.expanded_uncertainty_um) == alone["verdict"]["expanded_uncertainty_um"]
    assert point.verdict.attrs["flag_meanings"].split()[int(point.verdict)] == alone["verdict"]["level"]
    assert np.isnan(point.pulse_sd_ps) and str(point.obstacle.values) == ""


def test_csv_holds_the_same_as_the_labelled_file(h5_path, csv_path):
    with xr.open_dataset(h5_path) as data, open(csv_path, encoding="utf-8", newline="") as text:
        lines = list(text)
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
        assert lines[0] == "# format: spotwright sweep 1.0\n"
        assert len(rows) == np.prod(SHAPE)
        words = data.verdict.attrs["flag_meanings"].split()
        for place, row in zip(np.ndindex(*SHAPE), rows):
            assert row["target.tilt_deg"] == data["target.tilt_deg"].values[place[1]]
            assert float(row["target.displacement_mm"]) == data["target.displacement_mm"].values[place[0]]
            assert row["verdict"] == words[data.verdict.values[place]]
            assert row["obstacle"] == data.obstacle.values[place]
            for name in data.data_vars:
                if name not in ("verdict", "obstacle"):
                    value = data[name].values[place]
                    assert np.isnan(value) if row[name] == "" else float(row[name]) == value


def test_equal_sweeps_are_equal_files_whatever_the_threads(folder, h5_path, csv_path):
    assert sweep(folder, "b.h5", OVER, "--threads", "3").read_bytes() == h5_path.read_bytes()
    assert sweep(folder, "b.csv", OVER, "--threads", "2").read_bytes() == csv_path.read_bytes()


def test_a_contradiction_is_an_obstacle_of_its_points(folder):
    path = sweep(folder, "hindered.h5", ["mount.range_mm=[-2,2],[2,-2]", "target.displacement_mm=0,1"])
    with xr.open_dataset(path) as data:
        assert (data.obstacle.values == "").tolist() == [[True, True], [False, False]]
        assert "near end" in str(data.obstacle.values[1, 0])
        assert np.isnan(data.bias_um.values).tolist() == [[False, False], [True, True]]
        assert (data.verdict.values[1] == 3).all()


def begun(folder, out, over, least):
    """A run that has begun: its process, and the file in which its points stand once that has some length."""
    points = folder / (out + ".points")
    run = subprocess.Popen(command(folder, out, over, "--threads", "1"), env=environment(), stdout=subprocess.DEVNULL,
                           stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 60
    while not (points.exists() and points.stat().st_size > least) and run.poll() is None:
        assert time.monotonic() < deadline
        time.sleep(0.002)
    return run, points


def killed(folder, out, over, least=20_000):
    run, points = begun(folder, out, over, least)
    run.send_signal(signal.SIGKILL)
    assert run.wait() == -signal.SIGKILL and points.exists() and not (folder / out).exists()
    return points


def resumed(folder, out, over):
    """Goes on with a sweep. How many points it found done, and of how many."""
    again = subprocess.run(command(folder, out, over), env=environment(), check=True, capture_output=True, text=True,
                           timeout=120)
    assert again.stderr.startswith("resuming: ") and not (folder / (out + ".points")).exists()
    done, of = [int(word) for word in again.stderr.split() if word.isdigit()]
    return done, of


CUT = ["target.displacement_mm=-2:2:50"]


@pytest.fixture(scope="module")
def whole(folder):
    return sweep(folder, "whole.h5", CUT)


def test_a_killed_sweep_goes_on_and_ends_in_the_same_file(folder, whole):
    points = killed(folder, "cut.h5", CUT)
    # The last record cut in two, as a machine that fails might leave it, does not count.
    points.write_bytes(points.read_bytes()[:-100])
    done, of = resumed(folder, "cut.h5", CUT)
    assert of == 50 and 0 < done < 50
    assert (folder / "cut.h5").read_bytes() == whole.read_bytes()


def checksum(record, point):
    """FNV-1a of 64 bits, begun with the number of the point."""
    value = 0xCBF29CE484222325 ^ (point + 1)
    for byte in record[8:]:
        value = (value ^ byte) * 0x100000001B3 % 2**64
    return struct.pack("<Q", value)


def test_finished_points_are_not_done_again_and_spoilt_ones_are(folder, whole):
    points = killed(folder, "kept.h5", CUT)
    content = bytearray(points.read_bytes())
    first = 24 + struct.unpack_from("<Q", content, 8)[0]
    with xr.open_dataset(whole) as data:
        names = [name for name in data.data_vars if name not in ("verdict", "obstacle")]
    size = 496 + 8 * len(names)
    record = content[first : first + size]
    assert record[:8] == checksum(record, 0)
    # Point 0 gets a value that no reading gives, and a checksum that says it is done; of point 1 a bit is spoilt.
    struct.pack_into("<d", record, 496 + 8 * names.index("bias_um"), 12345.0)
    record[:8] = checksum(record, 0)
    content[first : first + size] = record
    content[first + size + 496] ^= 1
    points.write_bytes(content)
    resumed(folder, "kept.h5", CUT)
    with xr.open_dataset(folder / "kept.h5") as kept, xr.open_dataset(whole) as data:
        assert kept.bias_um.values[0] == 12345.0
        assert kept.isel({"target.displacement_mm": slice(1, None)}).identical(
            data.isel({"target.displacement_mm": slice(1, None)}))


def test_points_are_one_run_s_and_one_sweep_s(folder):
    run, points = begun(folder, "other.h5", CUT, 20_000)
    run.send_signal(signal.SIGSTOP)  # it must not end before the second has begun
    second = subprocess.run(command(folder, "other.h5", CUT), env=environment(), capture_output=True, text=True)
    run.kill()
    run.wait()
    assert second.returncode == 3 and "another run is writing it" in second.stderr
    before = points.read_bytes()
    for change in (["--set", "seed=12"], ["--over", "run.patches=5,6"]):
        other = subprocess.run(command(folder, "other.h5", CUT, *change), env=environment(), capture_output=True,
                               text=True)
        assert other.returncode == 2 and "another sweep" in other.stderr
    assert points.read_bytes() == before and not (folder / "other.h5").exists()


def test_what_is_no_file_of_points_is_left_alone(folder):
    stranger = folder / "mine.h5.points"
    stranger.write_text("my notes")
    run = subprocess.run(command(folder, "mine.h5", CUT), capture_output=True, text=True)
    assert run.returncode == 2 and "no file of points" in run.stderr and stranger.read_text() == "my notes"
