"""The drawing that the program writes is XML that a strict parser reads."""

import os
import pathlib
import subprocess
import xml.etree.ElementTree as ElementTree

SVG = "{http://www.w3.org/2000/svg}"
SCENARIO = """schema = 1
title = "Gauge <one> & \\"two\\""

[target]
material = "white-ceramic"
"""


def drawn(folder: pathlib.Path, *settings: str) -> ElementTree.Element:
    scenario = folder / "gauge.toml"
    scenario.write_text(SCENARIO)
    out = folder / "gauge.svg"
    words = [os.environ["SPOTWRIGHT_PROGRAM"], "layout", str(scenario), "--out", str(out)]
    for setting in settings:
        words += ["--set", setting]
    subprocess.run(words, check=True, capture_output=True)
    return ElementTree.parse(out).getroot()


def test_title_survives_and_page_is_a4_landscape(tmp_path):
    root = drawn(tmp_path)
    assert root.find(f"{SVG}title").text == 'Gauge <one> & "two"'
    assert (root.get("width"), root.get("height")) == ("297mm", "210mm")
    # A4 proportions within half a page unit.
    _, _, width, height = map(float, root.get("viewBox").split())
    assert abs(width * 210.0 / 297.0 - height) < 0.5


def test_nothing_is_loaded_from_outside(tmp_path):
    root = drawn(tmp_path)
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
        "svg", "title", "rect", "g", "line", "polyline", "polygon", "circle", "path", "text"
    }
    assert not any("href" in name or "url(" in value for e in root.iter() for name, value in e.attrib.items())


def test_scale_bar_has_the_length_it_names(tmp_path):
    root = drawn(tmp_path, "receiver.angle_deg=45", "mount.range_mm=[-2,2]")
    groups = {group.get("id"): group for group in root.iter(f"{SVG}g")}
    bar = groups["scale-bar"].find(f"{SVG}line")
    length = float(bar.get("x2")) - float(bar.get("x1"))
    units_per_mm = float(groups["mounting"].get("data-units-per-mm"))
    named = [text.text for text in root.iter(f"{SVG}text") if text.get("x") == bar.get("x1")][0]
    value, unit = named.split()
    assert unit == "mm"
    # Coordinates are written to 0.001 units; both ends of the bar are rounded.
    assert abs(float(value) * units_per_mm - length) < 0.002
