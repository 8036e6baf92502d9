"""Plots show the data they are given, with units, on the axes they are given, and answer nonsense in words."""

import pathlib
import subprocess
import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pytest
import spotwright as sw
import xarray as xr

SCENARIOS = pathlib.Path(__file__).resolve().parents[2] / "scenarios"
LIGHT = {"run.readings": 40, "run.patches": 16, "run.trials": 200}
MATERIALS = ["white-ceramic", "black-rubber", "mirror"]


def load(name, **settings):
    return sw.load(SCENARIOS / name, {**LIGHT, **settings})


@pytest.fixture(scope="module")
def white():
    return load("01-white-tile.toml")


@pytest.fixture
def ax():
    figure, axes = plt.subplots()
    yield axes
    plt.close(figure)


def swept(**axes):
    """A small sweep with one point that has no value. Keys: tilt (deg), pixels (1), material (words)."""
    labels = {"tilt": "target.tilt_deg[0]", "pixels": "detector.pixels", "material": "target.material"}
    units = {"tilt": {"units": "deg"}, "pixels": {"units": "1"}, "material": {}}
    dims = [labels[axis] for axis in axes]
    coords = {labels[axis]: (labels[axis], values, units[axis]) for axis, values in axes.items()}
    shape = [len(values) for values in axes.values()]
    values = np.arange(1.0, 1.0 + np.prod(shape)).reshape(shape)
    if values.size > 1:
        values.flat[1] = np.nan
    level = {"units": "1", "flag_values": np.arange(4, dtype=np.uint8),
             "flag_meanings": "stable marginal unstable unreadable", "long_name": "verdict on the reading"}
    return xr.Dataset({"bias_um": (dims, values, {"units": "um", "long_name": "mean output less truth"}),
                       "verdict": (dims, np.zeros(shape, np.uint8), level),
                       "obstacle": (dims, np.full(shape, "", dtype=object))}, coords)


def words(text):
    return np.array(text, dtype=object)


def curve(axes, label):
    (line,) = [line for line in axes.lines if line.get_label() == label]
    return line


def test_matplotlib_is_imported_by_who_plots_alone():
    script = "import sys, spotwright as sw; print('matplotlib' in sys.modules); sw.plot; print('matplotlib' in sys.modules)"
    shown = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    assert shown.split() == ["False", "True"]
    assert "plot" in dir(sw)


def test_a_scene_is_drawn_to_scale_where_its_points_are(white, ax):
    there = white.vary({"target.displacement_mm": 2.0})
    points = sw.scene(there)
    assert sw.plot.scene(there, ax=ax) is ax
    assert ax.get_aspect() == 1.0
    assert "(mm)" in ax.get_xlabel() and "(mm)" in ax.get_ylabel()
    assert np.array_equal(curve(ax, "array").get_xydata(), points["array_mm"])
    assert np.array_equal(curve(ax, "lens, its aperture").get_xydata(), points["aperture_mm"])
    assert np.array_equal(curve(ax, "part").get_xydata(), points["part_mm"][0])
    ray = curve(ax, "ray to the image").get_xydata()
    assert np.array_equal(ray, np.concatenate([points["spot_mm"], points["lens_mm"], points["image_mm"]]))
    assert ray[0] == pytest.approx([0.0, -2.0], abs=1e-9)  # + is away from the sensor


def test_a_part_whose_light_is_not_seen_has_no_ray(ax):
    # Beyond the array: the part stands outside what the sensor measures.
    sw.plot.scene(load("01-white-tile.toml", **{"target.displacement_mm": 20.0}), ax=ax)
    assert [line for line in ax.lines if line.get_label() == "ray to the image"] == []


def test_profiles_are_drawn_whole_and_shown_where_they_are_lit(white, ax):
    other = white.vary({"target.material": "black-rubber", "target.displacement_mm": 3.0})
    assert sw.plot.profile(white, ax=ax, label="white") is ax
    sw.plot.profile(other, ax=ax, label="black")
    for scenario, label in ((white, "white"), (other, "black")):
        light = sw.profile(scenario)
        line = curve(ax, label)
        assert np.array_equal(line.get_ydata(), light) and np.array_equal(line.get_xdata(), np.arange(len(light)))
        left, right = ax.get_xlim()
        assert left < np.argmax(light) < right
    assert "(px)" in ax.get_xlabel() and "(1/s)" in ax.get_ylabel()
    looks = {(line.get_color(), line.get_linestyle()) for line in ax.lines}
    assert len(looks) == 2


def test_a_series_shows_outputs_truth_and_every_reading_that_is_not_valid(ax):
    series = sw.series(load("25-black-and-shiny-line.toml", **{"run.readings": 320}))
    assert not series.valid.all()  # the shims saturate the array at first
    assert sw.plot.series(series, ax=ax) is ax
    assert np.array_equal(curve(ax, "output").get_ydata(), series.output_mm, equal_nan=True)
    assert np.array_equal(curve(ax, "truth").get_ydata(), series.true_mm)
    marked = [line for line in ax.lines if line.get_label().startswith("not valid")]
    assert sum(len(line.get_xdata()) for line in marked) == np.count_nonzero(~series.valid)
    assert "(ms)" in ax.get_xlabel() and "(mm)" in ax.get_ylabel()


def test_a_series_without_any_valid_reading_still_shows_them(ax):
    series = sw.series(load("02-black-seal-too-dark.toml"))
    sw.plot.series(series, ax=ax)
    (line,) = [line for line in ax.lines if "too_dark" in line.get_label()]
    assert np.array_equal(line.get_xdata(), series.time_ms)


def test_a_budget_shows_each_cause_and_the_sums(white, ax):
    budget = sw.budget(white)
    assert sw.plot.budget(budget, ax=ax) is ax
    widths = [bar.get_width() for bar in ax.patches]
    given = [cause.standard_uncertainty_um for cause in budget.contributions]
    assert widths == given + [budget.combined_um, budget.expanded_um, budget.error_bound_um]
    names = [tick.get_text() for tick in ax.get_yticklabels()]
    assert names[: len(given)] == [cause.name for cause in budget.contributions]
    assert "(um)" in ax.get_xlabel()
    assert curve(ax, "tolerance +-30 um").get_xdata()[0] == budget.verdict.tolerance_um


def test_a_sweep_over_numbers_is_a_curve_and_marks_what_has_no_value(ax):
    data = swept(tilt=[20.0, 0.0, 10.0])
    assert sw.plot.sweep_map(data, "bias_um", ax=ax) is ax
    line = ax.lines[0]
    assert list(line.get_xdata()) == [0.0, 10.0, 20.0]  # in order
    assert np.isnan(line.get_ydata()[0]) and list(line.get_ydata()[1:]) == [3.0, 1.0]
    assert list(curve(ax, "no value").get_xdata()) == [0.0]
    assert ax.get_xlabel() == "target.tilt_deg[0] (deg)"
    assert ax.get_ylabel() == "mean output less truth (um)"


def test_words_are_categories_without_lines_between_them(ax):
    sw.plot.sweep_map(swept(material=words(MATERIALS)), "bias_um", ax=ax)
    assert ax.lines[0].get_linestyle() == "None"
    assert [tick.get_text() for tick in ax.get_xticklabels()] == MATERIALS


@pytest.mark.parametrize("turned", [False, True])
def test_numbers_by_words_are_one_curve_for_each_word(ax, turned):
    data = swept(tilt=[0.0, 10.0], material=words(MATERIALS))
    sw.plot.sweep_map(data.transpose() if turned else data, "bias_um", ax=ax)
    for material in MATERIALS:
        wanted = data.bias_um.sel({"target.material": material}).values
        assert np.array_equal(curve(ax, material).get_ydata(), wanted, equal_nan=True)
    assert list(curve(ax, "black-rubber: no value").get_xdata()) == [0.0]
    lines = [curve(ax, material) for material in MATERIALS]
    dashes = {str(line._unscaled_dash_pattern) for line in lines}  # get_linestyle calls all dashes "--"
    markers, colours = {line.get_marker() for line in lines}, {line.get_color() for line in lines}
    assert len(dashes) == len(markers) == len(colours) == len(MATERIALS)  # each of them tells curves apart alone


def test_numbers_by_numbers_are_a_map_with_a_labelled_bar(ax):
    data = swept(tilt=[10.0, 0.0], pixels=[512, 1024, 2048])
    sw.plot.sweep_map(data, "bias_um", ax=ax)
    (mesh,) = ax.collections
    assert np.array_equal(mesh.get_array().filled(np.nan).reshape(2, 3), data.bias_um[::-1], equal_nan=True)
    assert curve(ax, "no value").get_xydata().tolist() == [[1024.0, 10.0]]
    assert ax.figure.axes[1].get_ylabel() == "mean output less truth (um)"
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("detector.pixels", "target.tilt_deg[0] (deg)")


def test_a_choice_among_words_is_told_in_words(ax):
    sw.plot.sweep_map(swept(tilt=[0.0, 10.0]), "verdict", ax=ax)
    assert [tick.get_text() for tick in ax.get_yticklabels()] == ["stable", "marginal", "unstable", "unreadable"]


def test_an_axis_of_one_value_does_not_count(ax):
    sw.plot.sweep_map(swept(tilt=[0.0, 10.0], material=words(["mirror"]), pixels=[512]), "bias_um", ax=ax)
    assert ax.get_xlabel() == "target.tilt_deg[0] (deg)"


def test_a_sweep_without_any_value_still_shows_its_points(ax):
    data = swept(tilt=[0.0, 10.0], pixels=[512, 1024])
    data["bias_um"][:] = np.nan
    sw.plot.sweep_map(data, "bias_um", ax=ax)
    assert len(curve(ax, "no value").get_xdata()) == 4


def test_more_than_two_axes_ask_for_a_selection():
    data = swept(tilt=[0.0, 10.0], pixels=[512, 1024], material=words(MATERIALS))
    with pytest.raises(ValueError, match=r'"target.tilt_deg\[0\]".*select until two are left'):
        sw.plot.sweep_map(data, "bias_um")


@pytest.mark.parametrize(
    ("draw", "error", "message"),
    [
        (lambda: sw.plot.scene("01-white-tile.toml"), TypeError, "scenario: a Scenario, as sw.load reads it, not str"),
        (lambda: sw.plot.profile(None), TypeError, "not NoneType"),
        (lambda: sw.plot.profile(load("21-pallet-white.toml")), sw.ScenarioError, "triangulation"),
        (lambda: sw.plot.scene(load("21-pallet-white.toml")), sw.ScenarioError, "triangulation"),
        (lambda: sw.plot.series([1.0, 2.0]), TypeError, "what sw.series returns, not list"),
        (lambda: sw.plot.budget({"verdict": 1}), TypeError, "what sw.budget returns, not dict"),
        (lambda: sw.plot.sweep_map(swept(tilt=[0.0, 1.0]), "bias"), KeyError, "no quantity 'bias'; there are bias_um"),
        (lambda: sw.plot.sweep_map(swept(tilt=[0.0, 1.0]), "obstacle"), ValueError, "is no number to plot"),
        (lambda: sw.plot.sweep_map(swept(tilt=[0.0, 1.0]), "target.tilt_deg[0]"), ValueError, "is no number to plot"),
        (lambda: sw.plot.sweep_map(swept(tilt=[]), "bias_um"), ValueError, "no points to plot"),
        (lambda: sw.plot.sweep_map(swept(tilt=[0.0, 1.0]).isel({"target.tilt_deg[0]": 0}), "bias_um"), ValueError,
         "no points to plot along an axis"),
        (lambda: sw.plot.sweep_map([1.0], "bias_um"), TypeError, "what sw.sweep returns, not list"),
        (lambda: sw.plot.sweep_map(swept(tilt=[0.0, 1.0]), "bias_um", ax=plt), TypeError, "ax: axes of matplotlib"),
    ],
)
def test_nonsense_is_answered_in_words(draw, error, message):
    with pytest.raises(error, match=message):
        draw()
    plt.close("all")
