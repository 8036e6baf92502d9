"""A sweep is its readings, labelled; it goes on where it was cut off, and a cluster changes nothing."""

import json
import math
import os
import pickle
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
import xarray as xr

import spotwright as sw
from package_support import DATE, ROOT, printed, scenario_file
from spotwright import _core

SHORT = {"run.readings": 100, "run.patches": 8, "run.speckle": "statistical"}
OVER = {"target.material": ["white-ceramic", "black-rubber"], "target.tilt_deg[0]": [0.0, 10.0, 20.0],
        "exposure.exposure_us": np.array([1.8, 20.0])}
ENGINES = ["h5netcdf", "netcdf4"]


@pytest.fixture(autouse=True)
def at_root(monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", DATE)


@pytest.fixture(scope="module")
def scenario():
    return sw.load(str(ROOT / scenario_file(1)), SHORT)


@pytest.fixture(scope="module")
def swept(scenario):
    return sw.sweep(scenario, OVER)


def opened(path, engine):
    with xr.open_dataset(path, engine=engine) as dataset:
        return dataset.load()


def test_each_key_is_a_dimension_with_its_values(swept):
    assert dict(swept.sizes) == {key: len(values) for key, values in OVER.items()}
    for key, values in OVER.items():
        assert list(swept[key].values) == list(values)


def test_each_point_is_the_reading_of_its_scenario(scenario, swept):
    compared = 0
    for material in OVER["target.material"]:
        for tilt in OVER["target.tilt_deg[0]"]:
            for exposure in OVER["exposure.exposure_us"]:
                at = {"target.material": material, "target.tilt_deg[0]": tilt, "exposure.exposure_us": exposure}
                point, result = swept.sel(at), sw.read(scenario.vary(at))
                for name in ["valid_share", "mean_mm", "bias_um", "still_sd_um", "replaced_sd_um"]:
                    wanted = math.nan if result[name] is None else result[name]
                    assert np.array_equal(float(point[name]), wanted, equal_nan=True), (at, name)
                    compared += wanted == wanted
    assert compared > 30  # else nothing was readable


@pytest.mark.parametrize("threads", [1, 2])
def test_the_file_is_the_one_that_the_program_writes(scenario, swept, threads, tmp_path):
    of_program, of_package = tmp_path / "program.h5", tmp_path / "package.h5"
    over = [option for key, values in OVER.items()
            for option in ("--over", f"{key}={','.join(map(str, values))}")]
    settings = [option for key, value in SHORT.items() for option in ("--set", f"{key}={value}")]
    printed("sweep", scenario_file(1), *settings, *over, "--out", of_program)
    dataset = sw.sweep(sw.load(scenario_file(1), SHORT), OVER, out=of_package, threads=threads)
    assert of_package.read_bytes() == of_program.read_bytes()
    assert sorted(os.listdir(tmp_path)) == ["package.h5", "program.h5"]
    plain = xr.Dataset(dataset.data_vars, dataset.coords).drop_vars(["material", "tilt", "exposure"])
    for engine in ENGINES:
        xr.testing.assert_equal(opened(of_package, engine)[list(plain.data_vars)], plain)
    xr.testing.assert_equal(dataset, swept)


def test_axes_have_short_names_for_selection(swept):
    assert {"material", "tilt", "exposure"} <= set(swept.coords)
    assert swept.tilt.attrs["units"] == "deg" and list(swept.tilt.values) == OVER["target.tilt_deg[0]"]
    for taken in [lambda data: data.sel(tilt=10, material="black-rubber"),
                  lambda data: data.sel({"target.tilt_deg[0]": 10}).sel(material="black-rubber"),
                  lambda data: data.sel(tilt=11, method="nearest").sel({"target.material": "black-rubber"})]:
        wanted = swept.isel({"target.tilt_deg[0]": 1, "target.material": 1})
        xr.testing.assert_identical(taken(swept).bias_um, wanted.bias_um)
        xr.testing.assert_identical(taken(swept.bias_um), wanted.bias_um)
    # Still labelled data: arithmetic, selection after it, and what pickles.
    change = swept.bias_um - swept.bias_um.sel(tilt=0)
    assert np.array_equal(change.sel(tilt=20).values, (swept.bias_um.sel(tilt=20) - swept.bias_um.sel(tilt=0)).values,
                          equal_nan=True)
    assert np.array_equal(pickle.loads(pickle.dumps(swept)).sel(tilt=10).peak_share,
                          swept.peak_share.sel({"target.tilt_deg[0]": 10}))
    with pytest.raises(KeyError, match="tlt"):
        swept.sel(tlt=10)
    with pytest.raises(ValueError, match="twice"):
        swept.sel({"target.tilt_deg[0]": 10}, tilt=10)


def test_a_short_name_that_says_two_things_is_left_out(scenario):
    both = sw.sweep(scenario, {"target.tilt_deg[0]": [0, 1], "target.tilt_deg[1]": [0, 1], "seed": [1, 2]})
    assert "tilt" not in both.coords
    assert dict(both.sizes) == {"target.tilt_deg[0]": 2, "target.tilt_deg[1]": 2, "seed": 2}
    assert both.sel({"target.tilt_deg[0]": 1}, seed=2).bias_um.shape == (2,)


def test_quantities_of_other_principles_stay_away(scenario, swept):
    timed = {"unambiguous_range_mm", "wrap_error_chance", "electrons_per_pulse"} & set(
        sw.sweep(scenario, {"principle": ["triangulation"]}).data_vars)
    assert timed  # they exist where the principle itself is an axis
    assert not timed & set(swept.data_vars)
    assert {"bias_um", "still_sd_um", "peak_share", "verdict", "obstacle"} <= set(swept.data_vars)


def test_other_extensions_are_refused(scenario, tmp_path):
    for name in ["a.csv", "a", "a.nc"]:
        with pytest.raises(sw.ScenarioError, match=".h5"):
            sw.sweep(scenario, {"seed": [1]}, out=tmp_path / name)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("over", [
    {}, {"seed": []}, {"seed": [1, 1]}, {"sead": [1]}, {"seed": [-1]}, {"seed": ["x"]}, {"seed": [1], "seed[0]": [1]},
    {"target.tilt_deg": [(0, 0)], "target.tilt_deg[0]": [1]}, {"target.material": "miror"}, {"seed=5 #": [1]},
], ids=repr)
def test_a_grid_that_cannot_be_is_refused(scenario, over):
    with pytest.raises(sw.ScenarioError):
        sw.sweep(scenario, over)


@pytest.mark.parametrize("over, error", [
    (None, TypeError), ({"seed": 1}, TypeError), ({5: [1]}, TypeError), ({"seed": [None]}, TypeError),
    ({"seed": range(10**9)}, ValueError), ({"title": ["\ud800"]}, ValueError),
])
def test_what_is_no_grid_at_all_is_refused(scenario, over, error):
    with pytest.raises(error):
        sw.sweep(scenario, over)


def test_a_point_that_cannot_be_built_says_why(scenario):
    dataset = sw.sweep(scenario, {"mount.range_mm": [(-4.0, 4.0), (-45.0, 4.0)]})
    obstacles = [str(each) for each in dataset["obstacle"].values]
    assert obstacles[0] == "" and "range" in obstacles[1]
    assert np.isnan(dataset["mean_mm"].values).tolist() == [False, True]


def test_a_grid_and_its_results_travel(scenario):
    grid = _core.Sweep(scenario, dict(OVER))
    again = pickle.loads(pickle.dumps(grid))
    assert (again.points, again.axes) == (grid.points, grid.axes) == (12, again.axes)
    assert [again.settings_of(i) for i in range(12)] == [grid.settings_of(i) for i in range(12)]
    points = grid.run(0, 12)
    travelled = pickle.loads(pickle.dumps(again.run(0, 12)))
    assert len(travelled) == 12 and repr(travelled.__getstate__()) == repr(points.__getstate__())
    for first, last in [(-1, 2), (3, 2), (0, 13)]:
        with pytest.raises(sw.ScenarioError):
            grid.run(first, last)


class CutOff(Exception):
    pass


def test_a_sweep_that_was_cut_off_goes_on(scenario, tmp_path):
    over = {"target.displacement_mm": np.linspace(-3, 3, 40)}
    whole = sw.sweep(scenario, over)
    path = tmp_path / "sweep.h5"

    def cut_off(done, all):
        if done >= 10:
            raise CutOff

    try:
        sw.sweep(scenario, over, out=path, progress=cut_off)
    except CutOff as error:
        kept = error  # with all that its traceback holds, as an interactive session keeps it
    assert not path.exists() and os.listdir(tmp_path) == ["sweep.h5.points"]
    file = _core.SweepFile(path, _core.Sweep(scenario, over))
    done = file.done
    assert 10 <= done < 40 and not file.has_all(0, 40) and file.has_all(0, done)
    file.close()
    with pytest.raises(ValueError, match="closed"):
        file.done
    with pytest.raises(sw.ScenarioError):
        sw.sweep(scenario, {"target.displacement_mm": np.linspace(-3, 3, 41)}, out=path)  # another sweep does not go on with these
    resumed = sw.sweep(scenario, over, out=path)
    assert kept is not None and os.listdir(tmp_path) == ["sweep.h5"]
    xr.testing.assert_identical(resumed, whole)


CLUSTER = """
import json, os, signal, sys, threading, time
import xarray
import spotwright as sw
from dask.distributed import Client, LocalCluster

def main():
    scenario = sw.load({file!r}, {settings!r})
    over = {{"target.displacement_mm": [0.125 * i - 2.0 for i in range(32)], "target.tilt_deg[0]": [0.0, 1.0]}}
    alone = sw.sweep(scenario, over)
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
                      silence_logs=50) as cluster, Client(cluster) as client:
        pids = list(client.run(os.getpid).values())
        assert len(set(pids)) == 2 and os.getpid() not in pids
        told = []
        together = sw.sweep(scenario, over, client=client, threads=1, progress=lambda *done: told.append(done))
        xarray.testing.assert_identical(together, alone)
        assert told[-1] == (64, 64), told

        def kill_one(done, all):
            if done < all and len(pids) == 2:
                os.kill(pids.pop(), signal.SIGKILL)

        survived = sw.sweep(scenario, over, client=client, threads=1, progress=kill_one, out={out!r})
        assert len(pids) == 1, "no worker was killed"
        xarray.testing.assert_identical(survived, alone)
        try:
            sw.sweep(scenario, {{"seed": [-1]}}, client=client)
        except sw.ScenarioError:
            print("as it should be")

if __name__ == "__main__":
    main()
"""


def test_a_cluster_gives_the_same_even_if_a_worker_is_lost(tmp_path):
    script = tmp_path / "cluster.py"
    script.write_text(CLUSTER.format(file=scenario_file(1), settings=SHORT, out=str(tmp_path / "sweep.h5")))
    run = subprocess.run([sys.executable, script], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stderr
    assert run.stdout == "as it should be\n"
