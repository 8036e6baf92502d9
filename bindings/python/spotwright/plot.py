"""Plots of what the program finds, on matplotlib.

Curves differ by dashes and markers beside their colours, and maps rise in lightness, so that nothing is lost to an eye
that does not distinguish colours, or to a grey print. Every function returns the axes it drew on.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes

from spotwright import _core
from spotwright._series import Series
from spotwright._swept import is_words, label_of, meanings, swept

if TYPE_CHECKING:
    import xarray
    from numpy.typing import NDArray

    Points = NDArray[Any]

__all__ = ["COLOURS", "DASHES", "FAULT", "MARKERS", "budget", "profile", "scene", "series", "sweep_map"]

# Dark blue, orange, green, violet, sky, brown: neighbours are far apart in lightness as well as in hue.
COLOURS = ("#16325c", "#d9730d", "#2f8f6b", "#6b2d73", "#5aa9dd", "#7a4a1e")
DASHES = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)), (0, (4, 1.5, 1.5, 1.5, 1.5, 1.5)), (0, (1, 2)))
MARKERS = ("o", "s", "^", "D", "v", "P")
FAULT = "#a3123a"
FAINT = "#8a8f98"
MAP = "cividis"


def scene(scenario: _core.Scenario, *, ax: Axes | None = None) -> Axes:
    """Draws the mounting to scale in its own plane.

    Parameters
    ----------
    scenario : Scenario
        Of triangulation.
    ax : matplotlib.axes.Axes, optional
        Without one, a new figure.

    Returns
    -------
    matplotlib.axes.Axes
        x towards the receiver, z towards the sensor, in mm, one scale for both.

    Raises
    ------
    ScenarioError
        The range is outside what the geometry can measure, or the sensor is one of time of flight.
    """
    points = _core.scene(_scenario(scenario))
    ax = _axes(ax, height=5.0)
    _draw_range(ax, points)
    for number, outline in enumerate(points["part_mm"]):
        ax.plot(*outline.T, color="black", linewidth=2.5, label="part" if number == 0 else None)
    ax.plot(*points["aperture_mm"].T, color=COLOURS[2], linewidth=4, solid_capstyle="butt", label="lens, its aperture")
    ax.plot(*points["array_mm"].T, color=COLOURS[3], linewidth=4, solid_capstyle="butt", label="array")
    ax.plot(*points["emitter_mm"].T, marker="v", markersize=11, linestyle="none", color=COLOURS[1], label="emitter")
    if points["spot_mm"] is not None:
        _line(ax, [points["emitter_mm"], points["spot_mm"]], color=COLOURS[1], linewidth=2, label="beam")
        if points["image_mm"] is not None:
            path = [points["spot_mm"], points["lens_mm"], points["image_mm"]]
            _line(ax, path, color=COLOURS[0], linewidth=1.5, label="ray to the image")
    ax.set_aspect("equal")
    ax.set_xlabel("x, towards the receiver (mm)")
    ax.set_ylabel("z, towards the sensor (mm)")
    ax.set_title(_title(scenario))
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize="small", frameon=False)
    return ax


def profile(scenario: _core.Scenario, *, ax: Axes | None = None, label: str | None = None) -> Axes:
    """Plots the light on the array, before any noise.

    Every pixel is drawn; the axis shows those that are lit. Profiles on the same axes get their own dashes.

    Parameters
    ----------
    scenario : Scenario
        Of triangulation.
    ax : matplotlib.axes.Axes, optional
        Without one, a new figure.
    label : str, optional
        For a legend.

    Returns
    -------
    matplotlib.axes.Axes
        Photoelectrons per second over pixels.

    Raises
    ------
    ScenarioError
        The sensor cannot be built, or is one of time of flight.
    """
    light = _core.profile(_scenario(scenario))
    ax = _axes(ax)
    look = {**_look(len(ax.lines), markers=False), "linewidth": 1.5}
    ax.plot(np.arange(len(light)), light, drawstyle="steps-mid", label=label, **look)
    _show_lit_pixels(ax)
    ax.set_xlabel("pixel (px)")
    ax.set_ylabel("photoelectrons of a pixel (1/s)")
    if label is not None:
        ax.legend(fontsize="small", frameon=False)
    elif len(ax.lines) == 1:
        ax.set_title(_title(scenario))
    return ax


def series(series: Series, *, ax: Axes | None = None) -> Axes:
    """Plots outputs over time, with the truth, and with every reading that is not valid.

    Parameters
    ----------
    series : Series
        What ``sw.series`` returns.
    ax : matplotlib.axes.Axes, optional
        Without one, a new figure.

    Returns
    -------
    matplotlib.axes.Axes
        Displacement in mm over ms. Readings that are not valid stand along the lower edge, a row for each reason.
    """
    if not isinstance(series, Series):
        raise TypeError(f"series: what sw.series returns, not {_kind(series)}")
    ax = _axes(ax)
    time = series["time_ms"]
    marker = "." if len(series) <= 300 else None
    ax.plot(time, series["output_mm"], color=COLOURS[0], linewidth=0.9, marker=marker, label="output")
    if "true_mm" in series.columns:
        ax.plot(time, series["true_mm"], color=COLOURS[1], linestyle=DASHES[1], linewidth=1.6, label="truth")
    elif series.result.true_mm is not None:
        truth = series.result.true_mm
        ax.axhline(truth, color=COLOURS[1], linestyle=DASHES[1], linewidth=1.6, label="truth")
        if not np.isfinite(series["output_mm"]).any():
            ax.set_ylim(truth - 1.0, truth + 1.0)
    validity = series["validity"]
    for row, code in enumerate(code for code in np.unique(validity) if series.validity_words[code] != "valid"):
        word = series.validity_words[code]
        label = f"not valid: {word}, {np.count_nonzero(validity == code)} of {len(series)}"
        _mark_at_edge(ax, time[validity == code], row, marker=("x", "+", "1", "2", "3")[row], label=label)
    ax.set_xlabel("time (ms)")
    ax.set_ylabel("displacement, + away from the sensor (mm)")
    ax.set_title(series.result.title)
    ax.legend(fontsize="small", frameon=False)
    return ax


def budget(budget: Mapping[str, Any], *, ax: Axes | None = None) -> Axes:
    """Plots what the error of a reading is made of, as bars.

    Parameters
    ----------
    budget : Record
        What ``sw.budget`` returns.
    ax : matplotlib.axes.Axes, optional
        Without one, a new figure.

    Returns
    -------
    matplotlib.axes.Axes
        Standard uncertainties in um, biases as diamonds at their size where they reach a hundredth of the longest bar;
        below them, hatched, combined and expanded uncertainty, and what the verdict holds against the tolerance, which
        is a line.
    """
    if not isinstance(budget, Mapping) or "contributions" not in budget:
        raise TypeError(f"budget: what sw.budget returns, not {_kind(budget)}")
    causes = budget["contributions"]
    names = [cause["name"] for cause in causes]
    sizes = [cause["standard_uncertainty_um"] for cause in causes]
    sums = [budget["combined_um"], budget["expanded_um"], budget["error_bound_um"]]
    names += ["combined", f"expanded, k = {budget['coverage_factor']:.3g}", "expanded, with the bias"]
    ax = _axes(ax, height=0.32 * len(names) + 1.4)
    rows = np.arange(len(names))
    count = len(causes)
    ax.barh(rows[:count], sizes, color=COLOURS[4], edgecolor="black", linewidth=0.6, label="standard uncertainty")
    ax.barh(rows[count:], sums, color="white", edgecolor=COLOURS[0], hatch="///", label="of all together")
    for row, size in zip(rows, sizes + sums):
        ax.annotate(f" {size:.3g}", (size, row), va="center", fontsize="small")
    biases = np.array([abs(cause["bias_um"]) for cause in causes])
    longest = max([*sizes, *sums, *biases])
    shown = np.flatnonzero(biases > 0.01 * longest)
    if len(shown):
        ax.plot(biases[shown], shown, "D", color=COLOURS[1], markersize=5, label="bias, its size")
    for row in shown:
        text = f"bias {causes[row]['bias_um']:+.3g}   "
        ax.annotate(text, (biases[row], row), va="center", ha="right", fontsize="small")
    ax.set_xlim(0.0, 1.15 * longest if longest > 0.0 else 1.0)
    _show_tolerance(ax, budget["verdict"]["tolerance_um"], longest)
    ax.set_yticks(rows, names)
    ax.invert_yaxis()
    ax.set_xlabel("uncertainty, bias (um)")
    ax.set_title(budget["title"])
    ax.legend(fontsize="small", framealpha=1.0, loc="center right")
    return ax


def sweep_map(dataset: xarray.Dataset, quantity: str, *, ax: Axes | None = None) -> Axes:
    """Plots a quantity of a sweep over its axes.

    Over one axis: a curve, or markers over words. Over two: a map; a curve for each word where one axis has words.
    Crosses mark the points that have no value.

    Parameters
    ----------
    dataset : xarray.Dataset
        What ``sw.sweep`` returns, or a selection of it.
    quantity : str
        Name of one of its variables.
    ax : matplotlib.axes.Axes, optional
        Without one, a new figure.

    Returns
    -------
    matplotlib.axes.Axes
        Labels and units are those of the data.

    Raises
    ------
    KeyError
        No such quantity.
    ValueError
        The quantity has no points, is no number, or has more than two axes of several values.
    """
    data = swept(dataset, quantity)
    ax = _axes(ax)
    words = [is_words(data[axis]) for axis in data.dims]
    if data.ndim == 1:
        _draw_curve(ax, data, None, 0, 0)
        _label_curves(ax, data, data.dims[0])
    elif words[0] != words[1]:
        along, across = data.dims if words[1] else data.dims[::-1]
        row = 0
        for place, word in enumerate(data[across].values):
            row += _draw_curve(ax, data.isel({across: place}), str(word), place, row)
        _label_curves(ax, data, along)
        ax.legend(title=label_of(data[across]), fontsize="small", framealpha=0.85, edgecolor="none")
    else:
        _draw_map(ax, data)
    return ax


def _axes(ax: Axes | None, height: float = 4.0) -> Axes:
    if ax is None:
        return plt.subplots(figsize=(7.0, height), layout="constrained")[1]
    if not isinstance(ax, Axes):
        raise TypeError(f"ax: axes of matplotlib, not {_kind(ax)}")
    return ax


def _scenario(scenario: Any) -> _core.Scenario:
    if not isinstance(scenario, _core.Scenario):
        raise TypeError(f"scenario: a Scenario, as sw.load reads it, not {_kind(scenario)}")
    return scenario


def _kind(thing: Any) -> str:
    return type(thing).__name__


def _title(scenario: _core.Scenario) -> str:
    return scenario.title or f"{scenario.target.material} at {scenario.target.displacement_mm:g} mm"


def _look(number: int, *, markers: bool = True) -> dict[str, Any]:
    """Colour, dashes and marker of the curve of this number; thinner than those before it, which show beneath it."""
    size = max(1.0, 3.0 - 0.4 * number)
    look = {"color": COLOURS[number % len(COLOURS)], "linestyle": DASHES[number % len(DASHES)], "linewidth": size}
    if markers:
        look["markersize"] = 3.0 + 2.0 * size
        # Beyond six curves another marker comes with each colour, so that no two look the same for 36.
        look["marker"] = MARKERS[(number + number // len(COLOURS)) % len(MARKERS)]
    return look


def _line(ax: Axes, points: list[Points], **look: Any) -> None:
    ax.plot(*np.concatenate(points).T, **look)


def _draw_range(ax: Axes, points: Mapping[str, Any]) -> None:
    """Spots at both ends of the range and at its reference, their images, and the rays between them."""
    faint = {"color": FAINT, "linewidth": 0.8, "linestyle": DASHES[2]}
    _line(ax, [points["emitter_mm"], points["spots_mm"][-1:]], **faint)
    names = ("near end, and its image", "reference point", "far end")
    for name, marker, spot, image in zip(names, MARKERS, points["spots_mm"], points["images_mm"]):
        ends = np.array([spot, image])
        _line(ax, [ends[:1], points["lens_mm"], ends[1:]], **faint)
        ax.plot(*ends.T, marker=marker, linestyle="none", color=COLOURS[0], markersize=5, label=name, zorder=3)


def _show_lit_pixels(ax: Axes) -> None:
    """Bounds the axis to pixels that hold more than a thousandth of their profile's peak, with room beside them."""
    profiles = [line.get_ydata() for line in ax.lines]
    each = [np.flatnonzero(profile > 1e-3 * np.max(profile)) for profile in profiles]
    lit = np.concatenate([pixels for pixels in each if len(pixels)] or [np.arange(len(profiles[0]))])
    room = 5 + 0.1 * (lit.max() - lit.min())
    ax.set_xlim(lit.min() - room, lit.max() + room)


def _mark_at_edge(ax: Axes, places: Points, row: int, **look: Any) -> None:
    """Marks places along the axis on its lower edge or in a row above it, whatever its scale."""
    height = np.full(len(places), 0.035 * row)
    look = {"linestyle": "none", "color": FAULT, "markersize": 7, "clip_on": False, **look}
    ax.plot(places, height, transform=ax.get_xaxis_transform(), **look)


def _show_tolerance(ax: Axes, tolerance_um: float | None, longest_um: float) -> None:
    if tolerance_um is None:
        return
    most_times_longest = 8.0
    if tolerance_um > most_times_longest * longest_um:
        ax.plot([], [], " ", label=f"tolerance +-{tolerance_um:g} um: far to the right")
        return
    ax.axvline(tolerance_um, color=FAULT, linestyle=DASHES[3], label=f"tolerance +-{tolerance_um:g} um")
    ax.set_xlim(0.0, 1.15 * max(longest_um, tolerance_um))


def _draw_curve(ax: Axes, data: xarray.DataArray, label: str | None, number: int, row: int) -> bool:
    """Draws a curve, and crosses in this row at the lower edge where it has no value. Whether it needed any."""
    axis = data[data.dims[0]]
    places = np.arange(axis.size) if is_words(axis) else axis.values
    look = _look(number)
    if is_words(axis):
        look["linestyle"] = "none"
    ax.plot(places, data.values, label=label, **look)
    without = np.isnan(data.values.astype(float))
    if without.any():
        name = "no value" if label is None else f"{label}: no value"
        _mark_at_edge(ax, places[without], row, marker="x", label=name, color=look["color"])
    return bool(without.any())


def _label_curves(ax: Axes, data: xarray.DataArray, along: str) -> None:
    _set_ticks(ax.xaxis, data[along])
    ax.set_ylabel(label_of(data, data.attrs.get("long_name")))
    if words := meanings(data):
        ax.set_yticks(data.attrs["flag_values"], words)
    if data.ndim == 1 and np.isnan(data.values.astype(float)).any():
        ax.legend(fontsize="small", frameon=False)


def _set_ticks(side: Any, axis: xarray.DataArray) -> None:
    side.set_label_text(label_of(axis))
    if is_words(axis):
        side.set_ticks(np.arange(axis.size), [str(word) for word in axis.values])
        if side.axis_name == "x" and axis.size > 3:
            few = axis.size <= 12
            plt.setp(side.get_ticklabels(), rotation=30 if few else 90, ha="right", va="center" if not few else "top",
                     rotation_mode="anchor")


def _draw_map(ax: Axes, data: xarray.DataArray) -> None:
    up, along = (data[axis] for axis in data.dims)
    x, y = (np.arange(axis.size) if is_words(axis) else axis.values for axis in (along, up))
    values = data.values.astype(float)
    without = np.isnan(values)
    _set_ticks(ax.xaxis, along)
    _set_ticks(ax.yaxis, up)
    if words := meanings(data):
        edges = np.append(data.attrs["flag_values"] - 0.5, data.attrs["flag_values"][-1] + 0.5)
        colours = plt.get_cmap(MAP, len(words))
        mesh = ax.pcolormesh(x, y, values, shading="nearest", cmap=colours, vmin=edges[0], vmax=edges[-1])
        bar = ax.figure.colorbar(mesh, ax=ax, ticks=data.attrs["flag_values"])
        bar.ax.set_yticklabels(words)
    else:
        mesh = ax.pcolormesh(x, y, values, shading="nearest", cmap=MAP)
        bar = None if without.all() else ax.figure.colorbar(mesh, ax=ax)
    if bar is not None:
        bar.set_label(label_of(data, data.attrs.get("long_name")))
    rows, columns = np.nonzero(without)
    if len(rows):
        ax.plot(x[columns], y[rows], "x", color=FAULT, label="no value")
        ax.legend(fontsize="small", frameon=False, loc="lower left", bbox_to_anchor=(0.0, 1.0))
