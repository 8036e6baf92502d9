"""The picture of a reading is XML that a strict parser reads, and each of its labels is a text of its own."""

import os
import pathlib
import subprocess
import xml.etree.ElementTree as ElementTree

import pytest

SVG = "{http://www.w3.org/2000/svg}"
SCENARIOS = pathlib.Path(__file__).resolve().parents[2] / "scenarios"


def drawn(scenario: pathlib.Path, out: pathlib.Path, *settings: str) -> ElementTree.Element:
    words = [os.environ["SPOTWRIGHT_PROGRAM"], "read", str(scenario), "--out", str(out), "--set", "run.readings=256"]
    for setting in settings:
        words += ["--set", setting]
    subprocess.run(words, check=True, capture_output=True)
    return ElementTree.parse(out).getroot()


@pytest.mark.parametrize("scenario", sorted(SCENARIOS.glob("*.toml")), ids=lambda path: path.stem)
def test_every_scenario_gives_a_page_without_anything_from_outside(scenario, tmp_path):
    root = drawn(scenario, tmp_path / "reading.svg")
    assert (root.get("width"), root.get("height")) == ("297mm", "210mm")
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
        "svg", "title", "rect", "g", "line", "polyline", "polygon", "circle", "path", "text"
    }
    assert not any("href" in name or "url(" in value for e in root.iter() for name, value in e.attrib.items())
    identifiers = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(identifiers) == len(set(identifiers))


def test_title_and_material_survive(tmp_path):
    scenario = tmp_path / "gauge.toml"
    scenario.write_text('schema = 1\ntitle = "Gauge <one> & \\"two\\""\n\n[target]\nmaterial = "white-paper"\n')
    root = drawn(scenario, tmp_path / "reading.svg", "target.displacement_mm=1.5")
    assert root.find(f"{SVG}title").text == 'Gauge <one> & "two"'
    words = [text.text for text in root.iter(f"{SVG}text")]
    assert "One reading of white-paper at s = +1.5 mm" in words
