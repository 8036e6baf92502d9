"""Sweeps over a grid of scenario keys, here or on a cluster."""

from __future__ import annotations

import os
import pickle
import tempfile
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spotwright import _core

if TYPE_CHECKING:
    import xarray
    from distributed import Client


def sweep(
    scenario: _core.Scenario,
    over: Mapping[str, Iterable[Any]],
    *,
    client: Client | None = None,
    out: str | os.PathLike[str] | None = None,
    date: str | None = None,
    threads: int = _core.all_cores,
    progress: Callable[[int, int], object] | None = None,
) -> xarray.Dataset:
    """Reads the part at every point of a grid.

    Parameters
    ----------
    scenario : Scenario
    over : dict
        Values of each key, by dotted name: ``{"target.tilt_deg[0]": range(0, 21), "target.material": ["mirror", ...]}``.
        ``key[0]`` is the first number of a key of several.
    client : distributed.Client, optional
        Workers of a Dask cluster read the points; the result is the same. Each must be able to import ``spotwright``
        and to see the files that the scenario names.
    out : str or os.PathLike, optional
        Keeps the result in this file (.h5). A sweep that was cut off goes on from the points that are done.
    date : str, optional
        Date to write into the file, ISO 8601; without one, now.
    threads : int, optional
        Of this process, or of each worker. 0: all cores.
    progress : callable, optional
        Called as ``progress(done, all)``.

    Returns
    -------
    xarray.Dataset
        One dimension for each key, with its values as labels; one variable for each quantity that the principle has.
        The last word of a key without its unit is a second name of its axis, where it is not taken:
        ``dataset.sel(tilt=10)`` is ``dataset.sel({"target.tilt_deg[0]": 10})``.

    Raises
    ------
    ScenarioError
        With every problem of the grid. A point at which the sensor cannot be built is none: ``obstacle`` says why.
    OSError
        The file cannot be written.
    """
    import xarray

    from spotwright._short_names import with_short_names

    if client is not None and not hasattr(client, "scheduler_info"):
        raise TypeError(f"client: a distributed.Client, got {type(client).__name__}")
    grid = _core.Sweep(scenario, dict(over))
    with tempfile.TemporaryDirectory() as folder:
        path = out if out is not None else Path(folder) / "sweep.h5"
        file = _core.SweepFile(path, grid, date=date)
        try:
            if client is None:
                file.run(threads=threads, progress=progress)
            else:
                _run_on(client, grid, file, threads, progress)
            file.commit()
        finally:
            file.close()
        with xarray.open_dataset(os.fspath(path), engine="h5netcdf") as dataset:
            return with_short_names(dataset.load().drop_vars(grid.quantities_of_others))


def _run_on(
    client: Client,
    grid: _core.Sweep,
    file: _core.SweepFile,
    threads: int,
    progress: Callable[[int, int], object] | None,
) -> None:
    from distributed import as_completed

    # Every task carries the grid, so that no worker is needed for another one's work.
    pickled = pickle.dumps(grid)
    chunks = [chunk for chunk in _chunks(grid.points, client) if not file.has_all(*chunk)]
    futures = [client.submit(_run_chunk, pickled, *chunk, threads, pure=False) for chunk in chunks]
    try:
        for future in as_completed(futures):
            file.put(future.result())
            future.release()
            if progress is not None:
                progress(file.done, grid.points)
    finally:
        client.cancel(futures)


@lru_cache(maxsize=4)
def _unpickled(grid: bytes) -> _core.Sweep:
    sweep: _core.Sweep = pickle.loads(grid)
    return sweep


def _run_chunk(pickled: bytes, first: int, last: int, threads: int) -> _core.SweepPoints:
    return _unpickled(pickled).run(first, last, threads=threads)


def _chunks(points: int, client: Client) -> list[tuple[int, int]]:
    """Parts of the grid: several for each worker, so that a slow or lost one does not hold up the rest."""
    workers = max(1, len(client.scheduler_info()["workers"]))
    chunks_per_worker, most_points = 8, 1000
    size = max(1, min(most_points, points // (chunks_per_worker * workers)))
    return [(first, min(first + size, points)) for first in range(0, points, size)]
