"""What a plot needs to know of a swept quantity: its points in order, words or numbers along its axes, and labels."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import xarray


def swept(dataset: xarray.Dataset, quantity: str) -> xarray.DataArray:
    """The quantity over one or two axes, numbers of each axis in order."""
    try:
        data = dataset[quantity]
        names, sizes = list(dataset.data_vars), dict(data.sizes)
    except KeyError:
        raise KeyError(f"no quantity {quantity!r}; there are {', '.join(map(str, dataset.data_vars))}") from None
    except (AttributeError, TypeError, IndexError):
        raise TypeError(f"dataset: what sw.sweep returns, not {type(dataset).__name__}") from None
    if quantity not in names or data.dtype.kind not in "fiu":
        raise ValueError(f"{quantity} is no number to plot; there are {', '.join(map(str, names))}")
    if data.ndim == 0 or 0 in sizes.values():
        raise ValueError(f"{quantity} has no points to plot along an axis")
    single = [axis for axis, size in sizes.items() if size == 1]
    data = data.squeeze(single if len(single) < data.ndim else single[1:])
    if data.ndim > 2:
        choice = " and ".join(f'"{axis}"' for axis in data.dims)
        raise ValueError(f"{quantity} lies over {choice}: select until two are left, as in "
                         f"dataset.sel({{{data.dims[0]!r}: {data[data.dims[0]].values[0]!r}}})")
    for axis in data.dims:
        if not is_words(data[axis]):
            data = data.sortby(axis)
    return data


def is_words(axis: xarray.DataArray) -> bool:
    return axis.dtype.kind not in "fiu"


def label_of(data: xarray.DataArray, name: str | None = None) -> str:
    units = data.attrs.get("units", "")
    text = f"{name or data.name} ({units})" if units not in ("", "1") else str(name or data.name)
    return textwrap.fill(text, 46)  # as long as an axis of usual size


def meanings(data: xarray.DataArray) -> list[str]:
    """Words for the numbers of a variable that is a choice among words; none for any other."""
    return str(data.attrs.get("flag_meanings", "")).split()
