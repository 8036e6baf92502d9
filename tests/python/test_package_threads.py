"""Arrays outlive what made them; the interpreter goes on while the simulator works, and can stop it."""

import gc
import os
import signal
import subprocess
import sys
import threading
import time
import weakref

import numpy as np
import pytest

import spotwright as sw
from package_support import ROOT, scenario_file


@pytest.fixture(scope="module")
def scenario():
    return sw.load(str(ROOT / scenario_file(1)), {"run.speckle": "off"})


def arrays_of(scenario):
    series = sw.series(scenario, readings=500)
    scene = sw.scene(scenario)
    arrays = {name: series[name] for name in series.columns}
    arrays |= {name: scene[name] for name in ["spots_mm", "array_mm"]}
    return arrays | {"profile": sw.profile(scenario), "frames": sw.frames(scenario, 5)}


def test_arrays_are_the_memory_that_the_simulator_wrote_to(scenario):
    for name, array in arrays_of(scenario).items():
        # Frames are written into an array of NumPy's; the others come with the simulator's memory.
        by_simulator = type(array.base).__name__ == "PyCapsule"
        assert array.flags.owndata if name == "frames" else by_simulator, name
        assert array.flags.c_contiguous and array.flags.writeable and array.flags.aligned, name


def test_arrays_and_views_of_them_outlive_everything_else(scenario):
    arrays = arrays_of(scenario)
    views = {name: array[1:] for name, array in arrays.items()}
    wanted = {name: view.copy() for name, view in views.items()}
    gone = [weakref.ref(array) for array in arrays.values()]
    del arrays
    gc.collect()
    # Memory that had been given back would be written over by as many arrays of the same sizes.
    for _ in range(20):
        churned = [np.full_like(view.base if view.base is not None else view, 77) for view in wanted.values()]
        churned += [np.full(view.shape[0] + 1, 77, dtype=view.dtype) for view in wanted.values()]
        del churned
    others = arrays_of(scenario.vary(seed=99))
    assert all(np.array_equal(views[name], wanted[name], equal_nan=wanted[name].dtype.kind == "f") for name in views)
    del views, others
    gc.collect()
    assert all(reference() is None for reference in gone)


def test_memory_is_given_back(scenario):
    """Twenty times 20 MB of frames would not go unseen."""
    def resident_mb():
        with open("/proc/self/statm") as file:
            return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6

    small = scenario.vary({"detector.pixels": 512, "detector.pitch_um": 14.0})
    sw.frames(small, 10_000)
    before = resident_mb()
    for _ in range(20):
        sw.frames(small, 10_000)
    assert resident_mb() - before < 60  # three times one of them


SLOW = {
    "read": lambda s: sw.read(s, readings=1_000_000, threads=1),
    "series": lambda s: sw.series(s, readings=1_000_000, threads=1),
    "frames": lambda s: sw.frames(s, 40_000, threads=1),
    "allan": lambda s: sw.allan(s.vary({"run.readings": 1_000_000}), threads=1),
    "budget": lambda s: sw.budget(s.vary({"run.trials": 4000, "run.readings": 4096}), threads=1),
    "sweep": lambda s: sw.sweep(s, {"target.displacement_mm": np.linspace(-3, 3, 12)}, threads=1),
}


@pytest.mark.parametrize("name", SLOW)
def test_another_thread_runs_while_the_simulator_works(scenario, name):
    """Ten steps of 1 ms within a call of a tenth of a second or more: without the lock released there is not one."""
    begun, ended = threading.Event(), threading.Event()
    steps = []

    def count():
        begun.wait()
        while not ended.is_set():
            steps.append(time.perf_counter())
            time.sleep(0.001)

    counter = threading.Thread(target=count)
    counter.start()
    patience = sys.getswitchinterval()
    sys.setswitchinterval(10)  # nobody takes the lock away from this thread: it gives it up itself, or not at all
    try:
        begun.set()
        begin = time.perf_counter()
        SLOW[name](scenario)
        end = time.perf_counter()
    finally:
        sys.setswitchinterval(patience)
        ended.set()
        counter.join()
    assert end - begin > 0.1
    assert sum(begin < step < end for step in steps) >= 10


def test_threads_of_python_do_not_disturb_one_another(scenario):
    scenarios = [scenario.vary({"seed": seed, "run.speckle": speckle, "run.patches": 8})
                 for seed in (1, 2) for speckle in ("off", "statistical")]
    one_by_one = [sw.read(each, readings=2000).to_json() for each in scenarios]
    at_once = [[None] * len(scenarios) for _ in range(2)]

    def work(results, order):
        for i in order:
            results[i] = sw.read(scenarios[i], readings=2000).to_json()

    threads = [threading.Thread(target=work, args=(at_once[0], range(len(scenarios)))),
               threading.Thread(target=work, args=(at_once[1], reversed(range(len(scenarios)))))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert at_once == [one_by_one, one_by_one]


@pytest.mark.parametrize("threads", [1, 2, 0])
def test_thread_counts_change_nothing(scenario, threads):
    assert sw.read(scenario, readings=3000, threads=threads) == sw.read(scenario, readings=3000, threads=3)
    assert np.array_equal(sw.frames(scenario, 9, threads=threads), sw.frames(scenario, 9, threads=3))


def test_progress_is_told_from_the_start_to_the_end(scenario):
    told = []
    sw.read(scenario, readings=200_000, progress=lambda done, all: told.append((done, all)))
    assert len(told) > 1 and told[-1] == (200_000, 200_000)
    assert told == sorted(told) and {each for _, each in told} == {200_000}


def test_what_progress_raises_ends_the_work(scenario):
    class Enough(Exception):
        pass

    def enough(done, all):
        raise Enough

    for work in [sw.read, sw.series, sw.budget, sw.allan]:
        with pytest.raises(Enough):
            work(scenario, progress=enough)
    with pytest.raises(TypeError):
        sw.read(scenario, progress=5)


@pytest.mark.parametrize("call", ["budget(s)", "read(s, readings=10**9)", "linearity(s)", "frames(s, 10**6)",
                                  "sweep(s, {'seed': range(10**4)})"])
def test_the_keyboard_ends_long_work(call):
    code = f"""
import spotwright as sw
s = sw.load({str(ROOT / scenario_file(1))!r}, {{"run.trials": 10**6, "detector.pixels": 512, "detector.pitch_um": 14.0}})
print("begun", flush=True)
sw.{call}
"""
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          text=True) as process:
        try:
            process.stdout.readline()
            time.sleep(0.3)
            process.send_signal(signal.SIGINT)
            _, errors = process.communicate(timeout=20)  # unhindered each would take minutes
        finally:
            process.kill()
    assert process.returncode in (-signal.SIGINT, 130) and errors.rstrip().endswith("KeyboardInterrupt")
