"""Short names of the axes of a sweep: `tilt` for `target.tilt_deg[0]`.

A short name is a coordinate along its axis, and `sel` takes it like the name of the axis. It is no index of xarray's own:
two indexes of one axis would make arithmetic of its arrays an error.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Mapping
from typing import Any

import xarray

from spotwright import _core

_ALIAS = "second_name_of"


def short_name(key: str) -> str:
    """The last word of a key, without unit and index."""
    bare = re.sub(r"\[\d+\]$", "", key)
    unit = next((entry["unit"] for entry in _core.keys() if entry["key"] == bare), "")
    word = bare.rpartition(".")[2]
    return word.removesuffix("_" + unit.replace("/", "_per_")) if unit else word


def with_short_names(dataset: xarray.Dataset) -> SweptDataset:
    """The data set with a second name for each axis whose short name is not taken."""
    names = [short_name(str(axis)) for axis in dataset.dims]
    taken = {str(name) for name in dataset.variables}
    aliases = {
        name: (axis, dataset[axis].values, {**dataset[axis].attrs, _ALIAS: str(axis)})
        for name, axis in zip(names, dataset.dims)
        if names.count(name) == 1 and name not in taken
    }
    named = dataset.assign_coords(aliases)
    return SweptDataset(named.data_vars, named.coords, named.attrs)


def _translated(data: Any, indexers: Mapping[Any, Any] | None, more: Mapping[str, Any]) -> dict[Hashable, Any]:
    translated: dict[Hashable, Any] = {}
    for name, value in {**(indexers or {}), **more}.items():
        axis = name
        if name not in data.dims and name in data.coords:
            axis = data.coords[name].attrs.get(_ALIAS, name)
        elif name not in data.dims:  # arithmetic drops a coordinate on which both sides do not agree
            meant = [each for each in data.dims if short_name(str(each)) == name]
            axis = meant[0] if len(meant) == 1 else name
        if axis in translated:
            raise ValueError(f"{axis!r} is selected twice, by its short name, too")
        translated[axis] = value
    return translated


class SweptArray(xarray.DataArray):  # type: ignore[misc]  # xarray has no types here
    """A quantity of a sweep; `sel` takes short names of its axes, too."""

    __slots__ = ()

    def sel(self, indexers: Any = None, method: Any = None, tolerance: Any = None, drop: bool = False, **more: Any) -> Any:
        return super().sel(_translated(self, indexers, more), method=method, tolerance=tolerance, drop=drop)


class SweptDataset(xarray.Dataset):  # type: ignore[misc]
    """Results of a sweep; `sel` takes short names of its axes, too."""

    __slots__ = ()

    def sel(self, indexers: Any = None, method: Any = None, tolerance: Any = None, drop: bool = False, **more: Any) -> Any:
        return super().sel(_translated(self, indexers, more), method=method, tolerance=tolerance, drop=drop)

    def __getitem__(self, key: Any) -> Any:
        found = super().__getitem__(key)
        return SweptArray(found) if type(found) is xarray.DataArray else found
